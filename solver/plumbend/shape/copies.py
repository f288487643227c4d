"""Copies: the radius of an existing part's own bends, and the part made again on a die of another radius."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.frames import FloatArray, wrap_angle
from plumbend.records import record
from plumbend.shape.chain import POSE, Chain, layout
from plumbend.shape.fit import Fit, FormingLimits, bounds, fit_from

WIDEST = 2.0
"""The part's radius is sought between the die's divided and multiplied by this."""

MOST_STEPS = 8
ENOUGH_EACH = 30
LEAST_EACH = 1e-4  # part of the sum of squares that a few iterations must gain: one that creeps is hopeless

SHARPEST = np.radians(150.0)
"""A bend that turns farther has its corner too far off to be kept when the radius changes."""


@record(eq=False)
class PartFit:
    """An existing part fitted with the radius of its own bends.

    Attributes:
        fit: the part as it is.
        radius: centreline radius of its bends, mm; NaN where it has none.
        is_told: whether what was measured tells the radius.
        answer: (p + 1, p + 1) how far its numbers, pose first and the radius last, move for each unit of the gradient;
            nothing for a radius that is not told.
        covariance: (p + 1, p + 1) of the same, not widened, like the fit's own doubt.
    """

    fit: Fit
    radius: float
    is_told: bool
    answer: FloatArray
    covariance: FloatArray

    @property
    def sd(self) -> float:
        """Standard deviation of the radius, mm; NaN where it is not told."""
        return float(np.sqrt(self.covariance[-1, -1])) if self.is_told else np.nan


@record(eq=False)
class Copy:
    """A part made again on a die.

    Attributes:
        part: the existing part.
        fit: the copy: the part's fit with the copy's chain and its doubt.
        by_part: (p, p + 1) derivatives of the copy's numbers by the part's and its radius.
    """

    part: PartFit
    fit: Fit
    by_part: FloatArray


def fit_part(fit: Fit) -> PartFit:
    """Fit the radius of a part's bends as well, from a fit made with the die's radius.

    The least sum of squares over the radius, every other number fitted anew at each, by Newton's steps on a
    parabola through three radii.
    """
    if fit.chain.bends == 0:
        return _untold(fit, np.nan)
    die = fit.chain.radius
    radius, width = die, 0.02 * die
    moves = np.zeros(fit.evidence.size)
    for _ in range(MOST_STEPS):
        middle = _with_radius(fit, radius, moves)
        less = _with_radius(middle, radius - width, moves)
        moves = _apart(less.chain, middle.chain, fit.evidence.reference) / width
        more = _with_radius(middle, radius + width, moves)
        moves = _apart(less.chain, more.chain, fit.evidence.reference) / (2 * width)
        slope = (more.chi2 - less.chi2) / (2 * width)
        curvature = (less.chi2 - 2 * middle.chi2 + more.chi2) / width**2
        step = -slope / curvature if curvature > 0 else -np.sign(slope) * 0.2 * radius
        step = float(np.clip(step, -0.2 * radius, 0.2 * radius))
        if abs(step) < 1e-5 * radius or step**2 * abs(curvature) < 1e-4:
            break
        fit = middle
        radius = float(np.clip(radius + step, die / WIDEST, die * WIDEST))
        width = float(np.clip(abs(step), 0.002 * radius, 0.02 * radius))
    from plumbend.shape.own_radius import answer_with_radius, covariance_with_radius  # only a part to copy pays for it

    answer = answer_with_radius(middle)
    # one known to no better than its own size is not told: what speaks for it are last digits
    if answer[-1, -1] > die**2:
        return _untold(middle, middle.chain.radius)
    told = replace(middle, also_fitted=1)
    return PartFit(told, middle.chain.radius, True, answer, covariance_with_radius(middle, answer))


def _untold(fit: Fit, radius: float) -> PartFit:
    """A part whose radius nothing tells: all else is known as if it had that of the fit."""
    return PartFit(fit, radius, False, np.pad(fit.answer, (0, 1)), np.pad(fit.doubt.covariance, (0, 1)))


def _apart(one: Chain, other: Chain, reference: FloatArray) -> FloatArray:
    """Step (p,) that moves ``one`` onto a neighbour of as many bends, the pose about ``reference``."""
    step = other.parameters() - one.parameters()
    where = layout(one.bends)
    step[where.rotations] = wrap_angle(step[where.rotations])
    turn = other.frame @ one.frame.T
    step[:3] = other.origin - reference - turn @ (one.origin - reference)
    step[3:POSE] = np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]]) / 2
    return step


def _with_radius(fit: Fit, radius: float, moves: FloatArray) -> Fit:
    """The fit with another radius, begun where its numbers are when they move by ``moves`` (p,) per mm of it."""
    # the fits lie close together, so few iterations do, and a hopeless one is not run long
    start = replace(fit.evidence.move(fit.chain, moves * (radius - fit.chain.radius)), radius=radius)
    limits = FormingLimits(radius)
    return fit_from(start, fit.evidence, limits, planar=fit.planar, most_iterations=ENOUGH_EACH, least_gain=LEAST_EACH)


def as_it_is(part: PartFit) -> Copy:
    """The part itself, as what is to be made."""
    return Copy(part, part.fit, np.eye(part.fit.evidence.size, part.fit.evidence.size + 1))


def made_again(part: PartFit, radius: float) -> Copy:
    """The part with its ends and corners kept, on bends of another ``radius`` mm.

    A straight grows by what its bends' setbacks lose: (R - r) tan(A/2) for each.
    """
    chain, where = part.fit.chain, layout(part.fit.chain.bends)
    change = part.radius - radius
    half = chain.angles / 2
    longer = np.zeros(chain.bends + 1)
    longer[:-1] += change * np.tan(half)
    longer[1:] += change * np.tan(half)
    made = Chain(chain.origin, chain.frame, chain.straights + longer, chain.rotations, chain.angles, radius)
    by_part = np.eye(where.size, where.size + 1)
    for k in range(chain.bends):
        for straight in (k, k + 1):
            by_part[where.straights.start + straight, where.angles.start + k] = change / 2 / np.cos(half[k]) ** 2
            by_part[where.straights.start + straight, -1] += np.tan(half[k])
    return _copied(part, replace(part.fit, chain=made), by_part)


def _copied(part: PartFit, fit: Fit, by_part: FloatArray) -> Copy:
    """A copy with the doubt that comes of the part's."""
    covariance = by_part @ part.covariance @ by_part.T
    return Copy(part, replace(fit, doubt=replace(fit.doubt, covariance=covariance)), by_part)


