"""Points typed in any order, put in order along the tube.

First by the shortest way through them, which may stray where two legs pass close to each other; then a tube is fitted
and the points are sorted by their feet along it, until their order settles. Other short ways are tried as well, and
the order kept by which a tube fits best.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import chain, islice

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.feet import allowed_elements, feet
from plumbend.shape.fit import Fit, FormingLimits
from plumbend.shape.guide import axis_places
from plumbend.shape.measured import Measured
from plumbend.shape.path import axis_path
from plumbend.shape.search import HOPELESS
from plumbend.shape.shortest import short_ways, ways_turned
from plumbend.shape.structure import PRICE, fit_counting_bends, fit_measured

Order = tuple[int, ...]
"""Index, as typed, of every point in order along the tube."""

MOST_PASSES = 8
"""Fits by which an order must settle."""
WAYS_AT_LEAST = 2
"""Ways that are followed up even where the first of them leads to a tube that agrees with everything."""

MOST_TURNED = 12
"""Ways along a part of it the other way round that are followed up while none leads to such a tube."""


@record(eq=False)
class Ordered:
    """What was measured, its points in order.

    Attributes:
        measured: the same, points in order from the start end.
        order: index, as typed, of each of them.
        start_by_first: nothing but the point typed first says which end is the start.
    """

    measured: Measured
    order: Order
    start_by_first: bool


def put_in_order(measured: Measured, bends: int | None, limits: FormingLimits) -> Ordered:
    """Put points that were typed in any order into their order along the tube.

    The tube starts at the end point that was typed first and stops at the second; without one it starts where legs,
    bends and readings agree, else at the end that the point typed first is nearer to.

    Args:
        measured: points in the order typed.
        bends: number of bends; None where it is to be found.
        limits: what the die can bend.
    """
    clear = [i for i, point in enumerate(measured.points) if point.what == "clear"]
    if not clear:
        return _Ordering(measured, bends, limits).settled()
    # what is kept clear of is nowhere along the tube, and names no end of it
    others = [i for i in range(len(measured.points)) if i not in clear]
    found = _Ordering(measured.in_order(others), bends, limits).settled()
    along = [others[i] for i in found.order]
    order = (*along[:-1], *clear, *along[-1:])
    return Ordered(measured.in_order(order), order, found.start_by_first)


class _Ordering:
    """Orders of the same points, each fitted once."""

    def __init__(self, measured: Measured, bends: int | None, limits: FormingLimits) -> None:
        self.measured, self.bends, self.limits = measured, bends, limits
        ends = [i for i, point in enumerate(measured.points) if point.what == "end"]
        self.first = ends[0] if ends else None
        self.last = ends[1] if len(ends) > 1 else None
        # these tell one end from the other, beside the end points
        on_a_leg = any(point.leg is not None or point.bend is not None for point in measured.points)
        self.told = on_a_leg or bool(measured.readings) or bool(measured.demands)
        self.either = self.told and self.first is None
        self._places = np.array([place.at for place in axis_places(measured.points, measured.od)]).reshape(-1, 3)
        self._apart = np.linalg.norm(self._places[:, None] - self._places, axis=2)
        self._fits: dict[Order, Fit | None] = {}

    def settled(self) -> Ordered:
        ways = self._ways()
        best, agrees = self._best_of(islice(ways, 2 * WAYS_AT_LEAST if self.either else WAYS_AT_LEAST))
        while not agrees and self.measured.scan is None:
            turned, agrees = self._best_of(chain([best], self._turned(best)), 1)
            if self._cost(turned) >= self._cost(best):
                break
            best = turned
        if not agrees:
            best, _ = self._best_of(chain([best], ways), 1)
        return self._from_its_start(best)

    def _best_of(self, ways: Iterable[Order], at_least: float = math.inf) -> tuple[Order, bool]:
        """The best order to which ways lead, and whether its tube agrees with everything: so many are followed up at
        least, and the rest for as long as none does."""
        best: Order | None = None
        agrees = False
        for followed, way in enumerate(ways, 1):
            order = self._settled_from(way)
            if best is None or self._cost(order) < self._cost(best):
                best, fit = order, self._fit(order)
                agrees = fit is not None and not beyond_chance(fit.chi2, fit.dof)
            if agrees and followed >= at_least:
                break
        assert best is not None
        return best, agrees

    def _turned(self, order: Order) -> Iterator[Order]:
        """The likeliest of the orders that go along a part of this one the other way."""
        ways = ways_turned(self._apart, np.array(order), self.first, self.last)
        for way in ways[:MOST_TURNED]:
            yield tuple(way.tolist())

    def _ways(self) -> Iterator[Order]:
        """Orders to begin with, the likeliest first."""
        at = self._places
        if self.measured.scan is not None:
            path = axis_path(self.measured.scan, self.measured.od)
            nearest = np.argmin(np.linalg.norm(path[:, None] - at, axis=2), axis=0)
            yield self._ends_first_and_last(nearest.astype(float))
            return
        seen = set()
        for power in (1.0, 2.0):
            for way in short_ways(self._apart**power, self.first, self.last):
                order = tuple(way.tolist())
                if order not in seen:
                    seen.add(order)
                    yield order
                    if self.either:
                        yield order[::-1]

    def _ends_first_and_last(self, stations: FloatArray, before: Order | None = None) -> Order:
        """The points by their stations, the end points first and last; of equals in the order they had."""
        stations = stations.copy()
        if self.first is not None:
            beyond = np.median(stations) if self.last is None else stations[self.last]
            if stations[self.first] > beyond:
                stations = -stations
            stations[self.first] = -np.inf
        if self.last is not None:
            stations[self.last] = np.inf
        order = np.arange(len(stations)) if before is None else np.array(before)
        return tuple(order[np.argsort(stations[order], kind="stable")].tolist())

    def _settled_from(self, order: Order) -> Order:
        """The order to which fitting and sorting lead, or the best on the way to it."""
        passed: list[Order] = []
        while order not in passed and len(passed) < MOST_PASSES:
            passed.append(order)
            fit = self._fit(order)
            if fit is None:
                break
            order = self._ends_first_and_last(self._stations(fit, order), order)
        # of those that lead to the same tube the last is sorted by it
        return min(reversed(passed), key=lambda order: round(self._cost(order), 3))

    def _fit(self, order: Order) -> Fit | None:
        if order not in self._fits:
            ordered = self.measured.in_order(order)
            if self.bends is not None:
                self._fits[order] = fit_measured(ordered, self.bends, self.limits, thorough=False)
            else:
                self._fits[order] = fit_counting_bends(ordered, self.limits, thorough=False)
        return self._fits[order]

    def _cost(self, order: Order) -> float:
        """What speaks against an order: how ill its tube fits, and the bends that takes."""
        fit = self._fit(order)
        if fit is None:
            return math.inf
        count = fit.minimum.normal.count
        unmet = 0.0 if fit.demands_met else HOPELESS * count
        return fit.chi2 + PRICE * math.log(count) * fit.chain.bends + unmet

    def _stations(self, fit: Fit, order: Order) -> FloatArray:
        """(m,) mm along the tube from its start to each point's foot, a corner's at the middle of its bend."""
        tube = fit.chain
        lengths = np.zeros(2 * tube.bends + 1)
        lengths[::2], lengths[1::2] = tube.straights, tube.radius * tube.angles
        begin = np.concatenate([[0.0], np.cumsum(lengths)])
        points = fit.evidence.points
        at = np.array([point.at for point in points])
        legs = [point.leg if point.what in ("centre", "outside") else None for point in points]
        foot = feet(tube, at, allowed_elements(legs, tube.bends))
        along = np.where(foot.element % 2 == 1, tube.radius * foot.along, foot.along)
        ordered = begin[foot.element] + along
        for i, point in enumerate(points):
            if point.what == "corner" and point.bend is not None:
                ordered[i] = begin[2 * point.bend - 1] + lengths[2 * point.bend - 1] / 2
        stations = np.empty(len(order))
        stations[list(order)] = ordered
        return stations

    def _from_its_start(self, order: Order) -> Ordered:
        """The order begun at the start end."""
        if self.first is not None or len(order) < 2:
            return Ordered(self.measured.in_order(order), order, False)
        other = order[::-1]
        if self.told:
            now, then = self._cost(order), self._cost(other)
            if now != then and beyond_chance(abs(now - then), 1):
                order = order if now < then else other
                return Ordered(self.measured.in_order(order), order, False)
        fit = self._fit(order)
        stations = np.argsort(order).astype(float) if fit is None else self._stations(fit, order)
        if stations[0] > (stations.min() + stations.max()) / 2:
            order = other
        return Ordered(self.measured.in_order(order), order, True)
