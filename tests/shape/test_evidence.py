"""Derivatives of every kind of point against central differences, the foot held on its element."""

from __future__ import annotations

import numpy as np
import pytest

from plumbend.frames import FloatArray, normals_to
from plumbend.shape.chain import Chain, layout
from plumbend.shape.evidence import CentrePoints, Evidence, carried
from plumbend.shape.feet import feet
from plumbend.shape.points import Point
from support.tubes import random_tube


def _points(tube: Chain, rng: np.random.Generator) -> list[Point]:
    """Ends, places near the tube and its corners, all some way off."""
    places, _ = tube.polyline(0.5)
    near = places[rng.integers(0, len(places), 30)] + rng.normal(size=(30, 3)) * 20
    corners = [
        Point(f"k{k}", "corner", place + rng.normal(size=3), np.eye(3), bend=k)
        for k, place in enumerate(tube.corners()[1:-1], 1)
        if np.isfinite(place).all() and tube.angles[k - 1] < 2.9
    ]
    return [
        Point("s", "end", tube.origin + rng.normal(size=3) * 5, np.eye(3)),
        *(Point(f"c{i}", "centre", at, np.eye(3)) for i, at in enumerate(near)),
        *corners,
        Point("e", "end", tube.far_end + rng.normal(size=3) * 5, np.eye(3)),
    ]


def _residuals(evidence: Evidence, tube: Chain, elements: FloatArray, directions: list[FloatArray]) -> list[FloatArray]:
    """Residuals with feet held on ``elements`` and centre misses along the frozen ``directions``."""
    residuals = []
    for group, along in zip(evidence.groups, directions, strict=True):
        if isinstance(group, CentrePoints):
            off = feet(tube, group.at, element=elements).off
            residuals.append(np.einsum("mki,mi->mk", along, off))
        else:
            residuals.append(group.rows(tube, tube.motion(evidence.reference), None).residuals)
    return residuals


@pytest.mark.parametrize("case", ["usual", "near-straight", "u-bend"])
def test_derivatives(case: str) -> None:
    rng = np.random.default_rng(2)
    for bends in range(7):
        for _ in range(5):
            tube = random_tube(rng, bends, angles=(1.0, 170.0))
            if bends and case == "near-straight":
                tube.angles[rng.integers(bends)] = np.radians(0.01)
            if bends and case == "u-bend":
                tube.angles[rng.integers(bends)] = np.pi
            evidence = Evidence(_points(tube, rng), bends)
            rows = evidence.rows(tube)
            directions = [group.directions for group in rows]
            at = np.array([point.at for point in evidence.points if point.what == "centre"])
            elements = feet(tube, at).element
            where = layout(bends)
            for j in range(where.size):
                step = np.zeros(where.size)
                step[j] = 1e-3 if j < 3 or where.straights.start <= j < where.straights.stop else 1e-5
                ahead = _residuals(evidence, tube.moved(step, evidence.reference), elements, directions)
                behind = _residuals(evidence, tube.moved(-step, evidence.reference), elements, directions)
                for group, plus, minus in zip(rows, ahead, behind, strict=True):
                    difference = (plus - minus) / (2 * step[j])
                    largest = np.abs(group.jacobian).max()
                    np.testing.assert_allclose(group.jacobian[:, :, j] / largest, difference / largest, atol=1e-6)


def test_the_gradient_is_that_of_the_sum_of_squares_with_weights_held() -> None:
    """Accuracies that differ by axis: the carried directions must not spin about the tube."""
    rng = np.random.default_rng(8)
    tube = random_tube(rng, 3)
    shape = rng.normal(size=(3, 3))
    points = [
        Point(p.name, p.what, p.at, shape @ shape.T + np.eye(3), leg=p.leg, bend=p.bend) for p in _points(tube, rng)
    ]
    evidence = Evidence(points, 3)
    weights = evidence.weigh(tube)
    assert weights is not None
    gradient = 2 * evidence.normal(tube, weights).gradient
    for j in range(gradient.size):
        step = np.zeros(gradient.size)
        step[j] = 1e-6
        ahead = evidence.normal(tube.moved(step, evidence.reference), weights).chi2
        behind = evidence.normal(tube.moved(-step, evidence.reference), weights).chi2
        assert (ahead - behind) / 2e-6 == pytest.approx(gradient[j], rel=1e-5, abs=1e-4 * np.abs(gradient).max())


def test_carried_normals_stay_square() -> None:
    rng = np.random.default_rng(1)
    tangents = rng.normal(size=(20, 3))
    tangents /= np.linalg.norm(tangents, axis=1, keepdims=True)
    normals = normals_to(tangents)
    moved = tangents + 0.2 * rng.normal(size=(20, 3))
    moved /= np.linalg.norm(moved, axis=1, keepdims=True)
    after = carried(normals, moved)
    np.testing.assert_allclose(np.einsum("mki,mi->mk", after, moved), 0, atol=1e-12)
    np.testing.assert_allclose(after @ np.swapaxes(after, 1, 2), np.broadcast_to(np.eye(2), (20, 2, 2)), atol=1e-12)
    np.testing.assert_allclose(carried(normals, tangents), normals, atol=1e-12)
