"""The least-squares engine against certified values of a nonlinear regression.

NIST Statistical Reference Datasets, nonlinear regression, Misra1a: monomolecular adsorption, y = b1 (1 -
exp(-b2 x)), 14 observations (data read in a transcription; certified values and both published starts from
memory, certified to 11 digits).
"""

import numpy as np
import pytest

from plumbend.estimate.doubt import doubt_of
from plumbend.estimate.minimise import Minimum, minimise
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray
from support.plain_numbers import WeighedAlike

Y = np.array([10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78])
X = np.array([77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0])

PARAMETERS = np.array([2.3894212918e02, 5.5015643181e-04])
DEVIATIONS = np.array([2.7070075241e00, 7.2668688436e-06])
SUM_OF_SQUARES = 1.2455138894e-01
SCATTER = 1.0187876330e-01


class Misra1a(WeighedAlike):
    """b1 (1 - exp(-b2 x)) - y, all observations alike."""

    def normal(self, state: FloatArray, _weights: None) -> Normal:
        left = np.exp(-state[1] * X)
        return Normal.from_rows(self.misses(state), np.column_stack([1 - left, state[0] * X * left]))

    def chi2(self, state: FloatArray, _weights: None) -> float:
        return float(self.misses(state) @ self.misses(state))

    def misses(self, state: FloatArray) -> FloatArray:
        misses: FloatArray = -state[0] * np.expm1(-state[1] * X) - Y
        return misses


def fit(start: list[float], upper: float = np.inf) -> Minimum[FloatArray]:
    free = np.full(2, np.inf)
    return minimise(Misra1a(), np.array(start), -free, np.array([upper, np.inf]))


@pytest.mark.parametrize("start", [[500.0, 0.0001], [250.0, 0.0005]])
def test_certified_values(start: list[float]) -> None:
    found = fit(start)
    assert found.converged
    assert not found.held.any()
    assert found.state == pytest.approx(PARAMETERS, rel=1e-8)
    assert found.normal.chi2 == pytest.approx(SUM_OF_SQUARES, rel=1e-8)

    freedom = found.normal.count - found.state.size
    scatter = np.sqrt(found.normal.chi2 / freedom)
    assert freedom == 12
    assert scatter == pytest.approx(SCATTER, rel=1e-8)
    doubt = doubt_of(found.normal, found.held)
    assert not doubt.loose.any()
    assert scatter * np.sqrt(np.diagonal(doubt.covariance)) == pytest.approx(DEVIATIONS, rel=1e-8)


# Computed here: where b1 is held at a bound, b2 is the root of a function of one unknown.
def test_held_at_a_bound() -> None:
    found = fit([200.0, 0.0005], upper=230.0)
    assert found.converged
    assert found.held.tolist() == [True, False]
    assert found.state[0] == 230.0

    low, high = 5e-4, 7e-4
    for _ in range(60):
        middle = (low + high) / 2
        left = np.exp(-middle * X)
        slope = float((230.0 * (1 - left) - Y) @ (230.0 * X * left))
        low, high = (middle, high) if slope < 0 else (low, middle)
    assert found.state[1] == pytest.approx(low, rel=1e-8)
    doubt = doubt_of(found.normal, found.held)
    assert doubt.covariance[0].tolist() == [0.0, 0.0]
    square = float(((230.0 * X * np.exp(-low * X)) ** 2).sum())
    assert doubt.covariance[1, 1] == pytest.approx(1 / square, rel=1e-8)
