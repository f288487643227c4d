"""What is said of a tube that must touch, keep clear of or be something."""

from __future__ import annotations

from plumbend.estimate.chances import beyond_chance
from plumbend.fitting import fit_tube
from plumbend.making.buildable import Bench
from plumbend.making.limits import limits_that_hold
from plumbend.notices import Notice
from plumbend.shape.fit import Fit
from plumbend.shape.hands import mirrored_twin, way_taken
from plumbend.shape.keeping import conflict, fit_without_demands, remarks_on_holding, without_demands
from plumbend.shape.measured import Measured
from plumbend.shape.remarks import remarks_on_fit, sides_along_legs
from plumbend.shape.sides import remarks_on_sides
from plumbend.shape.wrong_words import not_seen_along


def remarks_on_held(measured: Measured, fit: Fit, bench: Bench, ends: tuple[str, str]) -> list[Notice] | None:
    """Everything to be said of a ``fit`` that keeps to what it must; None where what was measured disagrees with
    itself, whatever the tube must keep, and is to be searched for what is wrong."""
    if not fit.demands_met:
        return conflict(fit, bench.limits, bench.units)
    free = fit_without_demands(fit, bench.limits)
    if beyond_chance(free.chi2, free.dof):
        # the demands may have led the tube so far off that it does not find back
        again = fit_tube(without_demands(measured), fit.chain.bends, bench.limits)
        free = free if again is None else again
        if beyond_chance(free.chi2, free.dof):
            return None
    refusals, at_limits = limits_that_hold(fit, bench, ends)
    return [
        *refusals,
        *remarks_on_sides(fit, bench.limits),
        *sides_along_legs(fit),
        *remarks_on_holding(fit, free, bench.units),
        *mirrored_twin(fit),
        *way_taken(fit, bench.limits),
        *remarks_on_fit(fit, ends, bench.units),
        *at_limits,
        *not_seen_along(fit),
    ]
