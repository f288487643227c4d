"""The whole way: a job's points to tubes, with everything that must be said about them."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.job.model import Job, WantedTube
from plumbend.job.results import FitReport, PartRadius, PointMiss, ReadingMiss, Result, ScanReport, TubeResult
from plumbend.making.buildable import (
    Bench,
    crosses_itself,
    grip_guessed,
    no_length,
    not_checked,
    over_limits,
    wrong_die,
)
from plumbend.making.copying import copied
from plumbend.making.limits import impossible_without_limits, limits_that_hold, nearest_buildable
from plumbend.notices import Notice
from plumbend.shape.certainty import Certainty, certainty_of
from plumbend.shape.chain import Chain
from plumbend.shape.copies import PartFit, fit_part
from plumbend.shape.fit import Fit, FormingLimits
from plumbend.shape.guess_readings import bends_of_readings
from plumbend.shape.measured import Measured
from plumbend.shape.program import Program
from plumbend.shape.remarks import (
    bent_without,
    corners_too_far,
    mirrored_twin,
    one_is_wrong,
    remarks_on_fit,
    worst_point,
)
from plumbend.shape.structure import fit_counting_bends, fit_measured
from plumbend.shape.suspects import Suspects, find_suspects
from plumbend.units import Units

PROGRAM_ENDS = ("start", "far")
"""Names of the ends of a tube that no points name."""


def solve(job: Job, units: Units | None = None) -> Result:
    """Fit every tube of a job to its points and judge whether its die can bend it.

    Each tube is solved by itself: one that fails leaves the others' results in place.

    Args:
        job: as read by :func:`plumbend.read_job`.
        units: what the notices are written in; the job's own where None.
    """
    return Result(
        job.title, tuple(_solve_tube(tube, Bench(job.tubing, tube.die, units or job.units)) for tube in job.tubes)
    )


def _solve_tube(tube: WantedTube, bench: Bench) -> TubeResult:
    if tube.program is not None:
        return _from_program(tube, tube.program, bench)
    ends = (tube.points[0].name, tube.points[-1].name) if tube.points else PROGRAM_ENDS
    measured = Measured(bench.tubing.od, tube.points, tube.readings, tube.joint, tube.planar, tube.scan)
    if tube.copied:
        part = _part(measured, tube.bends, bench.die.radius)
        if part is None:
            return _no_tube(tube, bench, ends)
        copy, refusals, notes = copied(part, bench, ends)
        remarks = [*refusals, *remarks_on_fit(part.fit, ends, bench.units), *notes]
        return _solved(tube, bench, ends, copy, _report(measured, part.fit, ()), remarks, part)
    fit = _fit(measured, tube.bends, bench.limits)
    if fit is None:
        return _no_tube(tube, bench, ends)
    refusals, held = limits_that_hold(fit, bench, ends)
    disagree = impossible_without_limits(fit)
    # without one of its corners a tube still has the bend there
    has_corners = any(point.what == "corner" for point in tube.points)
    bends = fit.chain.bends if tube.bends is None and has_corners else tube.bends
    suspects = _suspects(measured, bends, bench) if refusals or disagree else None
    left_out: tuple[int, ...] = ()
    blamed: list[Notice] = []
    if suspects is not None and disagree:
        fit, left_out = suspects.fit, suspects.indices[:1]
        refusals, held = limits_that_hold(fit, bench, ends)
        blamed = one_is_wrong(suspects, measured.points)
    elif suspects is not None:
        blamed = bent_without(suspects, measured.points)
    remarks = [
        *refusals,
        *mirrored_twin(fit),
        *blamed,
        *remarks_on_fit(fit, ends, bench.units, limited=bool(refusals)),
        *held,
    ]
    return _solved(tube, bench, ends, fit, _report(measured, fit, left_out), remarks)


def _solved(
    tube: WantedTube,
    bench: Bench,
    ends: tuple[str, str],
    made: Fit,
    report: FitReport,
    remarks: list[Notice],
    part: PartFit | None = None,
) -> TubeResult:
    """The result for a tube as it is to be made, with the remarks on how it was found."""
    if all(notice.level != "refusal" for notice in remarks):
        # whatever the fit made of its limits, what leaves is judged by itself
        remarks = [*over_limits(made.chain.program, bench, ends), *remarks]
    notices = [
        *wrong_die(bench),
        *no_length(made.chain, bench),
        *corners_too_far(made),
        *crosses_itself(made.chain, bench, ends),
        *remarks,
        *grip_guessed(bench, made.chain.bends),
        *not_checked(bench),
    ]
    notices.sort(key=lambda notice: notice.level != "refusal")
    return _result(tube, bench, ends, made.chain, report, notices, certainty_of(made), part)


def _suspects(measured: Measured, bends: int | None, bench: Bench) -> Suspects | None:
    """Points without one of which the rest agree, and can be bent; None where leaving one out is no help."""
    if len(measured.points) < 2 or measured.scan is not None or measured.joint is not None:
        return None
    return find_suspects(measured, lambda rest: _fit(rest, bends, bench.limits, thorough=False))


def _report(measured: Measured, fit: Fit, left_out: tuple[int, ...]) -> FitReport:
    """How the fit agrees with everything measured, the points that were left out of it as well."""
    bend_of = {point.name: point.bend for point in fit.evidence.points}
    usable = [bool(np.isfinite(corner).all()) for corner in fit.chain.corners()]
    points = [
        # a corner that was left out, or lies too far off, has no bend to be held to: how far the tube passes from
        # it is all there is to say
        replace(point, what="centre", bend=None)
        if point.what == "corner" and (i in left_out or not usable[bend_of.get(point.name) or 0])
        else replace(point, bend=bend_of.get(point.name, point.bend))
        for i, point in enumerate(measured.points)
    ]
    misses = measured.compiled(fit.chain.bends, points).misses(fit.chain, fit.doubt.covariance)
    said = tuple(
        PointMiss(
            measured.points[i].name,
            measured.points[i].what,
            miss.size,
            None if i in left_out else miss.doubt,
            i in left_out,
        )
        for i, miss in enumerate(misses)
    )
    return FitReport(fit.chi2, fit.dof, said, worst_point(misses), _reading_misses(fit), _scan_report(fit))


def _scan_report(fit: Fit) -> ScanReport | None:
    if fit.evidence.scan is None:
        return None
    misses = fit.evidence.scan.misses(fit.chain)
    return ScanReport(misses.size, 0, float(np.sqrt(np.mean(misses**2))), float(misses[np.argmax(np.abs(misses))]))


def _part(measured: Measured, bends: int | None, radius: float) -> PartFit | None:
    """The existing part with its own radius, which is near to the die's ``radius`` or not."""
    # the die's radius makes any fit impossible where the part's differs: no search before that is mended
    fit = _fit(measured, bends, FormingLimits(radius), thorough=False)
    part = None if fit is None else fit_part(fit)
    if part is None or np.isnan(part.radius) or not beyond_chance(part.fit.chi2, part.fit.dof):
        return part
    fit = _fit(measured, bends, FormingLimits(part.radius))
    return None if fit is None else fit_part(fit)


