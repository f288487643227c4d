"""Circle, line and cylinder through places, by least distances.

Circle: six places of Gander, Golub & Strebel, Least-squares fitting of circles and ellipses, BIT 34 (1994), geometric
fit (from memory). Line: Pearson's ten places, On lines and planes of closest fit, Phil. Mag. 2 (1901); slope and
intercept computed from his data by its scatter's eigenvectors, a published table prints 5.7857 and -0.546. Cylinder: a
scanned straight tube beside scipy's least_squares on the distances to a free axis.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import least_squares

from plumbend.estimate.minimise import Minimum, minimise
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray, cross
from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.scan import Scan
from plumbend.shape.structure import fit_measured
from support.plain_numbers import WeighedAlike
from support.tubes import OD, RADIUS, random_tube, scan_places

ON_CIRCLE = np.array([[1, 7], [2, 6], [5, 8], [7, 7], [9, 5], [3, 7]], dtype=float)
ON_LINE = np.array(
    [
        [0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4],
        [5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5],
    ]
).T


class Distances(WeighedAlike):
    """Misses and their derivatives, all observations alike."""

    def __init__(self, rows: Callable[[FloatArray], tuple[FloatArray, FloatArray]]) -> None:
        self.rows = rows

    def normal(self, state: FloatArray, _weights: None) -> Normal:
        return Normal.from_rows(*self.rows(state))


def fitted(rows: Callable[[FloatArray], tuple[FloatArray, FloatArray]], start: list[float]) -> Minimum[FloatArray]:
    free = np.full(len(start), np.inf)
    return minimise(Distances(rows), np.array(start), -free, free)


def to_circle(state: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distances to a circle given by its centre and radius."""
    off = ON_CIRCLE - state[:2]
    distance = np.linalg.norm(off, axis=1)
    return distance - state[2], np.column_stack([-off / distance[:, None], -np.ones(len(off))])


def to_line(state: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Distances to a line given by the direction of its normal and its distance from the origin."""
    sine, cosine = np.sin(state[0]), np.cos(state[0])
    misses = ON_LINE @ [cosine, sine] - state[1]
    return misses, np.column_stack([ON_LINE @ [-sine, cosine], -np.ones(len(ON_LINE))])


def test_circle_of_least_distances() -> None:
    found = fitted(to_circle, [4.7, 3.8, 4.1])
    assert found.converged
    np.testing.assert_allclose(found.state, [4.7398, 2.9835, 4.7142], atol=6e-5)
    assert found.normal.chi2 == pytest.approx(1.22760, abs=6e-6)


def test_line_of_least_distances() -> None:
    found = fitted(to_line, [1.0, 5.0])
    assert found.converged
    normal, off = found.state
    assert -1 / np.tan(normal) == pytest.approx(-0.54556, abs=6e-6)
    assert off / np.sin(normal) == pytest.approx(5.78404, abs=6e-6)
    assert found.normal.chi2 == pytest.approx(0.618573, abs=6e-7)


def test_a_straight_tube_is_the_cylinder_of_least_distances() -> None:
    rng = np.random.default_rng(4)
    tube = random_tube(rng, 0)
    at = scan_places(tube, 400, rng, 0.5)
    found = fit_measured(Measured(OD, scan=Scan(at, 0.5)), 0, FormingLimits(RADIUS))
    assert found is not None
    middle, (u, n, a) = at.mean(axis=0), tube.frame.T

    def misses(x: FloatArray) -> FloatArray:
        along = u + x[2] * n + x[3] * a
        off = cross(at - (middle + x[0] * n + x[1] * a), along)
        distances: FloatArray = np.linalg.norm(off, axis=1) / np.linalg.norm(along) - OD / 2
        return distances / 0.5

    theirs = least_squares(misses, np.zeros(4), xtol=1e-14, ftol=1e-14, gtol=1e-14)
    assert found.chi2 == pytest.approx(2 * theirs.cost, rel=1e-8)
    along = u + theirs.x[2] * n + theirs.x[3] * a
    ours = found.chain.frame[:, 0]
    assert abs(ours @ along) / np.linalg.norm(along) == pytest.approx(1.0, abs=1e-12)
