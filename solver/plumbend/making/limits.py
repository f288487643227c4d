"""Limits of the die at a fitted tube: where they hold it, where the points do not bear that, and what is nearest."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.making.buildable import Bench, over_limits, straight_name
from plumbend.notices import Notice
from plumbend.shape.chain import Chain, layout
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.program import Program
from plumbend.shape.search import LEAST_TO_JUDGE
from plumbend.shape.structure import fit_measured
from plumbend.units import format_angle


def limits_that_hold(fit: Fit, bench: Bench, ends: tuple[str, str]) -> tuple[list[Notice], list[Notice]]:
    """Refusals where the points do not bear a limit that holds, and notes where they do.

    The points are fitted once more without the limits. Where that is better by more than chance allows at
    0.1 %, what they ask for cannot be bent.
    """
    held = fit.at_limit
    if not held.any():
        return [], []
    free = _without_limits(fit)
    if beyond_chance(fit.chi2 - free.chi2, int(held.sum())):
        refusals = over_limits(free.chain.program, bench, ends)
        if refusals:
            return refusals, []
    return [], held_at_limits(fit, bench, ends, borne=not beyond_chance(fit.chi2, fit.dof))


def off_its_limits(fit: Fit, limits: FormingLimits) -> Fit:
    """The fit, or a better one within the limits where it was caught at one of them on the way."""
    if not fit.at_limit.any():
        return fit
    free = _without_limits(fit)
    again = fit_from(free.chain, fit.evidence, limits, planar=fit.planar)
    return replace(again, runner_up=fit.runner_up) if again.chi2 < fit.chi2 - 1e-6 * (1 + fit.chi2) else fit


def impossible_without_limits(fit: Fit) -> bool:
    """Whether what was measured disagrees with itself, whatever the die can bend."""
    if not beyond_chance(fit.chi2, fit.dof):
        return False
    if not fit.at_limit.any():
        return True
    free = _without_limits(fit)
    return beyond_chance(free.chi2, free.dof)


def _without_limits(fit: Fit) -> Fit:
    # what is far beyond chance within the limits is either soon better without them, or hopeless
    gain = LEAST_TO_JUDGE if beyond_chance(fit.chi2, fit.dof) else 0.0
    free = FormingLimits(fit.chain.radius, -np.inf)
    found = fit_from(fit.chain, fit.evidence, free, planar=fit.planar, least_gain=gain)
    if gain and not found.converged and not beyond_chance(found.chi2, found.dof):
        return fit_from(found.chain, fit.evidence, free, planar=fit.planar)
    return found


def held_at_limits(fit: Fit, bench: Bench, ends: tuple[str, str], *, borne: bool) -> list[Notice]:
    """Notes on every straight and bend that a limit of the die holds.

    Whether what was measured has ``borne`` that, agreeing with it within its accuracies, is said too.
    """
    where, bends = layout(fit.chain.bends), fit.chain.bends
    limits = bench.limits
    bear = "; the points bear that within their accuracies." if borne else "."
    notices = []
    for k in np.flatnonzero(fit.at_limit[where.straights]).tolist():
        need = limits.least_straight if 0 < k < bends else 0.0
        name = straight_name(k, bends, ends)
        held = f"{name[0].upper()}{name[1:]} is held at the least that can be bent, {bench.length(need)}"
        notices.append(Notice(f"held-straight-{k + 1}", "note", held + bear))
    for k in np.flatnonzero(fit.at_limit[where.angles]).tolist():
        most = format_angle(limits.largest_angle)
        why = "a full U-bend" if bench.die.max_wrap is None else f"the most that the die {bench.die.name} reaches"
        notices.append(Notice(f"held-bend-{k + 1}", "note", f"Bend {k + 1} is held at {most} degrees, {why}{bear}"))
    return notices


def nearest_buildable(chain: Chain, limits: FormingLimits) -> Chain:
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
    return Chain.from_program(program, limits.radius, chain.origin, chain.frame)
