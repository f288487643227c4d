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
        radius, sd: centreline radius of its bends and the standard deviation of that, mm; NaN where the part
            has no bend to tell it by. Like the fit's own doubt the latter is not widened.
        slope: (p,) how the other numbers, pose included, move with the radius, per mm.
    """

    fit: Fit
    radius: float
    sd: float
    slope: FloatArray


def fit_part(fit: Fit) -> PartFit:
    """Fit the radius of a part's bends as well, from a fit made with the die's radius.

    The least sum of squares over the radius, every other number fitted anew at each, by Newton's steps on a
    parabola through three radii; its curvature at the bottom gives the doubt.
    """
    if fit.chain.bends == 0:
        return PartFit(fit, np.nan, np.nan, np.zeros(fit.evidence.size))
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
    # one known to no better than its own size is not told: what curvature there is are last digits
    sd = float(np.sqrt(2 / curvature)) if curvature * die**2 > 2 else np.nan
    told = replace(middle, also_fitted=int(np.isfinite(sd)))
    return PartFit(told, middle.chain.radius, sd, moves)


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


def made_again(part: PartFit, radius: float) -> Fit:
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
    by_radius = part.slope.copy()
    moves = np.eye(where.size)
    for k in range(chain.bends):
        for straight in (k, k + 1):
            by_radius[where.straights.start + straight] += np.tan(half[k])
            moves[where.straights.start + straight, where.angles.start + k] += change / 2 / np.cos(half[k]) ** 2
    # the radius moves the angles too, and these the straights
    by_radius[where.straights] += (moves - np.eye(where.size))[where.straights] @ part.slope
    covariance = moves @ part.fit.doubt.covariance @ moves.T
    if np.isfinite(part.sd):
        covariance += np.outer(by_radius, by_radius) * part.sd**2
    return replace(part.fit, chain=made, doubt=replace(part.fit.doubt, covariance=covariance))


def brought_within(copy: Fit, limits: FormingLimits) -> tuple[Fit, float, int]:
    """A copy brought within the limits by the smallest change for what is known of its numbers.

    Numbers beyond a limit are set onto it, and the others follow as far as they lean on them: the mean of a normal
    distribution given some of its numbers. Returns the copy with these numbers held, the sum of squares that this
    costs, and how many are held.
    """
    lower, upper = bounds(copy.chain.bends, limits)
    covariance, values = copy.doubt.covariance, copy.chain.parameters()
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
    # in the form that rounding leaves positive (Joseph's, from memory)
    rest = np.eye(values.size)
    rest[:, held] -= covariance[:, held] @ inverse
    rest[held] = 0.0
    left = rest @ covariance @ rest.T
    within = replace(
        copy,
        chain=copy.evidence.move(copy.chain, step),
        doubt=replace(copy.doubt, covariance=left),
        minimum=replace(copy.minimum, at_lower=at_lower, at_upper=at_upper),
    )
    return within, float(needed @ inverse @ needed), int(held.sum())
