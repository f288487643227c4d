"""The tube that was measured: its bends told, or counted from the points.

Where they are not told, every count is fitted; the winner has the least sum of squares plus a price for each
bend. An invented bend costs three numbers, but its place is searched for as well, so that it gains far more than
three numbers would (Zhang & Siegmund, Biometrics 63 (2007), on the number of change points): 5 ln N for N
residuals invents none, where the usual 3 ln N invents one in four tubes of a hundred. A real bend of 20 degrees
gains thousands.

A count that cannot keep what the tube must keep is none: a body line touched within so much is followed with the fewest
bends that keep within it. Within is no scatter, so what it leaves open buys no bend.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import product

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.shape.chain import layout
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.guess_readings import bends_of_readings, chain_from_readings
from plumbend.shape.measured import Measured
from plumbend.shape.search import HOPELESS, Search
from plumbend.shape.tube_readings import BendRotation

PRICE = 5.0
"""Price of a bend, in units of ln N."""

SLIGHT = np.radians(10.0)
NEARLY = 1 / 3
"""Part of a bend's price by which another number of bends may cost more and still do nearly as well."""

MOST_FOUND = 12
"""Bends that are looked for where none are told."""

MOST_OPEN_TURNS = 5
"""Turns that are tried both ways in a planar tube given by readings alone."""

LEAST_FOUND_ANGLE = np.radians(1.0)
"""A bend that was not told must turn at least so much, and three doubts."""


def fit_measured(measured: Measured, bends: int, limits: FormingLimits, *, thorough: bool = True) -> Fit | None:
    """Fit a tube of ``bends`` bends to what was measured, points in order from the start end.

    Without points or scan the readings of the tube itself are laid out one after the other. A fit that is
    impossible for the accuracies is searched for ``thorough``ly. Returns None where a leg would have fewer than
    two places.
    """
    if not measured.points and measured.scan is None:
        return _fit_readings(measured, bends, limits)
    search = Search(measured, limits)
    fit = search.thorough(bends) if thorough else search.plain(bends)
    return None if fit is None else _from_either_end(search.finished(fit, thorough=thorough), limits)


def _fit_readings(measured: Measured, bends: int, limits: FormingLimits) -> Fit:
    """Fit to readings of the tube itself; in one plane every turn that was not read may be none or half a turn."""
    start = chain_from_readings(measured.readings, bends, limits.radius, measured.od)
    evidence = measured.compiled(bends)
    read = {reading.bend for reading in measured.readings if isinstance(reading, BendRotation)}
    open_turns = [k for k in range(1, bends) if k + 1 not in read] if measured.planar else []
    fits = []
    for turned in product((0.0, np.pi), repeat=min(len(open_turns), MOST_OPEN_TURNS)):
        rotations = start.rotations.copy()
        rotations[open_turns[: len(turned)]] = turned
        fits.append(fit_from(replace(start, rotations=rotations), evidence, limits, planar=measured.planar))
    least = min(fit.chi2 for fit in fits)
    # of those that chance cannot tell apart the first goes the same way at most of its bends
    return next(fit for fit in fits if not beyond_chance(fit.chi2 - least, 1))


def fit_counting_bends(measured: Measured, limits: FormingLimits, *, thorough: bool = True) -> Fit | None:
    """Fit a tube to points in order, or to a scan, whose number of bends was not told.

    ``thorough`` as in :func:`fit_measured`. Returns None where even one straight fails.
    """
    search = Search(measured, limits)
    fits: dict[int, Fit] = {}
    unmet: list[Fit] = []
    demanded = max((demand.bends for demand in measured.demands), default=0)
    least = max(search.segmentation.least_bends, bends_of_readings(measured.readings), demanded)
    for bends in range(least, max(least, min(search.segmentation.most_bends, MOST_FOUND)) + 1):
        fit = search.plain(bends)
        if fit is not None and not fit.demands_met and thorough and fit.chi2 < HOPELESS * fit.minimum.normal.count:
            fit = search.thorough(bends)  # another cut may keep what this one cannot
        if fit is not None and not fit.demands_met:
            unmet.append(fit)
        elif fit is not None and (bends == least or bends_are_real(fit) or (unmet and not fits)):
            fits[bends] = fit
        price = _price(fits) if fits else 0.0
        if fits and (bends + 1 - NEARLY) * price > min(f.chi2 + f.chain.bends * price for f in fits.values()):
            break  # no sum of squares, not even 0, could make one more do nearly as well
    if not fits:
        return min(unmet, key=_left_unmet) if unmet else None
    best = _cheapest(fits)
    # a false optimum at the right count would lose to an invented bend
    doubtful = (best, best - 1) if _may_be_invented(fits[best]) else (best,)
    for bends in doubtful if thorough else ():
        fit = fits.get(bends)
        if fit is not None and beyond_chance(fit.chi2, fit.dof):
            found = search.thorough(bends)
            if found is not None and (bends == least or bends_are_real(found)):
                fits[bends] = found
    best = _cheapest(fits)
    found = _from_either_end(search.finished(fits[best], thorough=thorough), limits)
    runner_up = _runner_up(fits)
    if runner_up is not None:
        # carried on to their ends, the two may lie farther apart
        found = with_runner_up(found, search.finished(runner_up, thorough=thorough))
    return found


