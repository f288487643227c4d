"""What is said of places on the body and of demands: which hold the tube, what that costs, which exclude each other."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.estimate.conflict import smallest_conflict
from plumbend.notices import Notice, listed
from plumbend.records import record
from plumbend.shape.chain import POSE, Chain, layout
from plumbend.shape.evidence import Evidence
from plumbend.shape.fit import Fit, FormingLimits, fit_free, fit_from, fit_kept, reached
from plumbend.shape.held import freed, with_only
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.sides import pushing
from plumbend.units import Units, length_with_unit

TRIED_ABOUT = 12
"""Tubes about the fitted one from which it is tried, too, whether the demands can be met;"""
TRIED_MOVED, TRIED_TURNED = 50.0, 0.4
"""how far they are off it, in mm and radians."""


def without_demands(measured: Measured) -> Measured:
    """What was measured alone: what is to be met exactly is measured, and nothing is kept."""
    weighed = tuple(demand for demand in measured.demands if demand.sds is not None)
    return replace(measured, points=tuple(map(freed, measured.points)), demands=weighed)


def fit_without_demands(fit: Fit, limits: FormingLimits) -> Fit:
    """The fit to what was measured alone, begun where the demands have the tube."""
    return fit_free(fit.chain, with_only(fit.evidence, [], []), limits, planar=fit.planar)


def kept_at_a_cost(fit: Fit, free: Fit) -> bool:
    """Whether what must be kept moves the tube farther from what was measured than the accuracies bear."""
    moved = bool(fit.doubt.rank) and beyond_chance(fit.chi2 - free.chi2, fit.doubt.rank)
    return moved and beyond_chance(fit.chi2, fit.dof)


def remarks_on_holding(fit: Fit, free: Fit, limits: FormingLimits, units: Units) -> list[Notice]:
    """Notes on what holds the tube; where it moves the tube farther than the accuracies bear, a caution, or a refusal
    where it cannot be bent there."""
    notices = [_held(fit.evidence.points[i], fit, units) for i in pushing(fit)]
    return [*notices, _cost(fit, free, limits, units)] if kept_at_a_cost(fit, free) else notices


def _cost(fit: Fit, free: Fit, limits: FormingLimits, units: Units) -> Notice:
    points = fit.evidence.points
    misses = [(abs(miss.size), point.name) for miss, point in zip(fit.misses(), points, strict=True) if miss.weighed]
    moved = "no measured place shows how far"
    if misses:
        worst, name = max(misses)
        moved = f"{name} is missed by {length_with_unit(worst, units, parts=32, decimals=1)}"
    said = (
        "What the tube must touch, keep clear of or be moves it farther from what was measured than the accuracies "
        f"bear: {moved}"
    )
    borne = fit.converged and not fit.at_limit.any()
    said += "." if borne else ", and there the die cannot bend it."
    everything = _everything(fit.evidence, units)
    spared = [one.said for one in everything if _agrees([o for o in everything if o != one], fit, free, limits)]
    if spared:
        said += f" It all agrees without {listed(spared, 'or')}."
    if borne:
        return Notice("kept-at-a-cost", "caution", f"{said} Check that it may lie there.")
    ways = "Ways out: give it up or loosen it, or measure again what speaks against it."
    return Notice("kept-at-a-cost", "refusal", f"{said} {ways}")


def _agrees(some: Sequence[_Kept], fit: Fit, free: Fit, limits: FormingLimits) -> bool:
    """Whether some of what must be kept goes with what was measured."""
    rest = fit_from(free.chain, _with_only(fit.evidence, some), limits, planar=fit.planar)
    return rest.demands_met and rest.converged and not beyond_chance(rest.chi2, rest.dof)


def called(point: Point) -> str:
    """A point by its name, and by what stands there where that is noted."""
    return f"{point.name} ({point.standoff.called})" if point.standoff.called else point.name


def _held(point: Point, fit: Fit, units: Units) -> Notice:
    off = point.standoff
    if point.what == "clear":
        room = f"{length_with_unit(off.gap, units)} from it" if off.gap else "at it"
        what = f"held off {called(point)}"
        return Notice(f"held-off-{point.name}", "note", f"The tube is {what}: it lies {room}, as near as it may.")
    assert off.within is not None
    miss = next(m.size for m, one in zip(fit.misses(), fit.evidence.points, strict=True) if one is point)
    way = "too far off" if miss > 0 else "too near"
    within = length_with_unit(off.within, units, parts=32)
    said = f"The tube is held at {called(point)}: it lies {within} {way}, the most that it may."
    return Notice(f"held-within-{point.name}", "note", said)


@record
class _Kept:
    """Something that is to be kept: a point, a demand, or the die's own limits where neither is given."""

    said: str
    point: int | None = None
    demand: int | None = None


