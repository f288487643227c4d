"""How a tube's measurements are fitted: all of them or some, with the bends told or counted, on any radius."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.job.model import WantedTube
from plumbend.making.buildable import Bench
from plumbend.making.limits import limits_that_hold
from plumbend.progress import Progress, untold
from plumbend.shape.copies import PartFit, fit_part
from plumbend.shape.fit import Fit, FormingLimits
from plumbend.shape.guess_readings import bends_of_readings
from plumbend.shape.measured import Measured
from plumbend.shape.search import FEW
from plumbend.shape.structure import fit_counting_bends, fit_measured, with_runner_up

if TYPE_CHECKING:  # a tube without a scan does not pay for it
    from plumbend.shape.robust import Sorted

PROGRAM_ENDS = ("start", "far")
"""Names of the ends of a tube that no points name."""


def fit_tube(measured: Measured, bends: int | None, limits: FormingLimits, *, thorough: bool = True) -> Fit | None:
    """The fit with the bends told, or as many as the evidence asks for."""
    if bends is not None:
        return fit_measured(measured, bends, limits, thorough=thorough)
    if measured.points or measured.scan is not None:
        return fit_counting_bends(measured, limits, thorough=thorough)
    return fit_measured(measured, bends_of_readings(measured.readings), limits)


def fit_scanned(
    measured: Measured, bends: int | None, limits: FormingLimits, progress: Progress = untold
) -> Sorted | None:
    """The same for a tube with a scan, of which some places may be off it.

    Places that all lie on a tube of one bend more or less, or of another radius, are on it: then none is left out, and
    the fit does not agree with them.
    """
    from plumbend.shape.robust import FEW_STRAYS, Sorted, fit_sorting, nearly_all_on_it

    def fit_any(part: Measured, *, thorough: bool) -> Fit | None:
        return fit_tube(part, bends, limits, thorough=thorough)

    found = fit_sorting(measured, fit_any, limits, counting=bends is None, progress=progress)
    if found is None or found.part_off <= FEW_STRAYS:
        return found
    assert measured.scan is not None
    few = replace(measured, scan=measured.scan.thinned(FEW))
    part = fit_existing_part(few, bends, limits.radius, thorough=False)
    others = [None if part is None else part.fit]
    if bends is not None:
        others += [fit_tube(few, count, limits, thorough=False) for count in (bends + 1, bends - 1) if count >= 0]
    if any(other is not None and nearly_all_on_it(few, other) for other in others):
        fit = fit_any(measured, thorough=True)
        return None if fit is None else Sorted(measured, fit, np.zeros((0, 3)))
    return found


def sorted_existing(measured: Measured, bends: int | None, radius: float, progress: Progress = untold) -> Sorted | None:
    """The scan of an existing part sorted, its bends being of a radius that is near to the die's or not."""
    from plumbend.shape.robust import fit_sorting  # a tube without a scan does not pay for it

    def fit_any(part: Measured, *, thorough: bool) -> Fit | None:
        found = fit_existing_part(part, bends, radius, thorough=thorough)
        return None if found is None else found.fit

    return fit_sorting(measured, fit_any, FormingLimits(radius), counting=bends is None, progress=progress)


def refitting(
    tube: WantedTube, spoilt: Fit, bench: Bench, *, buildable: bool = False
) -> Callable[[Measured], Fit | None]:
    """How what is left of a tube's measurements is fitted; None for a fit that is not ``buildable`` where asked."""
    # without one of its corners a tube still has the bend there
    has_corners = any(point.what == "corner" for point in tube.points)
    bends = spoilt.chain.bends if tube.bends is None and has_corners else tube.bends

    def refit(rest: Measured) -> Fit | None:
        fit = fit_tube(rest, bends, bench.limits, thorough=False)
        if fit is None or not buildable:
            return fit
        return None if limits_that_hold(fit, bench, PROGRAM_ENDS)[0] else fit

    return refit


def fit_existing_part(measured: Measured, bends: int | None, radius: float, *, thorough: bool = True) -> PartFit | None:
    """The existing part with its own radius, which is near to the die's ``radius`` or not."""
    # the die's radius makes any fit impossible where the part's differs: no search before that is mended
    fit = fit_tube(measured, bends, FormingLimits(radius), thorough=False)
    part = None if fit is None else _part_of(fit)
    if part is None or not thorough or np.isnan(part.radius) or not beyond_chance(part.fit.chi2, part.fit.dof):
        return part
    fit = fit_tube(measured, bends, FormingLimits(part.radius))
    return None if fit is None else _part_of(fit)


def _part_of(fit: Fit) -> PartFit:
    """The part that was fitted on one radius with its own, and so is its runner-up where it has one."""
    part = fit_part(fit)
    if fit.runner_up is None:
        return part
    return replace(part, fit=with_runner_up(part.fit, fit_part(fit.runner_up).fit))