def _fit(measured: Measured, bends: int | None, limits: FormingLimits, *, thorough: bool = True) -> Fit | None:
    """The fit with the bends told, or as many as the evidence asks for."""
    if bends is not None:
        return fit_measured(measured, bends, limits, thorough=thorough)
    if measured.points or measured.scan is not None:
        counted = fit_counting_bends(measured, limits, thorough=thorough)
        return None if counted is None else counted.fit
    return fit_measured(measured, bends_of_readings(measured.readings), limits)


def _reading_misses(fit: Fit) -> tuple[ReadingMiss, ...]:
    motion = fit.chain.motion(fit.evidence.reference)
    return tuple(
        ReadingMiss(reading.name, reading.residual(fit.chain, motion)[0], reading.is_angle)
        for reading in fit.evidence.readings
    )


def _from_program(tube: WantedTube, program: Program, bench: Bench) -> TubeResult:
    chain = Chain.from_program(program, bench.die.radius)
    refusals = over_limits(program, bench, PROGRAM_ENDS)
    if refusals:
        chain = nearest_buildable(chain, bench.limits)
    notices = [
        *wrong_die(bench),
        *refusals,
        *crosses_itself(chain, bench, PROGRAM_ENDS),
        *grip_guessed(bench, program.bends),
        *not_checked(bench),
    ]
    return _result(tube, bench, PROGRAM_ENDS, chain, None, notices)


def _no_tube(tube: WantedTube, bench: Bench, ends: tuple[str, str]) -> TubeResult:
    bends = tube.bends
    which = "a tube" if bends is None else "a tube of 1 bend" if bends == 1 else f"a tube of {bends} bends"
    each = "each of its straights" if bends is None else f"each of its {bends + 1} straights"
    refusal = Notice(
        "too-few-points",
        "refusal",
        f"These points do not place {which}: {each} needs two places, of which a corner or an end may be one. "
        "Ways out: measure the places that are wanting, or say fewer bends.",
    )
    return TubeResult(tube.name, False, tube.die, bench.tubing.od, ends, None, None, None, None, None, (refusal,))


def _result(
    tube: WantedTube,
    bench: Bench,
    ends: tuple[str, str],
    chain: Chain,
    report: FitReport | None,
    notices: list[Notice],
    certainty: Certainty | None = None,
    part: PartFit | None = None,
) -> TubeResult:
    program = chain.program
    return TubeResult(
        tube.name,
        all(notice.level != "refusal" for notice in notices),
        tube.die,
        bench.tubing.od,
        ends,
        program,
        chain.corners(),
        chain.tangents(),
        program.developed_length(chain.radius),
        report,
        tuple(notices),
        certainty,
        None if part is None else PartRadius(part.radius, part.sd),
    )
