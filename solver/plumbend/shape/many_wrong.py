"""Many wrong points among many: sorted by what most of them agree on, for to try them one by one would not end.

A leg runs along the line through some two of its points. A point costs the square of its miss over its accuracy, and
never more than a wrong one costs (truncated squares), so that the cheapest line is the one that most points agree on
(sample consensus, Fischler & Bolles 1981, with all pairs that lie near each other in place of random ones). The points
are cut into legs so priced as they always are (:mod:`plumbend.shape.segments`). What is then off the tube is left out,
and the tube fitted to the rest by plain least squares, the cut being made anew until it settles.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.chain import Chain
from plumbend.shape.disagreement import readings_off
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.guess import chain_from_legs
from plumbend.shape.guide import guide_places
from plumbend.shape.invented import price_of_a_wrong_point
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.search import ENOUGH_TO_JUDGE
from plumbend.shape.segments import Legs, Segmentation
from plumbend.shape.standing import LEVEL
from plumbend.shape.structure import MOST_FOUND, bends_are_real, fit_counting_bends, price_of_a_bend
from plumbend.shape.suspects import Out, Suspect, all_of, without

MOST_SORTED = 400
"""More points are not sorted: the time grows with their square and more."""
MOST_PART_OUT = 0.35
"""With more of the points off the tube it is not sure which tube they are of."""
REACH = 12
"""A line is laid through two points with fewer than so many between them."""
CUT = 3.5
"""Misses over the accuracy, each number of a point by itself, beyond which a point is left out for the time being."""
USUAL = 0.8
"""The median of such misses where nothing is off."""
ROUNDS = 12
_COUNTS_TRIED = 3

Flags = npt.NDArray[np.bool_]


@record(eq=False)
class SortedPoints:
    """Points and readings sorted into those on one tube and those not.

    Attributes:
        out: not on it.
        fit: the tube fitted to the rest.
    """

    out: Out
    fit: Fit


def sort_points(
    measured: Measured, bends: int | None, limits: FormingLimits, kept: Container[Suspect]
) -> SortedPoints | None:
    """What of the points and readings most agree on; None where that is no tube.

    Args:
        measured: points in order from the start end, and no scan.
        bends: how many; counted where None.
        limits: of the die.
        kept: never left out.
    """
    if measured.scan is not None or len(measured.points) > MOST_SORTED:
        return None
    places = guide_places(measured)
    if len(places) < len(measured.points):
        return None  # places to keep clear of say nothing of where the tube runs
    price = price_of_a_wrong_point(len(places), LEVEL)
    lines = _Lines(places, price)
    cuts = Segmentation(places, lines.costs)
    found = []
    for count in [bends] if bends is not None else _likely_counts(cuts, len(places)):
        legs = cuts.legs(count)
        one = None if legs is None else _settled(measured, lines, legs, limits, kept)
        if one is not None and (bends is not None or bends_are_real(one.fit)):
            found.append(one)
    if not found:
        return None
    best = min(found, key=lambda one: _cost(one, price, len(places)))
    if bends is not None:
        return best
    # as points that were all right would have been counted
    counted = fit_counting_bends(without(measured, best.out), limits, thorough=False)
    return best if counted is None else SortedPoints(best.out, counted.fit)


def _likely_counts(cuts: Segmentation, points: int) -> list[int]:
    """The numbers of bends that are worth a fit, the likeliest first."""
    most = max(cuts.least_bends, min(cuts.most_bends, MOST_FOUND))
    costs = cuts.costs_of_cuts(most) + price_of_a_bend(2 * points) * np.arange(most + 1)
    return [count for count in np.argsort(costs).tolist()[:_COUNTS_TRIED] if np.isfinite(costs[count])]


def _cost(found: SortedPoints, price: float, points: int) -> float:
    fit = found.fit
    return fit.chi2 - fit.dof + price_of_a_bend(2 * points) * fit.chain.bends + price * len(found.out)


class _Lines:
    """Lines through pairs of places near each other, and what the places cost on them."""

    def __init__(self, places: list[Point], most: float) -> None:
        """``most`` is what a place costs at most, in squares of its accuracy."""
        self.places, self.most = places, most
        at = np.array([place.at for place in places])
        weight = np.array([3.0 / np.trace(place.cov) for place in places])
        first, last = np.triu_indices(len(at), 1)
        near = last - first <= REACH
        first, last = first[near], last[near]
        along = at[last] - at[first]
        size = np.linalg.norm(along, axis=1)
        first, along = first[size > 0], along[size > 0] / size[size > 0, None]
        off = at - at[first, None]
        square = (off**2).sum(axis=2) - np.einsum("lpi,li->lp", off, along) ** 2
        self._each = np.minimum(square * weight, most)
        self._so_far = _running(self._each)
        self._agree_so_far = _running(self._each < most)
        self.costs = self._costs()

    def _costs(self) -> FloatArray:
        """(m, m) what places i to k (inclusive) cost on the best of the lines; infinite for k <= i."""
        count = len(self.places)
        costs = np.full((count, count), np.inf)
        for i in range(count - 1):
            each = self._so_far[:, i + 2 :] - self._so_far[:, i, None]
            agree = self._agree_so_far[:, i + 2 :] - self._agree_so_far[:, i, None]
            # any two agree on a line
            costs[i, i + 1 :] = (each + self.most * (agree < 3)).min(axis=0)
        return costs

    def agreed(self, legs: Legs) -> Flags:
        """(m,) which places of a cut lie on the line that the most of their leg agree on; those left to an arc are
        none of them."""
        on_line = np.zeros(len(legs), dtype=bool)
        for leg in {leg for leg in legs if leg is not None}:
            members = [i for i, at in enumerate(legs) if at == leg]
            span = slice(members[0], members[-1] + 1)
            best = np.argmin(self._each[:, span].sum(axis=1))
            on_line[span] = self._each[best, span] < self.most
        return on_line


def _running(numbers: FloatArray | Flags) -> FloatArray:
    """(l, m + 1) sums of the first 0, 1, ... m of each row."""
    return np.concatenate([np.zeros((len(numbers), 1)), np.cumsum(numbers, axis=1)], axis=1)


def _settled(
    measured: Measured, lines: _Lines, legs: Legs, limits: FormingLimits, kept: Container[Suspect]
) -> SortedPoints | None:
    """The tube of a cut into legs, and what is not on it."""
    on_line = lines.agreed(legs)
    chain = _guess(lines.places, legs, on_line, limits)
    if chain is None:
        return None
    points = [
        replace(point, bend=leg) if point.what == "corner" else point
        for point, leg in zip(measured.points, legs, strict=True)
    ]
    every = all_of(measured.points, measured.readings)
    may_go = np.array([one not in kept for one in every])
    whole = replace(measured, points=tuple(points))
    before, fit = None, None
    for _ in range(ROUNDS):
        off = _off(whole, chain)
        # wide while the tube is still far off
        far = may_go & (off > CUT * max(1.0, float(np.median(off)) / USUAL))
        out = frozenset(one for one, is_far in zip(every, far, strict=True) if is_far)
        if out == before:
            break
        rest = without(whole, out)
        if len(rest.points) < (1 - MOST_PART_OUT) * len(points):
            return None
        evidence = rest.compiled(chain.bends)
        fit = fit_from(chain, evidence, limits, planar=measured.planar, most_iterations=ENOUGH_TO_JUDGE)
        chain, before = fit.chain, out
    return None if fit is None or before is None else SortedPoints(before, fit)


def _guess(places: list[Point], legs: Legs, on_line: Flags, limits: FormingLimits) -> Chain | None:
    """A tube along the lines that most places of each leg lie on; None where a leg has fewer than two on it."""
    chosen = np.flatnonzero(on_line).tolist()
    left = [legs[i] for i in chosen]
    if any(left.count(leg) < 2 for leg in set(legs) - {None}):
        return None
    return chain_from_legs([places[i] for i in chosen], left, limits.radius)


def _off(measured: Measured, chain: Chain) -> FloatArray:
    """(n,) misses of all points and readings by a tube that is taken as given, over their accuracies."""
    evidence = measured.compiled(chain.bends)
    exact = np.zeros((evidence.size, evidence.size))
    of_points = [miss.weighed for miss in evidence.misses(chain, exact)]
    of_readings = readings_off(chain, evidence.reference, measured.readings)
    sds = [reading.sd for reading in measured.readings]
    return np.array([*of_points, *(abs(by) / sd for by, sd in zip(of_readings, sds, strict=True))])
