"""How a tube's measurements are fitted: all of them or some, with the bends told or counted, on any radius."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.job.model import WantedTube
from plumbend.making.buildable import Bench
from plumbend.making.limits import limits_that_hold
from plumbend.shape.copies import PartFit, fit_part
from plumbend.shape.fit import Fit, FormingLimits
from plumbend.shape.guess_readings import bends_of_readings
from plumbend.shape.measured import Measured
from plumbend.shape.structure import fit_counting_bends, fit_measured

PROGRAM_ENDS = ("start", "far")
"""Names of the ends of a tube that no points name."""


def fit_tube(measured: Measured, bends: int | None, limits: FormingLimits, *, thorough: bool = True) -> Fit | None:
    """The fit with the bends told, or as many as the evidence asks for."""
    if bends is not None:
        return fit_measured(measured, bends, limits, thorough=thorough)
    if measured.points or measured.scan is not None:
        counted = fit_counting_bends(measured, limits, thorough=thorough)
        return None if counted is None else counted.fit
    return fit_measured(measured, bends_of_readings(measured.readings), limits)


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


def fit_existing_part(measured: Measured, bends: int | None, radius: float) -> PartFit | None:
    """The existing part with its own radius, which is near to the die's ``radius`` or not."""
    # the die's radius makes any fit impossible where the part's differs: no search before that is mended
    fit = fit_tube(measured, bends, FormingLimits(radius), thorough=False)
    part = None if fit is None else fit_part(fit)
    if part is None or np.isnan(part.radius) or not beyond_chance(part.fit.chi2, part.fit.dof):
        return part
    fit = fit_tube(measured, bends, FormingLimits(part.radius))
    return None if fit is None else fit_part(fit)
