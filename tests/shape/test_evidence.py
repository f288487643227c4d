"""Derivatives of every kind of evidence against central differences, the foot held on its element."""

from __future__ import annotations

import numpy as np
import pytest

from plumbend.frames import FloatArray, normals_to, unit
from plumbend.shape.chain import Chain, layout
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


def _steps(bends: int) -> list[FloatArray]:
    """One small step of each parameter: lengths 1e-3 mm, angles 1e-5 radian."""
    where = layout(bends)
    size = np.full(where.size, 1e-5)
    size[:3] = size[where.straights] = 1e-3
    return list(np.diag(size))


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
            for group in evidence.groups:
                rows = group.rows(tube, motion, None)
                largest = np.abs(rows.jacobian).max()
                for j, step in enumerate(_steps(bends)):
                    ahead, behind = (
                        group.rows(moved, moved.motion(evidence.reference), rows.directions).residuals
                        for moved in (tube.moved(step, evidence.reference), tube.moved(-step, evidence.reference))
                    )
                    difference = (ahead - behind) / (2 * step[j])
                    np.testing.assert_allclose(rows.jacobian[:, :, j] / largest, difference / largest, atol=1e-6)


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
        for reading in readings:
            _, row = reading.residual(tube, tube.motion(reference))
            largest = max(1.0, float(np.abs(row).max()))
            for j, step in enumerate(_steps(bends)):
                ahead, behind = (
                    reading.residual(moved, moved.motion(reference))[0]
                    for moved in (tube.moved(step, reference), tube.moved(-step, reference))
                )
                assert (ahead - behind) / (2 * step[j]) / largest == pytest.approx(row[j] / largest, abs=1e-6)


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
        for j, step in enumerate(_steps(3)):
            ahead = evidence.normal(tube.moved(step, evidence.reference), weights).chi2
            behind = evidence.normal(tube.moved(-step, evidence.reference), weights).chi2
            assert (ahead - behind) / (2 * step[j]) == pytest.approx(
                gradient[j], rel=1e-5, abs=1e-6 * np.abs(gradient).max()
            )


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
