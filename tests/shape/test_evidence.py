"""Derivatives of every kind of evidence against central differences, the foot held on its element."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from plumbend.frames import FloatArray, normals_to, unit
from plumbend.shape.chain import Chain, Motion, layout
from plumbend.shape.evidence import Evidence
from plumbend.shape.feet import feet
from plumbend.shape.kinds import OnTube, carried
from plumbend.shape.points import Point
from plumbend.shape.tube_readings import (
    BendAngle,
    BendRotation,
    CornersApart,
    LegsApart,
    LegSlope,
    OutsideToEnd,
    TubeReading,
)
from support.tubes import OD, random_tube


def _points(tube: Chain, rng: np.random.Generator) -> list[Point]:
    """Ends, places near the tube of every kind, and its corners, all some way off."""
    places, _ = tube.polyline(0.5)
    one = np.eye(3)

    def near(count: int) -> FloatArray:
        found = places[rng.integers(0, len(places), count)] + rng.normal(size=(count, 3)) * 20
        # a distance from the axis bends too sharply for differences where it is next to nothing
        return found[np.linalg.norm(feet(tube, found).off, axis=1) > 8]

    corners = [
        Point(f"k{k}", "corner", place + rng.normal(size=3), one, bend=k)
        for k, place in enumerate(tube.corners()[1:-1], 1)
        if np.isfinite(place).all() and tube.angles[k - 1] < 2.9
    ]
    return [
        Point("s", "end", tube.origin + rng.normal(size=3) * 5, one),
        *(Point(f"c{i}", "centre", at, one) for i, at in enumerate(near(20))),
        *(Point(f"e{i}", "centre", at, one, side=unit(rng.normal(size=3))) for i, at in enumerate(near(20))),
        *(Point(f"o{i}", "outside", at, one) for i, at in enumerate(near(20))),
        *corners,
        Point("e", "end", tube.far_end + rng.normal(size=3) * 5, one),
    ]


def _hold_feet(evidence: Evidence, tube: Chain) -> None:
    """Keep every foot on the element that it stands on now."""
    for group in evidence.groups:
        if isinstance(group, OnTube):
            group.allowed = np.eye(2 * tube.bends + 1, dtype=bool)[group.feet(tube).element]


@dataclass(frozen=True, slots=True)
class Nudged:
    """A tube a small step ahead and behind in one parameter, with its motions; the step's length both ways."""

    ahead: tuple[Chain, Motion]
    behind: tuple[Chain, Motion]
    apart: float


def _nudged(tube: Chain, reference: FloatArray) -> list[Nudged]:
    """In each parameter: lengths by 1e-3 mm, angles by 1e-5 radian."""
    where = layout(tube.bends)
    size = np.full(where.size, 1e-5)
    size[:3] = size[where.straights] = 1e-3
    nudged = []
    for step in np.diag(size):
        ahead, behind = (tube.moved(way * step, reference) for way in (1.0, -1.0))
        both = ((chain, chain.motion(reference)) for chain in (ahead, behind))
        nudged.append(Nudged(*both, 2 * float(step.max())))
    return nudged


@pytest.mark.parametrize("case", ["usual", "near-straight", "u-bend"])
def test_derivatives_of_points(case: str) -> None:
    rng = np.random.default_rng(2)
    for bends in range(7):
        for _ in range(5):
            tube = random_tube(rng, bends, angles=(1.0, 170.0))
            if bends and case == "near-straight":
                tube.angles[rng.integers(bends)] = np.radians(0.01)
            if bends and case == "u-bend":
                tube.angles[rng.integers(bends)] = np.pi
            evidence = Evidence(_points(tube, rng), bends, OD)
            _hold_feet(evidence, tube)
            motion = tube.motion(evidence.reference)
            nudged = _nudged(tube, evidence.reference)
            for group in evidence.groups:
                rows = group.rows(tube, motion, None)
                largest = np.abs(rows.jacobian).max()
                differences = []
                for one in nudged:
                    ahead, behind = (group.rows(*moved, rows.directions).residuals for moved in (one.ahead, one.behind))
                    differences.append((ahead - behind) / one.apart)
                np.testing.assert_allclose(rows.jacobian / largest, np.stack(differences, -1) / largest, atol=1e-6)


