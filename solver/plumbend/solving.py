"""The whole way: a job's points to tubes, with everything that must be said about them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from plumbend.asking import Why
from plumbend.blaming import Asked, judged
from plumbend.errors import BadText
from plumbend.finishing import finished, from_program, no_tube, none_found
from plumbend.fit_report import report_on
from plumbend.fitting import PROGRAM_ENDS, fit_existing_part, fit_scanned, fit_tube, sorted_existing
from plumbend.job.model import Job, WantedTube
from plumbend.job.results import Result, TubeResult
from plumbend.making.buildable import (
    Bench,
)
from plumbend.making.copying import copied
from plumbend.making.habit import Habit, habit_of
from plumbend.making.limits import off_its_limits
from plumbend.notices import Notice, listed
from plumbend.progress import Progress, untold
from plumbend.shape.copies import fit_part
from plumbend.shape.disagreement import disagreement
from plumbend.shape.fit import Fit, widened
from plumbend.shape.hands import mirrored_twin, way_taken
from plumbend.shape.measured import Measured
from plumbend.shape.remarks import remarks_on_fit, sides_along_legs
from plumbend.shape.wrong_words import not_seen_along
from plumbend.units import Units

if TYPE_CHECKING:
    from plumbend.shape.robust import Sorted
    from plumbend.survey import Survey


def solve(
    job: Job,
    units: Units | None = None,
    keep: Sequence[str] = (),
    why: Why | None = None,
    habit: Habit | None = None,
    progress: Progress = untold,
) -> Result:
    """Place the points of a job by its readings, fit every tube to them and judge whether its die can bend it.

    Each tube is solved by itself: one that fails leaves the others' results in place.

    Args:
        job: as read by :func:`plumbend.read_job`.
        units: what the notices are written in; the job's own where None.
        keep: what is never left out: points and readings of the tubes by name, readings of the vehicle as typed or by
            number.
        why: that what drives the numbers of every tube is to be told too.
        habit: how the man at the bender likes to work; as job and shop say, and else the usual way, where None.
        progress: told how far the work on a scan has come.

    Raises:
        BadText: where ``keep`` names nothing.
    """
    units = units or job.units
    asked, others = _asked(job, keep)
    asked = replace(asked, why=why, progress=progress)

    habit = habit or habit_of(job.ways, job.units)

    def bench(tube: WantedTube) -> Bench:
        return Bench(job.tubing, tube.die, units, job.bender, habit, job.notcher)

    if job.frame is None:
        return Result(job.title, _in_order(job, bench, lambda tube: _solve_tube(tube, bench(tube), asked)))
    from plumbend.survey import frame_report, survey  # a job without readings does not pay for them

    found = survey(job, job.frame, units, others)
    return Result(
        job.title,
        _in_order(job, bench, lambda tube: _solve_placed(tube, found, bench(tube), asked), found),
        frame_report(found),
    )


def _in_order(
    job: Job,
    bench: Callable[[WantedTube], Bench],
    solve_one: Callable[[WantedTube], TubeResult],
    surveyed: Survey | None = None,
) -> tuple[TubeResult, ...]:
    """Every tube solved by itself, but for legs that are to be parallel to those of a tube before it, and for ends that
    are on another tube, which is solved first. The results are in the order of the file."""
    tubes = job.tubes
    if any(tube.meetings for tube in tubes):
        from plumbend.job.end_cuts import in_solving_order  # only a job with such ends pays for it

        tubes = in_solving_order(tubes)
    found: dict[str, TubeResult] = {}
    for tube in tubes:
        held: WantedTube | Notice = tube
        if tube.beside:
            from plumbend.job.beside import held_beside  # only a tube that is to lie like another pays for it

            held = held_beside(tube, found)
        if tube.meetings and not isinstance(held, Notice):
            from plumbend.neighbourhood import held_on  # likewise

            held = held_on(held, found, job.neighbours, surveyed, bench(tube).units)
        if isinstance(held, Notice):
            found[tube.name] = none_found(tube, bench(tube), tube.ends or PROGRAM_ENDS, [held])
        else:
            found[tube.name] = _on_each_die(held, solve_one) if held.dies else solve_one(held)
    return tuple(found[tube.name] for tube in job.tubes)


def _on_each_die(tube: WantedTube, solve_one: Callable[[WantedTube], TubeResult]) -> TubeResult:
    """A tube that leaves open on which of several dies it is to be bent: what each would cost, and the question."""
    from plumbend.choosing import asked_for, cost_of  # only a choice of dies pays for it

    each = [solve_one(replace(tube, die=die, dies=())) for die in tube.dies]
    question = asked_for(tube.name, tube.dies)
    first = each[0]
    return TubeResult(
        tube.name,
        False,
        tube.die,
        first.od,
        first.ends,
        None,
        None,
        None,
        None,
        None,
        (question,),
        dies=tuple(map(cost_of, each)),
    )


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

    ends = (tube.ends if tube.ordered else None) or PROGRAM_ENDS
    names = frozenset(point.name for point in tube.placed)
    tube, refusals = placed(tube, found)
    if asked.why is not None and names:
        from plumbend.shape.known_together import PlacedBy  # only who asks why pays for it

        by = PlacedBy(found.screened.adjusted, names, found.screened.scale)
        asked = replace(asked, why=replace(asked.why, placed_by=by))
    return none_found(tube, bench, ends, refusals) if refusals else _solve_tube(tube, bench, asked)


def _solve_tube(tube: WantedTube, bench: Bench, asked: Asked) -> TubeResult:
    if tube.program is not None:
        return from_program(tube, tube.program, bench, asked)
    if not tube.ordered:
        from plumbend.reordering import as_typed, in_order  # only points in any order pay for it

        tube, ordered = in_order(tube, bench.tubing.od, bench.limits)
        return as_typed(_solve_tube(tube, bench, asked), ordered)
    ends = tube.ends or PROGRAM_ENDS
    measured = Measured(bench.tubing.od, tube.points, tube.readings, tube.joint, tube.planar, tube.scan, tube.demands)
    if tube.copied:
        return _copy(tube, measured, bench, ends, asked)
    whole, strays = measured, list[Notice]()
    if measured.scan is None:
        fit = fit_tube(measured, tube.bends, bench.limits)
    else:
        scanned = fit_scanned(measured, tube.bends, bench.limits, asked.progress)
        fit, measured, strays = _sorted(scanned, measured, bench)
    if fit is None:
        return no_tube(tube, bench, ends)
    dropped = _dropped(whole, measured)
    if fit.evidence.sides_told:
        from plumbend.holding import told_sides_apart  # a tube that touches nothing does not pay for it

        fit = told_sides_apart(measured, fit, tube.bends, bench.limits)
    if fit.evidence.is_held:
        from plumbend.holding import fit_and_remarks  # a tube that must keep to nothing does not pay for it

        kept = fit_and_remarks(measured, fit, bench, ends)
        if kept is not None:
            report = report_on(measured, kept[0], None, dropped)
            return finished(tube, bench, ends, kept[0], report, [*kept[1], *strays], asked)
    found = judged(tube, measured, off_its_limits(fit, bench.limits), bench, ends, asked)
    fit, blamed = found.fit, found.blamed
    if not found.refusals:
        fit = widened(fit)
        blamed = blamed + disagreement(fit, whole, bench.units)
    remarks = [
        *found.refusals,
        *strays,
        *_sides(fit, bench),
        *mirrored_twin(fit),
        *blamed,
        *way_taken(fit, bench.limits),
        *remarks_on_fit(fit, ends, bench.units),
        *found.held,
        *not_seen_along(fit),
    ]
    return finished(tube, bench, ends, fit, report_on(measured, fit, found.found, dropped), remarks, asked)


def _sorted(found: Sorted | None, measured: Measured, bench: Bench) -> tuple[Fit | None, Measured, list[Notice]]:
    """The fit, what was measured without the places of the scan that are not on the tube, and what is said of them."""
    if found is None:
        return None, measured, []
    if not len(found.strays):
        return found.fit, found.measured, []
    from plumbend.shape.strays import remarks_on_strays  # few scans hold what is not on the tube

    return found.fit, found.measured, remarks_on_strays(found, measured.od, bench.units)


def _dropped(whole: Measured, measured: Measured) -> int:
    """How many places of a scan were left out."""
    return 0 if whole.scan is None or measured.scan is None else len(whole.scan.at) - len(measured.scan.at)


def _sides(fit: Fit, bench: Bench) -> list[Notice]:
    """What is to be said of the sides on which the tube passes places on the body."""
    if not any(point.what in ("touch", "clear") for point in fit.evidence.points):
        return []
    from plumbend.shape.sides import remarks_on_sides  # a tube that touches nothing does not pay for it

    return remarks_on_sides(fit, bench.limits)


def _copy(tube: WantedTube, measured: Measured, bench: Bench, ends: tuple[str, str], asked: Asked) -> TubeResult:
    whole, strays = measured, list[Notice]()
    if measured.scan is None:
        part = fit_existing_part(measured, tube.bends, bench.die.radius)
    else:
        scanned = sorted_existing(measured, tube.bends, bench.die.radius, asked.progress)
        fit, measured, strays = _sorted(scanned, measured, bench)
        part = None if fit is None else fit_part(fit)
    if part is None:
        return no_tube(tube, bench, ends)
    part = replace(part, fit=widened(part.fit))
    copy, refusals, notes = copied(part, bench, ends)
    blamed = [*sides_along_legs(part.fit), *disagreement(part.fit, whole, bench.units)]
    remarks = [
        *refusals,
        *strays,
        *blamed,
        *remarks_on_fit(part.fit, ends, bench.units),
        *notes,
        *not_seen_along(part.fit),
    ]
    report = report_on(measured, part.fit, None, _dropped(whole, measured))
    return finished(tube, bench, ends, copy.fit, report, remarks, asked, copy)
