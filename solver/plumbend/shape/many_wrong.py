"""Many wrong points among many: sorted by what most of them agree on, for to try them one by one would not end.

The points are cut into legs that most of them agree on (:mod:`plumbend.shape.agreeing`). What is off the tube that
follows is left out, and the tube fitted to the rest by plain least squares, the cut being made anew until it settles.
"""

from __future__ import annotations

import math
from collections.abc import Container
from dataclasses import replace

import numpy as np
import numpy.typing as npt

from plumbend.estimate.chances import beyond_chance, log_chance
from plumbend.frames import FloatArray
from plumbend.measuring.snooping import log_level_each
from plumbend.records import record
from plumbend.shape.agreeing import AgreedLegs
from plumbend.shape.chain import Chain
from plumbend.shape.disagreement import readings_off
from plumbend.shape.find_wrong import MOST_PART_OUT
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.guess import chain_from_legs
from plumbend.shape.guide import guide_places
from plumbend.shape.invented import price_of_a_wrong_point
from plumbend.shape.measured import Measured
from plumbend.shape.search import ENOUGH_TO_JUDGE
from plumbend.shape.segments import Legs
from plumbend.shape.standing import LEVEL
from plumbend.shape.structure import MOST_FOUND, bends_are_real, fit_counting_bends, fit_measured, price_of_a_bend
from plumbend.shape.suspects import Out, Suspect, all_of, without

MOST_SORTED = 400
"""More points are not sorted: the time grows with their square and more."""
LEAST_KEPT = 0.55
"""With fewer of the points on the tube it is none."""
CUT = 3.5
"""Misses over the accuracy, each number of a point by itself, beyond which a point is left out for the time being."""
USUAL = 0.8
"""The median of such misses where nothing is off."""
ROUNDS = 12
TIMES_AFRESH = 3
COUNTS_TRIED = 3
"""Numbers of bends that are worth a fit where none is told."""


@record(eq=False)
class SortedPoints:
    """Points and readings sorted into those on one tube and those not.

    Attributes:
        measured: all of them, corners with their bends.
        out: not on it.
        fit: the tube fitted to the rest.
    """

    measured: Measured
    out: Out
    fit: Fit

    @property
    def too_many(self) -> bool:
        """Whether so many are off it that it is not sure which tube the rest are of."""
        every = len(self.measured.points) + len(self.measured.readings)
        return len(self.out) > MOST_PART_OUT * every


def sort_points(
    measured: Measured, bends: int | None, limits: FormingLimits, kept: Container[Suspect]
) -> SortedPoints | None:
    """What of the points and readings is not on the tube that most agree on; None where that is no tube.

    Args:
        measured: points in order from the start end, and no scan.
        bends: how many; counted where None.
        limits: of the die.
        kept: never left out.
    """
    places = guide_places(measured)
    if len(measured.points) > MOST_SORTED or len(places) < len(measured.points):
        return None  # what the tube keeps clear of says nothing of where it runs
    price, bend_price = price_of_a_wrong_point(len(places), LEVEL), price_of_a_bend(2 * len(places))
    cuts = AgreedLegs(places, price)
    settle = _Settling(limits, kept)
    found = []
    for count in [bends] if bends is not None else _likely_counts(cuts, bend_price):
        legs = cuts.legs(count)
        if legs is not None:
            guess = chain_from_legs(places, cuts.agreed(legs), limits.radius)
            one = settle(_with_bends(measured, legs), guess)
            if one is not None and (bends is not None or bends_are_real(one.fit)):
                found.append(one)
    if not found:
        return None

    def cost(one: SortedPoints) -> float:
        return one.fit.chi2 - one.fit.dof + bend_price * one.fit.chain.bends + price * len(one.out)

    best = min(found, key=cost)
    for _ in range(TIMES_AFRESH):
        again = _afresh(best, bends, limits)
        other = None if again is None else settle(again.measured, again.fit.chain)
        if other is None or cost(other) >= cost(best) or (bends is None and not bends_are_real(other.fit)):
            break
        settled = other.out == best.out
        best = other
        if settled:
            break
    return best


def _afresh(found: SortedPoints, bends: int | None, limits: FormingLimits) -> SortedPoints | None:
    """The same fitted from a first guess of its own, bends counted as if all that is left had been right; thoroughly
    where that does not agree."""
    rest = without(found.measured, found.out)
    thorough = beyond_chance(found.fit.chi2, found.fit.dof)
    if bends is None:
        fit = fit_counting_bends(rest, limits, thorough=thorough)
    else:
        fit = fit_measured(rest, bends, limits, thorough=thorough)
    if fit is None:
        return None
    of_bend = {point.name: point.bend for point in fit.evidence.points}
    points = tuple(replace(point, bend=of_bend.get(point.name, point.bend)) for point in found.measured.points)
    return SortedPoints(replace(found.measured, points=points), found.out, fit)


