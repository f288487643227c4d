"""The biweight, least squares, and the reweighting with another loss, against published fits of the stack loss data.

Brownlee, Statistical Theory and Methodology in Science and Engineering (1965), p. 454: 21 days of a plant that oxidises
ammonia; stack loss on air flow, temperature of the cooling water and concentration of the acid. Data from memory.
"""

from collections.abc import Callable

import numpy as np
import pytest

from plumbend.estimate.biweight import biweight
from plumbend.estimate.minimise import Minimum, minimise
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray
from support.plain_numbers import PlainNumbers

AIR_FLOW = [80, 80, 75, 62, 62, 62, 62, 62, 58, 58, 58, 58, 58, 58, 50, 50, 50, 50, 50, 56, 70]
WATER = [27, 27, 25, 24, 22, 23, 24, 24, 23, 18, 18, 17, 18, 19, 18, 18, 19, 19, 20, 20, 20]
ACID = [89, 88, 90, 87, 87, 87, 93, 93, 87, 80, 89, 88, 82, 93, 89, 86, 72, 79, 80, 82, 91]
LOSS = np.array([42, 37, 37, 28, 18, 18, 19, 20, 15, 14, 14, 13, 11, 12, 8, 7, 8, 8, 9, 15, 15])
ROWS = np.column_stack([np.ones(21), AIR_FLOW, WATER, ACID])


Loss = Callable[[FloatArray, float], tuple[float, FloatArray]]


def huber(misses: FloatArray, width: float) -> tuple[float, FloatArray]:
    """Huber's loss, of the form of :func:`biweight`: r^2, and beyond the width w its tangent 2 w |r| - w^2 (Huber,
    Annals of Mathematical Statistics 35 (1964))."""
    sizes = np.abs(misses)
    counted = np.where(sizes <= width, misses**2, 2 * width * sizes - width**2)
    return float(counted.sum()), np.sqrt(width / np.maximum(sizes, width))


class StackLoss(PlainNumbers):
    """A linear regression, its misses counted by a loss so many standard deviations wide, or squared where None."""

    def __init__(self, wide: float | None, loss: Loss = biweight) -> None:
        self.wide, self.loss = wide, loss

    def weigh(self, state: FloatArray) -> float | None:
        """The width: so many times the median size of the misses over 0.6745."""
        return None if self.wide is None else self.wide * float(np.median(np.abs(ROWS @ state - LOSS))) / 0.6745

    def normal(self, state: FloatArray, width: float | None) -> Normal:
        misses = ROWS @ state - LOSS
        if width is None:
            return Normal.from_rows(misses, ROWS)
        counted, factors = self.loss(misses, width)
        rows = factors[:, None] * ROWS
        return Normal(rows.T @ rows, rows.T @ (factors * misses), counted, len(misses))


def fit(wide: float | None, start: FloatArray, loss: Loss = biweight) -> Minimum[FloatArray]:
    free = np.full(4, np.inf)
    return minimise(StackLoss(wide, loss), start, -free, free)


def test_least_squares() -> None:
    """Standard result for these data, from memory."""
    assert fit(None, np.zeros(4)).state == pytest.approx([-39.9197, 0.7156, 1.2953, -0.1521], abs=1e-4)


def test_biweight() -> None:
    """Tukey's biweight 4.685 standard deviations wide, these from the median miss: rlm(stack.loss ~ ., stackloss,
    psi = psi.bisquare) of the package that goes with Venables & Ripley, Modern Applied Statistics with S (4th ed.,
    2002), from memory."""
    found = fit(4.685, fit(None, np.zeros(4)).state)
    assert found.state == pytest.approx([-42.2853, 0.9275, 0.6507, -0.1123], abs=1e-4)
    width = StackLoss(4.685).weigh(found.state)
    assert width is not None
    assert width / 4.685 == pytest.approx(2.28, abs=0.01)


def test_the_same_iteration_with_another_loss() -> None:
    """Huber's loss 1.345 standard deviations wide, these from the median miss: the example of robust linear models in
    the documentation of statsmodels (RLM, HuberT)."""
    found = fit(1.345, fit(None, np.zeros(4)).state, huber)
    assert found.state == pytest.approx([-41.026498, 0.829384, 0.926066, -0.127847], abs=1e-5)
