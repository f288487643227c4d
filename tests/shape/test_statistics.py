"""The fit is as good as mathematics allows, and its ± is honest: simulated measurings of known tubes.

4000 tubes of 1 to 6 bends of 15 to 110 degrees and straights of 150 to 750 mm that do not run into
themselves, radius 140 mm, OD 44.45 mm; half of them with 4 places on the axis of every leg, half with 8 on the
outside; 1.6 mm along every axis unless said otherwise. The limit is that of Cramér and Rao: the inverse of the
information at the truth. A mean of squares over N numbers has a standard error of about sqrt(2/N), 0.01 here.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pytest

from plumbend.frames import FloatArray
from plumbend.shape.certainty import certainty_of
from plumbend.shape.chain import POSE, Chain, layout
from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.structure import fit_measured
from support.tubes import OD, RADIUS, clear_of_itself, leg_points, outside_points, random_tube, turn_apart

TUBES = 4000
NORMAL_95 = 1.959964


def _tubes(rng: np.random.Generator) -> Iterator[tuple[Chain, list[Point]]]:
    """Tubes with exact points on them."""
    made = 0
    while made < TUBES:
        tube = random_tube(rng, 1 + made % 6)
        if clear_of_itself(tube):
            made += 1
            yield tube, (leg_points(tube, 4, rng, 0.0) if made % 2 else outside_points(tube, 8, rng, 0.0))


def _alike(rng: np.random.Generator, count: int) -> tuple[FloatArray, FloatArray]:
    """Errors (count, 3) and their joint covariance: 1.6 mm every way."""
    return 1.6 * rng.normal(size=(count, 3)), 1.6**2 * np.eye(3 * count)


def _by_axis(rng: np.random.Generator, count: int) -> tuple[FloatArray, FloatArray]:
    """3, 1 and 0.5 mm forward, left and up."""
    sd = np.array([3.0, 1.0, 0.5])
    return sd * rng.normal(size=(count, 3)), np.diag(np.tile(sd**2, count))


def _together(rng: np.random.Generator, count: int) -> tuple[FloatArray, FloatArray]:
    """Six common causes beside each point's own 1.2 mm."""
    causes = rng.normal(size=(3 * count, 6)) * 0.5
    joint = 1.2**2 * np.eye(3 * count) + causes @ causes.T
    return (np.linalg.cholesky(joint) @ rng.normal(size=3 * count)).reshape(-1, 3), joint


@pytest.mark.parametrize(
    ("errors", "dense", "lowest", "highest"),
    [(_alike, False, 0.97, 1.03), (_by_axis, False, 0.9, 1.1), (_together, True, 0.9, 1.1)],
    ids=["alike", "by-axis", "together"],
)
def test_errors_reach_the_limit_and_intervals_hold(
    errors: Callable[[np.random.Generator, int], tuple[FloatArray, FloatArray]],
    dense: bool,
    lowest: float,
    highest: float,
) -> None:
    rng = np.random.default_rng(2026)
    over_limit: dict[str, list[FloatArray]] = {"straights": [], "rotations": [], "angles": []}
    inside: list[FloatArray] = []
    for tube, exact in _tubes(rng):
        error, joint = errors(rng, len(exact))
        blocks = [joint[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] for i in range(len(exact))]
        true = [replace(point, cov=block) for point, block in zip(exact, blocks, strict=True)]
        points = tuple(replace(point, at=point.at + e) for point, e in zip(true, error, strict=True))
        measured = Measured(OD, points, joint=joint if dense else None)
        fit = fit_measured(measured, tube.bends, FormingLimits(RADIUS))
        assert fit is not None
        where = layout(tube.bends)
        off = fit.chain.parameters() - tube.parameters()
        off[where.rotations] = turn_apart(off[where.rotations], np.zeros(1))
        limit = np.diagonal(_limit(measured, tube, true))
        for name, part in (("straights", where.straights), ("rotations", where.rotations), ("angles", where.angles)):
            over_limit[name].append(off[part] ** 2 / limit[part])
        sd = np.sqrt(np.diagonal(certainty_of(fit).covariance))
        inside.append(np.abs(off[POSE:]) < NORMAL_95 * sd)
    everything = np.concatenate([np.concatenate(part) for part in over_limit.values()]).mean()
    kinds = {name: float(np.concatenate(part).mean()) for name, part in over_limit.items()}
    held = float(np.concatenate(inside).mean())
    print(f"mean square error over the limit: all {everything:.3f}, {kinds}; 95 % intervals hold {held:.4f}")
    assert lowest <= everything <= highest
    assert all(0.9 <= ratio <= 1.1 for ratio in kinds.values()), kinds
    assert 0.94 <= held <= 0.96


def _limit(measured: Measured, tube: Chain, true: list[Point]) -> FloatArray:
    """Inverse of the information at the truth."""
    evidence = measured.compiled(tube.bends, true)
    hessian = evidence.normal(tube, evidence.weigh(tube)).hessian
    scale = 1 / np.sqrt(np.diagonal(hessian))
    inverse: FloatArray = np.linalg.inv(hessian * np.outer(scale, scale)) * np.outer(scale, scale)
    return inverse


def test_a_rigid_motion_of_all_points_together_changes_no_doubt_of_the_program() -> None:
    rng = np.random.default_rng(12)
    for bends in (1, 3, 5):
        tube = random_tube(rng, bends)
        points = tuple(leg_points(tube, 4, rng, 1.6))
        own = np.kron(np.eye(len(points)), np.eye(3) * 1.6**2)
        by_motion = np.concatenate([np.column_stack([np.eye(3), -np.cross(np.eye(3), point.at)]) for point in points])
        spread = rng.normal(size=(6, 6)) * np.array([20, 20, 20, 0.01, 0.01, 0.01])[:, None]
        moved = own + by_motion @ spread @ spread.T @ by_motion.T
        alone, together = (
            fit_measured(Measured(OD, points, joint=joint), bends, FormingLimits(RADIUS)) for joint in (own, moved)
        )
        assert alone is not None
        assert together is not None
        one, other = certainty_of(alone), certainty_of(together)
        np.testing.assert_allclose(np.diagonal(other.covariance), np.diagonal(one.covariance), rtol=2e-3)
        assert (other.corners > one.corners).all()
