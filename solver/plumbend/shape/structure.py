"""The tube that was measured: its bends told, or counted from the points.

Where they are not told, every count is fitted; the winner has the least sum of squares plus a price for each
bend. An invented bend costs three numbers, but its place is searched for as well, so that it gains far more than
three numbers would (Zhang & Siegmund, Biometrics 63 (2007), on the number of change points): 5 ln N for N residuals invents
none, where the usual 3 ln N invents one in four tubes of a hundred. A real bend of 20 degrees gains
thousands.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from plumbend.shape.chain import layout
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.guess import axis_places
from plumbend.shape.guess_readings import chain_from_readings
from plumbend.shape.measured import Measured
from plumbend.shape.search import best_cut
from plumbend.shape.segments import Segmentation

PRICE = 5.0
"""Price of a bend, in units of ln N."""

LEAST_FOUND_ANGLE = np.radians(1.0)
"""A bend that was not told must turn at least so much, and three doubts."""


@dataclass(frozen=True, slots=True, eq=False)
class Counted:
    """The fit with the number of bends that the points ask for, and the sum of squares of every count tried."""

    fit: Fit
    chi2_by_bends: dict[int, float]


def fit_measured(measured: Measured, bends: int, limits: FormingLimits) -> Fit | None:
    """Fit a tube of ``bends`` bends to what was measured, points in order from the start end.

    Without points the readings of the tube itself are laid out one after the other. Returns None where a leg
    would have fewer than two points.
    """
    if not measured.points:
        start = chain_from_readings(measured.readings, bends, limits.radius, measured.od)
        return fit_from(start, measured.compiled(bends), limits, planar=measured.planar)
    legs = Segmentation(axis_places(measured.points, measured.od)).legs(bends)
    return None if legs is None else best_cut(measured, legs, limits)


def fit_counting_bends(measured: Measured, limits: FormingLimits) -> Counted | None:
    """Fit a tube to points in order whose number of bends was not told; None where even one straight fails."""
    segmentation = Segmentation(axis_places(measured.points, measured.od))
    least = segmentation.least_bends
    fits: dict[int, Fit] = {}
    best, best_price = None, math.inf
    for bends in range(least, segmentation.most_bends + 1):
        legs = segmentation.legs(bends)
        if legs is None:
            continue
        fit = best_cut(measured, legs, limits)
        per_bend = PRICE * math.log(max(fit.minimum.normal.count, 2))
        if bends == least or _bends_are_real(fit):
            fits[bends] = fit
            if fit.chi2 + bends * per_bend < best_price:
                best, best_price = bends, fit.chi2 + bends * per_bend
        if (bends + 1) * per_bend > best_price:
            break  # no sum of squares, not even 0, could make up for one more
    if best is None:
        return None
    return Counted(fits[best], {bends: fit.chi2 for bends, fit in fits.items()})


def _bends_are_real(fit: Fit) -> bool:
    """Whether every bend without a measured corner turns more than a degree and three doubts."""
    angles = layout(fit.chain.bends).angles
    sd = np.sqrt(np.diagonal(fit.doubt.covariance)[angles])
    real = fit.chain.angles > np.maximum(LEAST_FOUND_ANGLE, 3 * sd)
    corners = {point.bend for point in fit.evidence.points if point.what == "corner"}
    return all(bool(ok) or k + 1 in corners for k, ok in enumerate(real))
