"""Which leg each point lies on: dynamic programming over points in order.

Each leg is a total-least-squares line of consecutive points, a few points between two legs are left to the
arc at a fixed price, and a corner ends one leg and begins the next.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.shape.points import Point

Legs = list[int | None]
"""Leg, 1 to n + 1, of every point in order; None for a point left to an arc."""

LEFT_TO_ARC = 8.0
"""Price of a point left to a bend, in squares of its accuracy: about what it would add on a leg of its own."""
MOST_ON_ARC = 4


class Segmentation:
    """Costs of every run of consecutive points as one leg, and the cheapest cut into legs."""

    def __init__(self, points: list[Point], costs: FloatArray | None = None) -> None:
        """``points`` are places on the centreline, in order from the start end; ``costs`` (m, m) what places i to k
        (inclusive) cost as one leg, their weighted squares about its best line where None."""
        self.points = points
        self.corner = np.array([point.what == "corner" for point in points])
        self.costs = _line_costs(points) if costs is None else costs.copy()
        count = len(points)
        for i in range(count):
            inner = np.flatnonzero(self.corner[i + 1 :])
            if inner.size:  # a corner may stand only at the ends of a leg
                self.costs[i, i + 1 + inner[0] + 1 :] = np.inf

    @property
    def least_bends(self) -> int:
        """Fewest bends that hold all corners and told legs."""
        told = [point.bend for point in self.points if point.bend is not None]
        legs = [point.leg - 1 for point in self.points if point.leg is not None]
        return max([int(self.corner.sum()), *told, *legs])

    @property
    def most_bends(self) -> int:
        """Most bends that leave every leg two places, a corner serving two legs."""
        return (len(self.points) + int(self.corner.sum())) // 2 - 1

    def legs(self, bends: int) -> Legs | None:
        """The cheapest legs for one number of bends.

        Leg (1 to n + 1) of every point; None for a point left to an arc; a corner counts to the leg it ends.
        Returns None where the points cannot serve: a leg would have fewer than two.
        """
        choices = self._choices(bends)
        if not np.isfinite(choices[-1][1][-1]):
            return None
        return self._read_back(choices)

    def agreed(self, legs: Legs) -> Legs:
        """A cut without the places that are off the line of their leg: here all are on it."""
        return legs

    def cost(self, bends: int) -> float:
        """What the cheapest legs for one number of bends cost, in squares of accuracies; infinite where the points
        cannot serve."""
        return float(self._choices(bends)[-1][1][-1])

    def costs_of_cuts(self, most: int) -> FloatArray:
        """(most + 1,) what the cheapest legs for 0, 1, ... bends cost, in squares of accuracies; infinite where the
        points cannot serve. Of points without corners."""
        return np.array([ends[-1] for _, ends, _ in self._choices(most)])

    def _choices(self, bends: int) -> list[tuple[FloatArray, FloatArray, FloatArray]]:
        """For every leg, and every point that it may end at: where it best begins, what all costs so far, and where
        the leg before it then ends."""
        count = len(self.points)
        bend_of = _told_bends(self.points, bends)
        starts = np.full(count, np.inf)
        starts[0] = 0.0
        choices = []
        for leg in range(1, bends + 2):
            costs = self.costs + self._forbidden(leg, bend_of)
            total = starts[:, None] + costs
            begin = np.argmin(total, axis=0)
            ends = total[begin, np.arange(count)]
            starts, came_from = self._next_starts(ends, leg)
            choices.append((begin, ends, came_from))
        return choices

    def _forbidden(self, leg: int, bend_of: dict[int, int]) -> FloatArray:
        """(count, count): infinite for runs that what was told keeps off this leg."""
        count = len(self.points)
        wrong = np.zeros((count, count))
        for i, point in enumerate(self.points):
            if point.what == "centre" and point.leg is not None and point.leg != leg:
                wrong[: i + 1, i:] = np.inf
            bend = bend_of.get(i)
            if bend is not None:
                if bend != leg:  # does not end this leg
                    wrong[:, i] = np.inf
                if bend != leg - 1:  # does not begin it
                    wrong[i, :] = np.inf
        return wrong

    def _next_starts(self, ends: FloatArray, leg: int) -> tuple[FloatArray, FloatArray]:
        """Cheapest way to begin the next leg at each point, and where this leg then ends."""
        count = len(self.points)
        starts = np.full(count, np.inf)
        came_from = np.zeros(count)
        for start in range(count):
            if self.corner[start]:
                starts[start], came_from[start] = ends[start], start
                continue
            for gap in range(MOST_ON_ARC + 1):
                end = start - 1 - gap
                if end < 0:
                    break
                if not self.corner[end] and ends[end] + gap * LEFT_TO_ARC < starts[start]:
                    starts[start], came_from[start] = ends[end] + gap * LEFT_TO_ARC, end
                left = self.points[end]  # would be left to the arc by a wider gap
                if left.what != "centre" or left.leg not in (None, leg, leg + 1):
                    break
        return starts, came_from

    def _read_back(self, choices: list[tuple[FloatArray, FloatArray, FloatArray]]) -> Legs:
        legs: Legs = [None] * len(self.points)
        end = len(self.points) - 1
        for leg in range(len(choices), 0, -1):
            begin = int(choices[leg - 1][0][end])
            for i in range(begin, end + 1):
                legs[i] = leg
            if leg > 1:
                end = int(choices[leg - 2][2][begin])
        return legs


def _told_bends(points: list[Point], bends: int) -> dict[int, int]:
    """Bend of each corner, by its index, as far as it was told or every bend has its corner."""
    corners = [i for i, point in enumerate(points) if point.what == "corner"]
    if len(corners) == bends:
        return {i: k + 1 for k, i in enumerate(corners)}
    return {i: bend for i in corners if (bend := points[i].bend) is not None}


def _line_costs(points: list[Point]) -> FloatArray:
    """(count, count): weighted squares of points i to k (inclusive) about their best line; infinite for k <= i."""
    count = len(points)
    at = np.array([point.at for point in points])
    at = at - at.mean(axis=0)
    weight = np.array([3.0 / np.trace(point.cov) for point in points])
    moments = np.zeros((count + 1, 10))
    products = at[:, :, None] * at[:, None, :]
    moments[1:, 0] = np.cumsum(weight)
    moments[1:, 1:4] = np.cumsum(weight[:, None] * at, axis=0)
    upper = np.triu_indices(3)
    moments[1:, 4:] = np.cumsum(weight[:, None] * products[:, upper[0], upper[1]], axis=0)
    first, last = np.triu_indices(count, 1)
    run = moments[last + 1] - moments[first]
    scatter = np.zeros((len(run), 3, 3))
    mean = run[:, 1:4] / run[:, :1]
    scatter[:, upper[0], upper[1]] = run[:, 4:] - (run[:, :1] * mean[:, :, None][:, upper[0], 0]) * mean[:, upper[1]]
    scatter[:, upper[1], upper[0]] = scatter[:, upper[0], upper[1]]
    eigenvalues = np.linalg.eigvalsh(scatter)
    costs = np.full((count, count), np.inf)
    costs[first, last] = np.maximum(eigenvalues[:, 0], 0) + np.maximum(eigenvalues[:, 1], 0)
    return costs
