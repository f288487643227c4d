"""How a fit agrees with everything that was measured, with what was left out of it as well."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.job.results import FitReport, PointMiss, ReadingMiss, ScanReport
from plumbend.shape.disagreement import readings_off, worst_of
from plumbend.shape.evidence import Miss
from plumbend.shape.fit import Fit
from plumbend.shape.measured import Measured
from plumbend.shape.suspects import Found, Out, Suspect


def report_on(measured: Measured, fit: Fit, found: Found | None, dropped: int = 0) -> FitReport:
    """How the fit agrees with everything measured, with what was left out of it as well.

    Args:
        measured: all of it, but for the places of the scan that are not on the tube.
        fit: the tube.
        found: the points and readings that were left out.
        dropped: how many places of the scan were.
    """
    out = frozenset() if found is None else found.out
    misses = _point_misses(measured, fit, out)
    off = readings_off(fit.chain, fit.evidence.reference, measured.readings)
    worst = worst_of(misses, measured.readings, off)
    return FitReport(
        fit.chi2,
        fit.dof,
        tuple(
            PointMiss(point.name, point.what, miss.size, miss.doubt)
            if (suspect := Suspect(i)) not in out
            else PointMiss(point.name, point.what, miss.size, None, True, found.misread(suspect) if found else None)
            for i, (point, miss) in enumerate(zip(measured.points, misses, strict=True))
        ),
        None if worst is None or worst.is_reading else worst.index,
        tuple(
            ReadingMiss(reading.name, by, reading.is_angle, Suspect(i, is_reading=True) in out)
            for i, (reading, by) in enumerate(zip(measured.readings, off, strict=True))
        ),
        _scan_report(fit, dropped),
        worst.index if worst is not None and worst.is_reading else None,
    )


def _point_misses(measured: Measured, fit: Fit, out: Out) -> list[Miss]:
    bend_of = {point.name: point.bend for point in fit.evidence.points}
    usable = [bool(np.isfinite(corner).all()) for corner in fit.chain.corners()]
    points = [
        # a corner that was left out, or lies too far off, has no bend to be held to: how far the tube passes from
        # it is all there is to say
        replace(point, what="centre", bend=None)
        if point.what == "corner" and (Suspect(i) in out or not usable[bend_of.get(point.name) or 0])
        else replace(point, bend=bend_of.get(point.name, point.bend))
        for i, point in enumerate(measured.points)
    ]
    misses = measured.compiled(fit.chain.bends, points).misses(fit.chain, fit.doubt.covariance, fit.answer)
    return [replace(miss, doubt=miss.doubt * fit.widening) for miss in misses]


def _scan_report(fit: Fit, dropped: int) -> ScanReport | None:
    if fit.evidence.scan is None:
        return None
    misses = fit.evidence.scan.misses(fit.chain)
    return ScanReport(
        misses.size, dropped, float(np.sqrt(np.mean(misses**2))), float(misses[np.argmax(np.abs(misses))])
    )
