"""Points without error give the program back, whatever their kind."""

from __future__ import annotations

import numpy as np
import pytest

from plumbend.frames import unit
from plumbend.shape.chain import Chain
from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point, PointKind
from plumbend.shape.structure import fit_measured
from support.tubes import OD, RADIUS, assert_same_program, clear_of_itself, random_tube


def _on_legs(tube: Chain, kind: str, per_leg: int, rng: np.random.Generator) -> tuple[Point, ...]:
    """Ends, and exact places of one kind spread along and round every straight."""
    points = [Point("A", "end", tube.origin, np.eye(3))]
    for k, (start, stop) in enumerate(tube.tangents()):
        u, n, a = tube.frames[2 * k].T
        first = rng.uniform(0, 2 * np.pi)
        for j in range(per_leg):
            axis = start + (j + 0.5) / per_leg * (stop - start)
            square = np.cos(first + 2.4 * j) * n + np.sin(first + 2.4 * j) * a
            leaning = unit(square + rng.uniform(-1, 1) * u)  # up to 45 degrees off square
            what: PointKind = "outside" if kind == "outside" else "centre"
            at = axis if kind == "centre" else axis + OD / 2 * square
            side = leaning if kind == "side" else None
            points.append(Point(f"p{k}.{j}", what, at, np.eye(3), side=side))
    return (*points, Point("F", "end", tube.far_end, np.eye(3)))


@pytest.mark.parametrize(("kind", "per_leg"), [("centre", 4), ("side", 4), ("outside", 8)])
def test_two_hundred_tubes(kind: str, per_leg: int) -> None:
    rng = np.random.default_rng(200)
    tubes = 0
    while tubes < 200:
        tube = random_tube(rng, 1 + tubes % 6)
        if not clear_of_itself(tube):
            continue
        tubes += 1
        measured = Measured(OD, _on_legs(tube, kind, per_leg, rng))
        fit = fit_measured(measured, tube.bends, FormingLimits(RADIUS))
        assert fit is not None
        assert_same_program(fit.chain, tube, 1e-6, 1e-6)