def _likely_counts(cuts: AgreedLegs, price: float) -> list[int]:
    """The numbers of bends that are worth a fit, the likeliest first, a bend at its ``price``."""
    counts = range(cuts.least_bends, max(cuts.least_bends, min(cuts.most_bends, MOST_FOUND)) + 1)
    costs = {count: cuts.cost(count) + price * count for count in counts}
    likely = sorted((count for count in counts if np.isfinite(costs[count])), key=costs.__getitem__)
    return likely[:COUNTS_TRIED]


def _with_bends(measured: Measured, legs: Legs) -> Measured:
    """The same with the bend of every corner, which is the leg that it ends."""
    points = tuple(
        replace(point, bend=leg) if point.what == "corner" else point
        for point, leg in zip(measured.points, legs, strict=True)
    )
    return replace(measured, points=points)


class _Settling:
    """Fits to what is on a tube, the cut made anew until it is the same."""

    def __init__(self, limits: FormingLimits, kept: Container[Suspect]) -> None:
        self.limits = limits
        self.kept = kept

    def __call__(self, measured: Measured, chain: Chain) -> SortedPoints | None:
        """From a tube that may still be far off; None where hardly more than half are on one."""
        before, fit = None, None
        for _ in range(ROUNDS):
            off = _off(measured, chain)
            # wide while the tube is still far off
            out = self._beyond(measured, off > CUT * max(1.0, float(np.median(off)) / USUAL))
            if out == before:
                break
            fit = self._without(measured, out, chain)
            if fit is None:
                return None
            chain, before = fit.chain, out
        if fit is None or before is None:
            return None
        # a place far from the rest is missed by more than its accuracy says, for the tube is not known so well there
        out = self._beyond(measured, _beyond_chance(measured, fit)) & before
        if out != before:
            fit = self._without(measured, out, chain)
        return None if fit is None else SortedPoints(measured, out, fit)

    def _beyond(self, measured: Measured, off: npt.NDArray[np.bool_]) -> Out:
        every = all_of(measured.points, measured.readings)
        return frozenset(
            one for one, is_off in zip(every, off.tolist(), strict=True) if is_off and one not in self.kept
        )

    def _without(self, measured: Measured, out: Out, chain: Chain) -> Fit | None:
        rest = without(measured, out)
        if len(rest.points) < LEAST_KEPT * len(measured.points):
            return None
        evidence = rest.compiled(chain.bends)
        return fit_from(chain, evidence, self.limits, planar=measured.planar, most_iterations=ENOUGH_TO_JUDGE)


def _off(measured: Measured, chain: Chain) -> FloatArray:
    """(n,) misses of all points and readings by a tube that is taken as given, over their accuracies."""
    reference = measured.compiled(chain.bends).reference
    of_points = [math.sqrt(square / count) for square, count in _squares(measured, chain, reference)]
    of_readings = readings_off(chain, reference, measured.readings)
    sds = [reading.sd for reading in measured.readings]
    return np.array([*of_points, *(abs(by) / sd for by, sd in zip(of_readings, sds, strict=True))])


def _beyond_chance(measured: Measured, fit: Fit) -> npt.NDArray[np.bool_]:
    """(n,) which points are missed by more than chance allows, by a fit that they had no part in; readings all are."""
    limit = log_level_each(LEVEL, len(measured.points))
    squares = _squares(measured, fit.chain, fit.evidence.reference, fit.doubt.covariance)
    of_points = [log_chance(square, count) < limit for square, count in squares]
    return np.array([*of_points, *(True for _ in measured.readings)])


def _squares(
    measured: Measured, chain: Chain, reference: FloatArray, covariance: FloatArray | None = None
) -> list[tuple[float, int]]:
    """Square of every point's miss over its accuracy, and of how many numbers; also over that of a tube whose
    parameters, stated about a ``reference``, have a ``covariance`` (p, p)."""
    evidence = measured.compiled(chain.bends)
    found: list[tuple[float, int]] = [(0.0, 1)] * len(measured.points)
    for group, rows in zip(evidence.groups, evidence.rows(chain, chain.motion(reference)), strict=True):
        for member, off, ways, moves in zip(group.members, rows.residuals, rows.directions, rows.jacobian, strict=True):
            spread = ways @ measured.points[member].cov @ ways.T
            if covariance is not None:
                spread = spread + moves @ covariance @ moves.T
            found[member] = float(off @ np.linalg.solve(spread, off)), len(off)
    return found
