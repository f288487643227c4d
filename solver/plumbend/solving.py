"""The whole way: a job's points to tubes, with everything that must be said about them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from plumbend.errors import BadText
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
from plumbend.making.limits import impossible_without_limits, limits_that_hold, nearest_buildable, off_its_limits
from plumbend.notices import Notice, listed
from plumbend.shape.certainty import Certainty, certainty_of
from plumbend.shape.chain import Chain
from plumbend.shape.copies import PartFit, fit_part
from plumbend.shape.disagreement import disagreement, other_count, other_radius, readings_off, worst_of
from plumbend.shape.evidence import Miss
from plumbend.shape.fit import Fit, FormingLimits, widened
from plumbend.shape.guess_readings import bends_of_readings
from plumbend.shape.hands import mirrored_twin, way_taken
from plumbend.shape.measured import Measured
from plumbend.shape.program import Program
from plumbend.shape.remarks import corners_too_far, remarks_on_fit, sides_along_legs
from plumbend.shape.search import FEW
from plumbend.shape.structure import fit_counting_bends, fit_measured
from plumbend.shape.suspects import (
    Accused,
    Found,
    Out,
    Suspect,
    behind_refusal,
    find_wrong,
    kept_of,
    stands_out,
    without,
    worst_kept,
)
from plumbend.shape.wrong_words import bent_without, kept_as_asked, not_seen_along, what_is_wrong
from plumbend.units import Units

if TYPE_CHECKING:
    from plumbend.shape.slips_of_points import Misread
    from plumbend.survey import Survey

PROGRAM_ENDS = ("start", "far")
"""Names of the ends of a tube that no points name."""


def solve(job: Job, units: Units | None = None, keep: Sequence[str] = ()) -> Result:
    """Place the points of a job by its readings, fit every tube to them and judge whether its die can bend it.

    Each tube is solved by itself: one that fails leaves the others' results in place.

    Args:
        job: as read by :func:`plumbend.read_job`.
        units: what the notices are written in; the job's own where None.
        keep: what is never left out: points and readings of the tubes by name, readings of the vehicle as typed or by
            number.

    Raises:
        BadText: where ``keep`` names nothing.
    """
    units = units or job.units
    asked, others = _asked(job, keep)
    if job.frame is None:
        return Result(
            job.title, tuple(_solve_tube(tube, Bench(job.tubing, tube.die, units), asked) for tube in job.tubes)
        )
    from plumbend.survey import frame_report, survey  # a job without readings does not pay for them

    found = survey(job, job.frame, units, others)
    return Result(
        job.title,
        tuple(_solve_placed(tube, found, Bench(job.tubing, tube.die, units), asked) for tube in job.tubes),
        frame_report(found),
    )


@dataclass(frozen=True, slots=True)
class Asked:
    """What was asked for all tubes of a job.

    Attributes:
        typed_in: the units of the job's figures.
        keep: names of points and readings of the tubes that are never left out.
    """

    typed_in: Units
    keep: frozenset[str]


def _asked(job: Job, keep: Sequence[str]) -> tuple[Asked, list[str]]:
    """What is asked of the tubes, and what is to be kept of the readings of the vehicle.

    Raises:
        BadText: for what is neither.
    """
    names = dict.fromkeys(
        name for tube in job.tubes for name in (*tube.names, *(reading.name for reading in tube.readings))
    )
    others = [name for name in keep if name not in names]
    if others and job.frame is None:
        known = f"Name one of {listed(list(names), 'or')}." if names else "It has none."
        raise BadText(others[0], "is no point or reading of this job", known)
    return Asked(job.units, frozenset(names).intersection(keep)), others


def _solve_placed(tube: WantedTube, found: Survey, bench: Bench, asked: Asked) -> TubeResult:
    """A tube whose points readings of the vehicle place, some of them or none."""
    from plumbend.survey import placed

    ends = (tube.names[0], tube.names[-1]) if tube.names else PROGRAM_ENDS
    tube, refusals = placed(tube, found)
    return _none_found(tube, bench, ends, refusals) if refusals else _solve_tube(tube, bench, asked)


def _solve_tube(tube: WantedTube, bench: Bench, asked: Asked) -> TubeResult:
    if tube.program is not None:
        return _from_program(tube, tube.program, bench)
    ends = (tube.points[0].name, tube.points[-1].name) if tube.points else PROGRAM_ENDS
    measured = Measured(bench.tubing.od, tube.points, tube.readings, tube.joint, tube.planar, tube.scan)
    if tube.copied:
        return _copy(tube, measured, bench, ends)
    fit = _fit(measured, tube.bends, bench.limits)
    if fit is None:
        return _no_tube(tube, bench, ends)
    fit = off_its_limits(fit, bench.limits)
    refusals, held = limits_that_hold(fit, bench, ends)
    kept = kept_of(measured, asked.keep)
    found: Found | None = None
    blamed: list[Notice] = sides_along_legs(fit)
    impossible = impossible_without_limits(fit)
    if blamed:
        pass  # what such a side says of the tube is wrong, whatever the rest say
    elif impossible or (not fit.at_limit.any() and stands_out(fit, kept)):
        refit = _refit(tube, fit, bench)
        looks_like = _looks_like(measured, bench, asked)
        found = find_wrong(measured, fit, refit, looks_like, kept, counting=tube.bends is None)
        shapes = _other_shapes(measured, tube, bench) if impossible else []
        if found is not None:
            # of a scan only a few points took part so far
            whole = None if measured.scan is None else refit(without(measured, found.out))
            fit = whole or found.fit
            refusals, held = limits_that_hold(fit, bench, ends)
            blamed = what_is_wrong(found, measured, bench.units)
        blamed += shapes
    elif refusals:
        blamed = bent_without(behind_refusal(measured, _refit(tube, fit, bench, buildable=True), kept), measured)
    blamed += _kept_but_wrong(tube, measured, fit, found, bench, asked)
    if not refusals:
        fit = widened(fit)
        blamed += disagreement(fit, measured, bench.units)
    remarks = [
        *refusals,
        *mirrored_twin(fit),
        *blamed,
        *way_taken(fit, bench.limits),
        *remarks_on_fit(fit, ends, bench.units),
        *held,
        *not_seen_along(fit),
    ]
    return _solved(tube, bench, ends, fit, _report(measured, fit, found), remarks)


def _looks_like(measured: Measured, bench: Bench, asked: Asked) -> Callable[[Suspect, Fit], Misread | None]:
    """What a wrong point looks like beside the fit without it."""
    from plumbend.shape.slips_of_points import misread_of  # a tube without a wrong point does not pay for it

    def looks_like(suspect: Suspect, rest: Fit) -> Misread | None:
        if suspect.is_reading:
            return None
        point, figures = measured.points[suspect.index], measured.is_typed(suspect.index)
        return misread_of(point, rest, asked.typed_in, bench.units, far=suspect.index > 0, figures=figures)

    return looks_like


def _kept_but_wrong(
    tube: WantedTube, measured: Measured, fit: Fit, found: Found | None, bench: Bench, asked: Asked
) -> list[Notice]:
    """Caution about what goes worst with the rest and was kept."""
    out = frozenset() if found is None else found.out
    worst = worst_kept(measured, fit, out, kept_of(measured, asked.keep))
    if worst is None:
        return []
    rest = _refit(tube, fit, bench)(without(measured, out | {worst}))
    misread = None if rest is None else _looks_like(measured, bench, asked)(worst, rest)
    return [kept_as_asked(Accused(worst, misread), measured, bench.units)]


def _copy(tube: WantedTube, measured: Measured, bench: Bench, ends: tuple[str, str]) -> TubeResult:
    part = _part(measured, tube.bends, bench.die.radius)
    if part is None:
        return _no_tube(tube, bench, ends)
    part = replace(part, fit=widened(part.fit))
    copy, refusals, notes = copied(part, bench, ends)
    blamed = [*sides_along_legs(part.fit), *disagreement(part.fit, measured, bench.units)]
    remarks = [*refusals, *blamed, *remarks_on_fit(part.fit, ends, bench.units), *notes, *not_seen_along(part.fit)]
    return _solved(tube, bench, ends, copy, _report(measured, part.fit, None), remarks, part)


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


def _refit(tube: WantedTube, spoilt: Fit, bench: Bench, *, buildable: bool = False) -> Callable[[Measured], Fit | None]:
    """How what is left of a tube's measurements is fitted; None for a fit that is not ``buildable`` where asked."""
    # without one of its corners a tube still has the bend there
    has_corners = any(point.what == "corner" for point in tube.points)
    bends = spoilt.chain.bends if tube.bends is None and has_corners else tube.bends

    def refit(rest: Measured) -> Fit | None:
        fit = _fit(rest, bends, bench.limits, thorough=False)
        if fit is None or not buildable:
            return fit
        return None if limits_that_hold(fit, bench, PROGRAM_ENDS)[0] else fit

    return refit


