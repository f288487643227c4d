"""What is said of a tube that must touch, keep clear of or be something."""

from __future__ import annotations

from dataclasses import replace

from plumbend.estimate.chances import beyond_chance
from plumbend.fitting import fit_tube
from plumbend.making.buildable import Bench
from plumbend.making.limits import limits_that_hold, off_its_limits
from plumbend.notices import Notice
from plumbend.shape.fit import Fit, FormingLimits, fit_free, fit_from, fit_kept
from plumbend.shape.hands import mirrored_twin, way_taken
from plumbend.shape.held import wrong_sides
from plumbend.shape.keeping import (
    brought_to_all,
    conflict,
    fit_without_demands,
    kept_at_a_cost,
    remarks_on_holding,
    without_demands,
)
from plumbend.shape.measured import Measured
from plumbend.shape.remarks import remarks_on_fit, sides_along_legs
from plumbend.shape.search import ENOUGH_TO_JUDGE
from plumbend.shape.sides import remarks_on_sides
from plumbend.shape.wrong_words import not_seen_along


def told_sides_apart(measured: Measured, fit: Fit, bends: int | None, limits: FormingLimits) -> Fit:
    """The fit, or where it is impossible and passes places on another side than told, one that no told side led astray
    and that agrees."""
    wrong = {fit.evidence.points[i].name for i in wrong_sides(fit.chain, fit.evidence)}
    if not wrong or not beyond_chance(fit.chi2, fit.dof):
        return fit
    untold = tuple(
        replace(point, standoff=replace(point.standoff, tube_is=None)) if point.name in wrong else point
        for point in measured.points
    )
    free = fit_tube(replace(measured, points=untold), bends, limits)
    if free is None or beyond_chance(free.chi2, free.dof):
        return fit
    told = {point.name: point.standoff for point in measured.points}
    points = [replace(point, standoff=told[point.name]) for point in free.evidence.points]
    evidence = measured.compiled(free.chain.bends, points)
    keep = fit_kept if evidence.is_held else fit_free
    return keep(free.chain, evidence, limits, planar=measured.planar)


def fit_and_remarks(
    measured: Measured, fit: Fit, bench: Bench, ends: tuple[str, str]
) -> tuple[Fit, list[Notice]] | None:
    """A fit that keeps to what it must, brought off limits of the die where it can be, and everything to be said of it;
    None where what was measured disagrees with itself, whatever the tube must keep, and is to be searched for what is
    wrong."""
    if not fit.demands_met:
        fit = off_its_limits(fit, bench.limits)
    if not fit.demands_met:
        fit = _met_from_elsewhere(measured, fit, bench.limits)
    if not fit.demands_met:
        fit = brought_to_all(fit, bench.limits)
    if not fit.demands_met:
        return fit, conflict(fit, bench.limits, bench.units)
    free = fit_without_demands(fit, bench.limits)
    if beyond_chance(free.chi2, free.dof):
        # the demands may have led the tube so far off that it does not find back
        again = fit_tube(without_demands(measured), fit.chain.bends, bench.limits)
        free = free if again is None else again
        if beyond_chance(free.chi2, free.dof):
            return None
    if kept_at_a_cost(fit, free):
        # nor may it have found the best place that they leave: from where nothing holds it it may
        again = fit_kept(free.chain, fit.evidence, bench.limits, planar=fit.planar, most_iterations=ENOUGH_TO_JUDGE)
        fit = again if again.converged and again.chi2 < fit.chi2 else fit
    refusals: list[Notice] = []
    at_limits: list[Notice] = []
    if not kept_at_a_cost(fit, free):
        fit = off_its_limits(fit, bench.limits)
        refusals, at_limits = limits_that_hold(fit, bench, ends)
    holding = remarks_on_holding(fit, free, bench.limits, bench.units)
    on_fit = remarks_on_fit(fit, ends, bench.units)
    if any(notice.level == "refusal" for notice in holding):
        # where the tube is led to a limit, it may well not settle, or leave a number open
        on_fit = []
    return fit, [
        *refusals,
        *remarks_on_sides(fit, bench.limits),
        *sides_along_legs(fit),
        *holding,
        *mirrored_twin(fit),
        *way_taken(fit, bench.limits),
        *on_fit,
        *at_limits,
        *not_seen_along(fit),
    ]


def _met_from_elsewhere(measured: Measured, fit: Fit, limits: FormingLimits) -> Fit:
    """The fit, or the best that meets all demands: a search gives up after a few steps what only looks hopeless, and
    demands may lead it far off.

    It is carried on from where it was left, and begun afresh from the tube that is found without them: drawn over to
    them first, and at once.
    """
    found = [fit_kept(fit.chain, fit.evidence, limits, planar=fit.planar)]
    free = fit_tube(without_demands(measured), fit.chain.bends, limits)
    if free is not None:
        found += [begin(free.chain, fit.evidence, limits, planar=fit.planar) for begin in (fit_from, fit_kept)]
    met = [again for again in found if again.demands_met]
    return min(met, key=lambda again: again.chi2, default=fit)