def _everything(evidence: Evidence, units: Units) -> list[_Kept]:
    """All places and demands that must be kept."""
    return [
        *(_Kept(_wish(point, units), point=i) for i, point in enumerate(evidence.points) if point.limits),
        *(_Kept(demand.name, demand=i) for i, demand in enumerate(evidence.demands) if demand.sds is None),
    ]


def _with_only(evidence: Evidence, some: Sequence[_Kept]) -> Evidence:
    """Evidence of which only some places and demands must be kept."""
    points = [one.point for one in some if one.point is not None]
    demands = [one.demand for one in some if one.demand is not None]
    return with_only(evidence, points, demands)


def brought_to_all(fit: Fit, limits: FormingLimits) -> Fit:
    """The fit, or where it does not keep what it must, one begun where that is kept: sought from where nothing held
    the tube, and from tubes about it."""
    free = fit_without_demands(fit, FormingLimits(limits.radius, -np.inf))
    for start in (free.chain, *_about(free.chain)):
        there = reached(start, fit.evidence, limits, planar=fit.planar)
        if there.met:
            found = fit_kept(there.state, fit.evidence, limits, planar=fit.planar)
            if found.demands_met and found.converged:
                return replace(found, runner_up=fit.runner_up)
    return fit


def _about(chain: Chain) -> Iterator[Chain]:
    """Tubes some way off a tube, always the same."""
    rng, where = np.random.default_rng(0), layout(chain.bends)
    far = np.full(where.size, TRIED_TURNED)
    far[: POSE // 2] = far[where.straights] = TRIED_MOVED
    for _ in range(TRIED_ABOUT):
        yield chain.moved(far * rng.normal(size=where.size), chain.origin)


def conflict(fit: Fit, limits: FormingLimits, units: Units) -> list[Notice]:
    """Refusal of demands that exclude each other, with the fewest that do."""
    evidence = fit.evidence
    no_die = FormingLimits(limits.radius, -np.inf)
    free = fit_without_demands(fit, no_die)
    of_die = _Kept(f"bends as the die can make them, with {_grip(limits, units)} between them")
    everything = [of_die, *_everything(evidence, units)]
    # from where all of it was missed by least the tube may go on another way than from where nothing held it
    starts = [free.chain, fit.chain]

    def where_met(some: Sequence[_Kept], starts: Iterable[Chain]) -> Chain | None:
        only = _with_only(evidence, some)
        ways = (reached(start, only, limits if of_die in some else no_die, planar=fit.planar) for start in starts)
        return next((there.state for there in ways if there.met), None)

    named = everything
    for _ in everything:
        if where_met(everything, starts) is not None:
            break  # all can be met, though what was measured then leads nowhere: no fewer exclude each other
        named = smallest_conflict(everything, lambda some: where_met(some, starts) is not None)
        other = where_met(named, _about(free.chain))
        if other is None:
            break
        starts.append(other)
    wishes = [one.said for one in named]
    if len(wishes) == 1:
        said = f"This cannot be had with this number of bends: {wishes[0]}."
    else:
        said = f"These cannot be had together: {listed(wishes)}."
    ways = "Ways out: give one of them up or loosen it, or use more bends."
    return [Notice("demands-conflict", "refusal", f"{said} {ways}")]


def _grip(limits: FormingLimits, units: Units) -> str:
    return length_with_unit(max(limits.least_straight, 0.0), units)


def _wish(point: Point, units: Units) -> str:
    off = point.standoff
    gap = f" with a gap of {length_with_unit(off.gap, units)}" if off.gap else ""
    if point.what == "clear":
        return f"{called(point)} kept clear of{gap}"
    within = "exactly" if off.within is None else f"within {length_with_unit(off.within, units, parts=32)}"
    return f"{called(point)} touched{gap} {within}"
