"""Where demands are met, or missed by least, beside places known by geometry."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbend.estimate.demanded import Demanded
from plumbend.estimate.normal import Normal
from plumbend.estimate.reaching import Reached, reach
from plumbend.frames import FloatArray
from support.plain_numbers import WeighedAlike

ANYWHERE = np.full(2, np.inf)


class Discs(WeighedAlike):
    """A place in the plane, measured at ``measured`` with ``doubts`` along the axes, that is to be on circles and
    within discs: rows of centre x, y and radius."""

    def __init__(
        self, on: list[list[float]], within: list[list[float]], doubts: tuple[float, float] = (1.0, 1.0)
    ) -> None:
        self.circles, self.on = np.array(on + within).reshape(-1, 3), len(on)
        self.doubts = np.array(doubts)

    def normal(self, state: FloatArray, weights: None) -> Normal:
        return Normal.from_rows(state / self.doubts, np.diag(1 / self.doubts))

    def demanded(self, state: FloatArray) -> Demanded:
        away = state - self.circles[:, :2]
        distance = np.linalg.norm(away, axis=1)
        equal = np.arange(len(away)) < self.on
        return Demanded(self.circles[:, 2] - distance, -away / distance[:, None], equal)


def reached(problem: Discs, start: list[float], upper: FloatArray = ANYWHERE) -> Reached[FloatArray]:
    return reach(problem, np.array(start), -ANYWHERE, upper)


@given(st.floats(-3, 3), st.floats(0.3, 3))
def test_where_circles_meet(x: float, y: float) -> None:
    """Of two circles of 5 about (-3, 0) and (3, 0) that is (0, 4) and (0, -4)."""
    found = reached(Discs([[-3, 0, 5], [3, 0, 5]], []), [x, y])
    assert found.met
    assert found.state == pytest.approx([0, 4], abs=1e-6)


def test_what_is_known_least_gives_way() -> None:
    """To a line, all but: what is known a hundred times as well moves by a part in ten thousand."""
    problem = Discs([[0, -1e9, 1e9]], [], doubts=(0.01, 1.0))
    slanted = Discs([[-1e9, -1e9, np.sqrt(2) * 1e9]], [], doubts=(0.01, 1.0))
    assert reached(problem, [2.0, 3.0]).state == pytest.approx([2, 0], abs=1e-5)
    assert reached(slanted, [2.0, 3.0]).state == pytest.approx([2 - 5e-4, -2 + 5e-4], abs=1e-5)


def test_discs_apart_are_missed_alike_and_what_does_not_pull_not_at_all() -> None:
    found = reached(Discs([], [[-3, 0, 1], [3, 0, 1], [0, 0, 9]]), [1.0, 2.0])
    assert not found.met
    assert found.state[0] == pytest.approx(0, abs=0.2)
    assert found.missed[:2] == pytest.approx([2, 2], abs=0.2)
    assert found.missed[2] == 0


def test_bounds_are_kept_to_or_told() -> None:
    disc = Discs([], [[3, 0, 1]])
    kept = reached(disc, [0.0, 0.5], np.array([2.5, np.inf]))
    assert kept.met
    assert kept.state[0] <= 2.5
    past = reached(disc, [0.0, 0.5], np.array([1.0, np.inf]))
    assert past.past_bounds
    assert not past.met
    held = reach(Discs([[0, 0, 5]], []), np.array([3.0, 1.0]), np.array([3.0, -9]), np.array([3.0, 9]))
    assert held.state == pytest.approx([3, 4], abs=1e-6)