def brought_within(copy: Copy, limits: FormingLimits) -> tuple[Copy, float, int]:
    """A copy brought within the limits by the smallest change for what is known of its numbers.

    Numbers beyond a limit are set onto it, and the others follow as far as they lean on them: the mean of a normal
    distribution given some of its numbers. Returns the copy with these numbers held, the sum of squares that this
    costs, and how many are held.
    """
    fit = copy.fit
    lower, upper = bounds(fit.chain.bends, limits)
    covariance, values = fit.doubt.covariance, fit.chain.parameters()
    at_lower = np.zeros(values.size, dtype=bool)
    at_upper = at_lower.copy()
    wanted = values
    while True:
        at_lower |= wanted < lower
        at_upper |= wanted > upper
        held = at_lower | at_upper
        needed = np.where(at_lower, lower, upper)[held] - values[held]
        inverse = np.linalg.pinv(covariance[np.ix_(held, held)], hermitian=True)
        step = covariance[:, held] @ inverse @ needed
        step[held] = needed
        wanted = values + step
        wanted[held] = np.clip(wanted, lower, upper)[held]
        if not ((wanted < lower) | (wanted > upper)).any():
            break
    rest = np.eye(values.size)
    rest[:, held] -= covariance[:, held] @ inverse
    rest[held] = 0.0
    within = replace(
        fit,
        chain=fit.evidence.move(fit.chain, step),
        minimum=replace(fit.minimum, at_lower=at_lower, at_upper=at_upper),
    )
    return _copied(copy.part, within, rest @ copy.by_part), float(needed @ inverse @ needed), int(held.sum())
