"""Second derivatives of what holds a tube, beside differences of the sum itself."""

from __future__ import annotations

import numpy as np
import pytest

from plumbend.shape.evidence import Evidence
from plumbend.shape.held import HeldEvidence
from plumbend.shape.points import Point, Standoff
from support.limited import limited_tube
from support.tubes import OD

APART = 0.01
"""Half a step of the second differences, in doubts."""


def with_places_outside(evidence: Evidence) -> Evidence:
    """The same with every third point touched with the outside of the tube, and one that may be missed by so much."""
    points = list(evidence.points)
    for i in range(2, len(points) - 1, 3):
        if points[i].what == "centre":
            points[i] = Point(points[i].name, "outside", points[i].at + np.array([9.0, 14.0, 11.0]), points[i].cov)
    standoff = Standoff(3.0, within=2.0)
    points.insert(1, Point("within", "touch", points[1].at + np.array([0.0, 20.0, 9.0]), np.eye(3), standoff=standoff))
    return Evidence(points, evidence.bends, OD)


@pytest.mark.parametrize("outside", [False, True])
def test_what_the_normal_matrix_lacks_is_what_differences_of_the_lagrangian_say(outside: bool) -> None:
    rng = np.random.default_rng(8)
    limited = next(one for one in iter(lambda: limited_tube(rng), None) if one.evidence.bends == 2)
    held = HeldEvidence(with_places_outside(limited.evidence) if outside else limited.evidence)
    chain = limited.start
    multipliers = 2 * rng.normal(size=held.demanded(chain).values.size)
    hessian = held.normal(chain, None).hessian
    scale = 1 / np.sqrt(np.diagonal(hessian))
    steps = np.diag(APART * scale)

    def lagrangian(step: np.ndarray) -> float:
        there = held.move(chain, step)
        return held.normal(there, None).chi2 / 2 - float(multipliers @ held.demanded(there).values)

    second = np.zeros_like(hessian)
    for i, a in enumerate(steps):
        for j, b in enumerate(steps[: i + 1]):
            twice = lagrangian(a + b) - lagrangian(a - b) - lagrangian(b - a) + lagrangian(-a - b)
            second[i, j] = second[j, i] = twice / (4 * APART**2)
    told = held.curvature(chain, multipliers)
    assert told is not None
    np.testing.assert_allclose((hessian + told) * scale[:, None] * scale, second, atol=1e-4)
    assert np.abs(told * scale[:, None] * scale).max() > 0.01  # what is left out is no trifle
