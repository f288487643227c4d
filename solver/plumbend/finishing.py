"""A tube's result: what is to be made, the numbers to set and the steps, and everything said of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from plumbend.blaming import Asked
from plumbend.fitting import PROGRAM_ENDS
from plumbend.job.model import WantedTube
from plumbend.job.results import FitReport, PartRadius, TubeResult
from plumbend.making.buildable import (
    Bench,
    crosses_itself,
    grip_guessed,
    no_length,
    not_checked,
    over_limits,
    wrong_die,
)
from plumbend.making.limits import nearest_buildable
from plumbend.making.springback import no_stops, not_made, stop_angles, typed_over
from plumbend.making.walls import wall_notes
from plumbend.notices import Notice
from plumbend.shape.certainty import Certainty, certainty_of
from plumbend.shape.chain import Chain
from plumbend.shape.copies import Copy
from plumbend.shape.fit import Fit
from plumbend.shape.program import Program
from plumbend.shape.remarks import corners_too_far


def finished(
    tube: WantedTube,
    bench: Bench,
    ends: tuple[str, str],
    made: Fit,
    report: FitReport,
    remarks: list[Notice],
    asked: Asked,
    copy: Copy | None = None,
) -> TubeResult:
    """The result for a tube as it is to be made, with the remarks on how it was found.

    Args:
        tube: as it was asked for.
        bench: what it is bent from and on.
        ends: the names of its ends.
        made: the tube to be made.
        report: how what was measured agrees.
        remarks: on how it was found.
        asked: of all tubes of the job.
        copy: the same where it copies an existing part.
    """
    fitted, joined = made, None
    if tube.meetings:
        from plumbend.joining import joined_ends  # only a tube whose ends meet something pays for it

        joined = joined_ends(made, tube, bench)
        made, remarks = joined.fit, joined.among(remarks)
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
        *_at_the_bender(made.chain.program, bench),
        *not_checked(bench, made.chain.bends),
    ]
    notices.sort(key=lambda notice: notice.level != "refusal")
    result = _result(tube, bench, ends, made.chain, report, notices, certainty_of(made), copy)
    if result.solved:
        from plumbend.making.to_set import numbers_to_set  # a tube that cannot be bent does not pay for it

        legible, more = numbers_to_set(fitted, bench, is_copy=copy is not None, has_steps=result.is_fixed)
        result = replace(result, legible=legible, notices=(*result.notices, *more))
        result = replace(result, made=made.chain if legible is None else legible.chain)
        if joined is not None:
            from plumbend.cut_ends import with_cut_ends  # likewise

            result = with_cut_ends(result, tube, joined, bench)
        # what he sets is what he is told to make, step by step
        legible = result.legible
        set_chain = made.chain if legible is None else Chain.from_program(legible.program, made.chain.radius)
        result = _with_steps(result, set_chain, bench)
    if asked.why is None:
        return result
    from plumbend.why import why_of  # only who asks why pays for it

    why = why_of(fitted, asked.why, copy)
    return replace(result, why=why if joined is None else joined.told_in(why))


def _at_the_bender(program: Program, bench: Bench) -> list[Notice]:
    """Notes on wall and springback, which a straight tube has no need of."""
    if not program.bends:
        return []
    return [*wall_notes(bench), *typed_over(bench), *no_stops(float(program.angles.max()), bench), *not_made(bench)]


def from_program(tube: WantedTube, program: Program, bench: Bench, asked: Asked) -> TubeResult:
    """The result for a tube whose program was typed."""
    chain = Chain.from_program(program, bench.die.radius)
    refusals = over_limits(program, bench, PROGRAM_ENDS)
    if refusals:
        chain = nearest_buildable(chain, bench.limits)
    notices = [
        *wrong_die(bench),
        *refusals,
        *crosses_itself(chain, bench, PROGRAM_ENDS),
        *grip_guessed(bench, program.bends),
        *_at_the_bender(chain.program, bench),
        *not_checked(bench, chain.bends),
    ]
    result = _with_steps(_result(tube, bench, PROGRAM_ENDS, chain, None, notices), chain, bench)
    if asked.why is None:
        return result
    from plumbend.why import why_of_program  # only who asks why pays for it

    return replace(result, why=why_of_program(chain))


def no_tube(tube: WantedTube, bench: Bench, ends: tuple[str, str]) -> TubeResult:
    """The result where too little was measured to place a tube."""
    bends = tube.bends
    which = "a tube" if bends is None else "a tube of 1 bend" if bends == 1 else f"a tube of {bends} bends"
    each = "each of its straights" if bends is None else f"each of its {bends + 1} straights"
    refusal = Notice(
        "too-few-points",
        "refusal",
        f"These points do not place {which}: {each} needs two places, of which a corner or an end may be one. "
        "Ways out: measure the places that are wanting, or say fewer bends.",
    )
    return none_found(tube, bench, ends, [refusal])


def none_found(tube: WantedTube, bench: Bench, ends: tuple[str, str], refusals: Sequence[Notice]) -> TubeResult:
    """The result without a tube, for the reasons given."""
    return TubeResult(tube.name, False, tube.die, bench.tubing.od, ends, None, None, None, None, None, tuple(refusals))


def _result(
    tube: WantedTube,
    bench: Bench,
    ends: tuple[str, str],
    chain: Chain,
    report: FitReport | None,
    notices: list[Notice],
    certainty: Certainty | None = None,
    copy: Copy | None = None,
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
        None if copy is None else PartRadius(copy.part.radius, copy.part.sd),
        tube.points,
        stops=stop_angles(program.angles, bench),
    )


def _with_steps(result: TubeResult, chain: Chain, bench: Bench) -> TubeResult:
    """The result with the steps that make a ``chain`` and how to check it; without where it is not fixed in every
    part."""
    if not result.solved or not result.is_fixed or not (chain.bends or result.met):
        return result
    from plumbend.making.checks import checks_of  # a tube that cannot be made does not pay for it
    from plumbend.making.steps import making_of  # likewise

    if not result.met:
        making = making_of(chain, bench, result.ends)
        return replace(result, making=making, checks=checks_of(chain, bench.tubing.od, result.ends))
    from plumbend.cut_ends import beyond_ends  # only a tube whose ends meet something pays for it

    made, longest = beyond_ends(result, chain)
    making = making_of(chain, bench, result.ends, longest)
    # what comes off is counted to where the centreline really stops, which no tape need show
    making = replace(making, trims=(making.trims[0] - made[0], making.trims[1] - made[1]))
    checks = checks_of(result.made or chain, bench.tubing.od, result.ends)
    from plumbend.end_reports import with_reports  # likewise

    return with_reports(replace(result, making=making, checks=checks), bench)