def _other_shapes(measured: Measured, tube: WantedTube, bench: Bench) -> list[Notice]:
    """Cautions where everything agrees on a tube of another number of bends, or a scan on another radius."""
    if measured.scan is not None:
        measured = replace(measured, scan=measured.scan.thinned(FEW))
    if tube.bends is not None:
        counted = fit_counting_bends(measured, bench.limits, thorough=False)
        if counted is not None and _agrees(counted.fit) and counted.fit.chain.bends != tube.bends:
            return [other_count(counted.fit.chain.bends, tube.bends)]
    if measured.scan is not None:
        part = _part(measured, tube.bends, bench.die.radius)
        if part is not None and np.isfinite(part.sd) and _agrees(part.fit):
            return [other_radius(part.radius, bench.die.radius, bench.units)]
    return []


def _agrees(fit: Fit) -> bool:
    return fit.dof > 0 and not beyond_chance(fit.chi2, fit.dof)


def _report(measured: Measured, fit: Fit, found: Found | None) -> FitReport:
    """How the fit agrees with everything measured, with what was left out of it as well."""
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
        _scan_report(fit),
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
    misses = measured.compiled(fit.chain.bends, points).misses(fit.chain, fit.doubt.covariance)
    return [replace(miss, doubt=miss.doubt * fit.widening) for miss in misses]


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
    return _none_found(tube, bench, ends, [refusal])


def _none_found(tube: WantedTube, bench: Bench, ends: tuple[str, str], refusals: Sequence[Notice]) -> TubeResult:
    return TubeResult(tube.name, False, tube.die, bench.tubing.od, ends, None, None, None, None, None, tuple(refusals))


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
        tube.points,
    )
