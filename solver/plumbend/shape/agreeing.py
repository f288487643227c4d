"""Legs that most places of theirs agree on, though others are off the tube.

A leg runs along the line through some two of its places. A place costs the square of its miss over its accuracy, and
never more than a wrong one costs (truncated squares), so that the cheapest line is the one that most places agree on:
sample consensus (Fischler & Bolles 1981), with all pairs that lie near each other in place of random ones. The places
are cut into legs so priced as they are into legs of least squares.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plumbend.frames import FloatArray
from plumbend.shape.points import Point
from plumbend.shape.segments import Legs, Segmentation

REACH = 12
"""A line is laid through two places with fewer than so many between them."""
LEAST_AGREED = 3
"""Any two agree on a line."""


class AgreedLegs(Segmentation):
    """The cheapest cut into legs, each on a line that most of its places agree on."""

    def __init__(self, points: list[Point], most: float) -> None:
        """``points`` are places on the centreline, in order from the start end, some of them wrong; ``most`` is what
        one costs at most, in squares of its accuracy."""
        self.most = most
        self._each = np.minimum(_squares_off_lines(points), most)
        super().__init__(points, self._costs())

    def _costs(self) -> FloatArray:
        """(m, m) what places i to k (inclusive) cost on the best of the lines; infinite for k <= i."""
        so_far, agree_so_far = _running(self._each), _running(self._each < self.most)
        count = self._each.shape[1]
        costs = np.full((count, count), np.inf)
        for i in range(count - 1):
            each = so_far[:, i + 2 :] - so_far[:, i, None]
            agree = agree_so_far[:, i + 2 :] - agree_so_far[:, i, None]
            costs[i, i + 1 :] = (each + self.most * (agree < LEAST_AGREED)).min(axis=0)
        return costs

    def agreed(self, legs: Legs) -> Legs:
        """A cut without the places that are off the line of their leg.

        A leg keeps all of its places where fewer than two would be left.
        """
        found: Legs = [None] * len(legs)
        for leg in {leg for leg in legs if leg is not None}:
            members = [i for i, at in enumerate(legs) if at == leg]
            each = self._each[:, members]
            on_line = each[np.argmin(each.sum(axis=1))] < self.most
            for i, on_it in zip(members, on_line.tolist(), strict=True):
                if on_it or on_line.sum() < 2:
                    found[i] = leg
        return found


def _squares_off_lines(points: list[Point]) -> FloatArray:
    """(l, m) squares of the misses of places, over their accuracies, from lines through pairs of them."""
    at = np.array([point.at for point in points])
    weight = np.array([3.0 / np.trace(point.cov) for point in points])
    first, last = np.triu_indices(len(at), 1)
    near = last - first <= REACH
    first, last = first[near], last[near]
    along = at[last] - at[first]
    size = np.linalg.norm(along, axis=1)
    first, along = first[size > 0], along[size > 0] / size[size > 0, None]
    # about their middle, for the digits
    at = at - at.mean(axis=0)
    off = at - at[first, None]
    square = (off**2).sum(axis=2) - np.einsum("lpi,li->lp", off, along) ** 2
    squares: FloatArray = np.maximum(square, 0.0) * weight
    return squares


def _running(numbers: FloatArray | npt.NDArray[np.bool_]) -> FloatArray:
    """(l, m + 1) sums of the first 0, 1, ... m of each row."""
    return np.concatenate([np.zeros((len(numbers), 1)), np.cumsum(numbers, axis=1)], axis=1)