def with_runner_up(found: Fit, other: Fit) -> Fit:
    """The fit with another number of bends told as its runner-up, where that does nearly as well."""
    close = _runner_up({found.chain.bends: found, other.chain.bends: other}) is other
    return replace(found, runner_up=other) if close else found


def _from_either_end(fit: Fit, limits: FormingLimits) -> Fit:
    """The fit, or that of the tube named from its other end where a scan alone lets the readings choose."""
    evidence = fit.evidence
    if evidence.scan is None or evidence.points or not evidence.readings:
        return fit
    other = fit_from(fit.chain.reversed(), evidence, limits, planar=fit.planar)
    return other if other.chi2 < fit.chi2 else fit


def _left_unmet(fit: Fit) -> float:
    return 0.0 if fit.held is None else fit.held.missed


def _may_be_invented(fit: Fit) -> bool:
    """Whether some bend is slight, or two follow each other so closely that they may be one."""
    straights = fit.chain.straights[1:-1]
    return bool((fit.chain.angles < SLIGHT).any() or (straights < fit.chain.radius / 2).any())


def _per_bend(fits: dict[int, Fit]) -> float:
    """What one more bend must gain in the sum of squares.

    With many points small faults of the model, ovality or sag, would buy bends: what none of the counts
    explains is taken as their scatter.
    """
    scatter = min(fit.chi2 / max(fit.dof, 1) for fit in fits.values())
    return _price(fits) * max(1.0, scatter)


def _price(fits: dict[int, Fit]) -> float:
    return price_of_a_bend(max(fit.minimum.normal.count for fit in fits.values()))


def price_of_a_bend(count: int) -> float:
    """What one more bend must gain in the sum of ``count`` squares."""
    return PRICE * math.log(count)


def _prices(fits: dict[int, Fit]) -> dict[int, float]:
    return {bends: fit.chi2 + bends * _per_bend(fits) for bends, fit in fits.items()}


def _cheapest(fits: dict[int, Fit]) -> int:
    prices = _prices(fits)
    return min(prices, key=prices.__getitem__)


def _runner_up(fits: dict[int, Fit]) -> Fit | None:
    """The fit with the next best number of bends; None where it does not do nearly as well."""
    prices, most, best = _prices(fits), NEARLY * _per_bend(fits), _cheapest(fits)
    possible = not beyond_chance(fits[best].chi2, fits[best].dof)
    close = [
        bends
        for bends, fit in fits.items()
        if bends != best and prices[bends] - prices[best] < most and not (possible and beyond_chance(fit.chi2, fit.dof))
    ]
    return fits[min(close, key=prices.__getitem__)] if close else None


def bends_are_real(fit: Fit) -> bool:
    """Whether every bend without a measured corner turns more than a degree and three doubts."""
    angles = layout(fit.chain.bends).angles
    sd = np.sqrt(np.diagonal(fit.doubt.covariance)[angles])
    sd[fit.doubt.loose[angles]] = np.inf
    real = fit.chain.angles > np.maximum(LEAST_FOUND_ANGLE, 3 * sd)
    corners = {point.bend for point in fit.evidence.points if point.what == "corner"}
    return all(bool(ok) or k + 1 in corners for k, ok in enumerate(real))
