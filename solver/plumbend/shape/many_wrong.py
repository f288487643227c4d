"""Many wrong points among many: sorted by what most of them agree on, for to try them one by one would not end.

The points are cut into legs that most of them agree on (:mod:`plumbend.shape.agreeing`). What is off the tube that
follows is left out, and the tube fitted to the rest by plain least squares, the cut being made anew until it settles.
"""

from __future__ import annotations

from collections.abc import Container
from dataclasses import replace

import numpy as np

from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.agreeing import AgreedLegs
from plumbend.shape.chain import Chain
from plumbend.shape.disagreement import readings_off
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.guess import chain_from_legs
from plumbend.shape.guide import guide_places
from plumbend.shape.invented import price_of_a_wrong_point
from plumbend.shape.measured import Measured
from plumbend.shape.search import ENOUGH_TO_JUDGE
from plumbend.shape.segments import Legs
from plumbend.shape.standing import LEVEL
from plumbend.shape.structure import MOST_FOUND, bends_are_real, fit_counting_bends, price_of_a_bend
from plumbend.shape.suspects import Out, Suspect, all_of, without

MOST_SORTED = 400
"""More points are not sorted: the time grows with their square and more."""
MOST_PART_OUT = 0.35
"""With more of the points off the tube it is not sure which tube they are of."""
CUT = 3.5
"""Misses over the accuracy, each number of a point by itself, beyond which a point is left out for the time being."""
USUAL = 0.8
"""The median of such misses where nothing is off."""
ROUNDS = 12
COUNTS_TRIED = 3
"""Numbers of bends that are worth a fit where none is told."""


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
    """What of the points and readings is not on the tube that most agree on; None where that is no tube.

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
    cuts = AgreedLegs(places, price)
    found = []
    for count in [bends] if bends is not None else _likely_counts(cuts, price_of_a_bend(2 * len(places))):
        legs = cuts.legs(count)
        one = None if legs is None else _settled(measured, cuts, legs, limits, kept)
        if one is not None and (bends is not None or bends_are_real(one.fit)):
            found.append(one)
    if not found:
        return None

    def cost(one: SortedPoints) -> float:
        bought = price_of_a_bend(2 * len(places)) * one.fit.chain.bends + price * len(one.out)
        return one.fit.chi2 - one.fit.dof + bought

    best = min(found, key=cost)
    if bends is not None:
        return best
    # as points that were all right would have been counted
    counted = fit_counting_bends(without(measured, best.out), limits, thorough=False)
    return best if counted is None else SortedPoints(best.out, counted.fit)


def _likely_counts(cuts: AgreedLegs, price: float) -> list[int]:
    """The numbers of bends that are worth a fit, the likeliest first, a bend at its ``price``."""
    counts = range(cuts.least_bends, max(cuts.least_bends, min(cuts.most_bends, MOST_FOUND)) + 1)
    costs = {count: cuts.cost(count) + price * count for count in counts}
    likely = sorted((count for count in counts if np.isfinite(costs[count])), key=costs.__getitem__)
    return likely[:COUNTS_TRIED]


def _settled(
    measured: Measured, cuts: AgreedLegs, legs: Legs, limits: FormingLimits, kept: Container[Suspect]
) -> SortedPoints | None:
    """The tube of a cut into legs, and what is not on it; None where that is too many."""
    points = tuple(
        replace(point, bend=leg) if point.what == "corner" else point
        for point, leg in zip(measured.points, legs, strict=True)
    )
    whole = replace(measured, points=points)
    every = all_of(points, measured.readings)
    may_go = np.array([one not in kept for one in every])
    chain = chain_from_legs(cuts.points, cuts.agreed(legs), limits.radius)
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


def _off(measured: Measured, chain: Chain) -> FloatArray:
    """(n,) misses of all points and readings by a tube that is taken as given, over their accuracies."""
    evidence = measured.compiled(chain.bends)
    exact = np.zeros((evidence.size, evidence.size))
    of_points = [miss.weighed for miss in evidence.misses(chain, exact)]
    of_readings = readings_off(chain, evidence.reference, measured.readings)
    sds = [reading.sd for reading in measured.readings]
    return np.array([*of_points, *(abs(by) / sd for by, sd in zip(of_readings, sds, strict=True))])
