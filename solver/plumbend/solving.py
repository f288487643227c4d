"""The whole way: a job's points to tubes, with everything that must be said about them."""

from __future__ import annotations

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.job.model import Job, WantedTube
from plumbend.job.results import FitReport, PointMiss, ReadingMiss, Result, TubeResult
from plumbend.making.buildable import (
    Bench,
    crosses_itself,
    grip_guessed,
    not_checked,
    over_limits,
    straight_name,
    wrong_die,
)
from plumbend.notices import Notice
from plumbend.shape.certainty import Certainty, certainty_of
from plumbend.shape.chain import Chain
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.guess_readings import bends_of_readings
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.program import Program
from plumbend.shape.remarks import mirrored_twin, remarks_on_fit, worst_point
from plumbend.shape.structure import fit_counting_bends, fit_measured
from plumbend.units import Units, format_angle

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
    measured = Measured(bench.tubing.od, tube.points, tube.readings, tube.joint, tube.planar)
    fit = _fit(measured, tube.bends, bench.limits)
    if fit is None:
        return _no_tube(tube, bench, ends)
    refusals, held = _limits_that_hold(fit, bench, ends)
    misses = fit.misses()
    notices = [
        *wrong_die(bench),
        *refusals,
        *mirrored_twin(fit),
        *crosses_itself(fit.chain, bench, ends),
        *remarks_on_fit(fit, ends, bench.units, limited=bool(refusals)),
        *held,
        *grip_guessed(bench, fit.chain.bends),
        *not_checked(bench),
    ]
    report = FitReport(
        fit.chi2,
        fit.dof,
        tuple(
            PointMiss(point.name, point.what, miss.size, miss.doubt)
            for point, miss in zip(tube.points, misses, strict=True)
        ),
        worst_point(misses),
        _reading_misses(fit),
    )
    return _result(tube, bench, ends, fit.chain, report, notices, certainty_of(fit))


def _fit(measured: Measured, bends: int | None, limits: FormingLimits) -> Fit | None:
    """The fit with the bends told, or as many as the evidence asks for."""
    if bends is None and measured.points:
        counted = fit_counting_bends(measured, limits)
        return None if counted is None else counted.fit
    return fit_measured(measured, bends_of_readings(measured.readings) if bends is None else bends, limits)


def _reading_misses(fit: Fit) -> tuple[ReadingMiss, ...]:
    motion = fit.chain.motion(fit.evidence.reference)
    return tuple(
        ReadingMiss(reading.name, reading.residual(fit.chain, motion)[0], reading.is_angle)
        for reading in fit.evidence.readings
    )


def _limits_that_hold(fit: Fit, bench: Bench, ends: tuple[str, str]) -> tuple[list[Notice], list[Notice]]:
    """Refusals where the points do not bear a limit that holds, and cautions where they do.

    The points are fitted once more without the limits. Where that is better by more than chance allows at
    0.1 %, what they ask for cannot be bent.
    """
    held = fit.at_limit
    if not held.any():
        return [], []
    free = fit_from(fit.chain, fit.evidence, FormingLimits(bench.die.radius, -np.inf), planar=fit.planar)
    wished = free.chain.program
    if beyond_chance(fit.chi2 - free.chi2, int(held.sum())):
        refusals = over_limits(wished, bench, ends)
        if refusals:
            return refusals, []
    return [], _held(fit, bench, ends)


def _held(fit: Fit, bench: Bench, ends: tuple[str, str]) -> list[Notice]:
    program = fit.chain.program
    limits = bench.limits
    notices = []
    for k, straight in enumerate(program.straights.tolist()):
        need = limits.least_straight if 0 < k < program.bends else 0.0
        if program.bends and straight <= need:
            name = straight_name(k, program.bends, ends)
            notices.append(
                Notice(
                    f"held-straight-{k + 1}",
                    "note",
                    f"{name[0].upper()}{name[1:]} is held at the least that can be bent, {bench.length(need)}; "
                    "the points bear that within their accuracies.",
                )
            )
    for k, angle in enumerate(program.angles.tolist()):
        if angle >= limits.largest_angle:
            notices.append(
                Notice(
                    f"held-bend-{k + 1}",
                    "note",
                    f"Bend {k + 1} is held at {format_angle(limits.largest_angle)} degrees, the most that the die "
                    f"{bench.die.name} reaches; the points bear that within their accuracies.",
                )
            )
    return notices


def _from_program(tube: WantedTube, program: Program, bench: Bench) -> TubeResult:
    chain = Chain.from_program(program, bench.die.radius)
    refusals = over_limits(program, bench, PROGRAM_ENDS)
    if refusals:
        chain = _nearest_buildable(chain, bench.limits)
    notices = [
        *wrong_die(bench),
        *refusals,
        *crosses_itself(chain, bench, PROGRAM_ENDS),
        *grip_guessed(bench, program.bends),
        *not_checked(bench),
    ]
    return _result(tube, bench, PROGRAM_ENDS, chain, None, notices)


def _nearest_buildable(chain: Chain, limits: FormingLimits) -> Chain:
    """The tube within the limits whose corners miss those of ``chain`` least."""
    corners = chain.corners()
    usable = bool(np.isfinite(corners).all())
    last = len(corners) - 1
    points = [
        Point(str(k), "end" if k in (0, last) else "corner", place, np.eye(3), bend=None if k in (0, last) else k)
        for k, place in enumerate(corners)
    ]
    fit = fit_measured(Measured(0.0, tuple(points)), chain.bends, limits) if usable else None
    if fit is not None:
        return fit.chain
    straights = np.maximum(chain.straights, limits.least_straight)
    straights[[0, -1]] = np.maximum(chain.straights[[0, -1]], 0.0)
    program = Program(straights, chain.rotations, np.minimum(chain.angles, limits.largest_angle))
    return Chain.from_program(program, limits.radius)


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
    )