@pytest.mark.parametrize("bends", [2, 3, 5])
def test_derivatives_of_readings(bends: int) -> None:
    rng = np.random.default_rng(bends)
    for _ in range(20):
        tube = random_tube(rng, bends, angles=(5.0, 160.0))
        readings: list[TubeReading] = [
            BendAngle(1, 1.0, 0.01),
            BendRotation(2, -0.3, 0.01),
            LegSlope(2, 0.4, 0.01),
            LegSlope(1, 0.4, 0.01, unsigned=True),
            CornersApart(0, 2, 400.0, 1.0),
            CornersApart(1, bends + 1, 400.0, 1.0),
            LegsApart(1, 3, 500.0, 1.0, OD, "outside"),
            LegsApart(2, 3, 500.0, 1.0, 0.0, "centres"),
            OutsideToEnd(2, False, 600.0, 1.0, OD),
            OutsideToEnd(1, True, 600.0, 1.0, OD),
        ]
        reference = rng.normal(size=3) * 300
        motion, nudged = tube.motion(reference), _nudged(tube, reference)
        for reading in readings:
            _, row = reading.residual(tube, motion)
            largest = max(1.0, float(np.abs(row).max()))
            differences = [
                (reading.residual(*one.ahead)[0] - reading.residual(*one.behind)[0]) / one.apart for one in nudged
            ]
            assert np.array(differences) / largest == pytest.approx(row / largest, abs=1e-6)


def test_the_gradient_is_that_of_the_sum_of_squares_with_weights_held() -> None:
    """Accuracies that differ by axis, or points that are correlated: carried directions must not spin."""
    rng = np.random.default_rng(8)
    for joint in (False, True):
        tube = random_tube(rng, 3)
        shape = rng.normal(size=(3, 3))
        points = [
            Point(p.name, p.what, p.at, shape @ shape.T + np.eye(3), bend=p.bend, side=p.side)
            for p in _points(tube, rng)
        ]
        spread = rng.normal(size=(3 * len(points), 20))
        together = spread @ spread.T + np.eye(3 * len(points)) if joint else None
        evidence = Evidence(points, 3, OD, joint=together)
        _hold_feet(evidence, tube)
        weights = evidence.weigh(tube)
        assert weights is not None
        gradient = 2 * evidence.normal(tube, weights).gradient
        for slope, one in zip(gradient, _nudged(tube, evidence.reference), strict=True):
            ahead, behind = (evidence.normal(chain, weights).chi2 for chain, _ in (one.ahead, one.behind))
            assert (ahead - behind) / one.apart == pytest.approx(slope, rel=1e-5, abs=1e-6 * np.abs(gradient).max())


def test_carried_normals_stay_square() -> None:
    rng = np.random.default_rng(1)
    tangents = unit(rng.normal(size=(20, 3)))
    normals = normals_to(tangents)
    moved = unit(tangents + 0.2 * rng.normal(size=(20, 3)))
    after = carried(normals, moved)
    np.testing.assert_allclose(np.einsum("mki,mi->mk", after, moved), 0, atol=1e-12)
    np.testing.assert_allclose(after @ np.swapaxes(after, 1, 2), np.broadcast_to(np.eye(2), (20, 2, 2)), atol=1e-12)
    np.testing.assert_allclose(carried(normals, tangents), normals, atol=1e-12)


def test_a_dense_covariance_of_independent_points_weighs_as_the_points_do() -> None:
    rng = np.random.default_rng(5)
    tube = random_tube(rng, 2)
    shapes = rng.normal(size=(70, 3, 3))
    points = [
        Point(p.name, p.what, p.at, shape @ shape.T + np.eye(3), bend=p.bend, side=p.side)
        for p, shape in zip(_points(tube, rng), shapes, strict=False)
    ]
    joint = np.zeros((3 * len(points), 3 * len(points)))
    for i, point in enumerate(points):
        joint[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] = point.cov
    alone, together = Evidence(points, 2, OD), Evidence(points, 2, OD, joint=joint)
    one, other = (evidence.normal(tube, evidence.weigh(tube)) for evidence in (alone, together))
    np.testing.assert_allclose(one.hessian, other.hessian, rtol=1e-9, atol=1e-9 * np.abs(one.hessian).max())
    np.testing.assert_allclose(one.gradient, other.gradient, rtol=1e-9, atol=1e-9 * np.abs(one.gradient).max())
    assert one.chi2 == pytest.approx(other.chi2)
