"""Copies: the radius of an existing part's own bends, and the part made again on a die of another radius."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from plumbend.estimate.doubt import Doubt
from plumbend.frames import FloatArray
from plumbend.shape.chain import Chain, layout
from plumbend.shape.fit import Fit, FormingLimits, fit_from

WIDEST = 2.0
"""The part's radius is sought between the die's divided and multiplied by this."""

MOST_STEPS = 8
ENOUGH_EACH = 30

SHARPEST = np.radians(150.0)
"""A bend that turns farther has its corner too far off to be kept when the radius changes."""


@dataclass(frozen=True, slots=True, eq=False)
class PartFit:
    """An existing part fitted with the radius of its own bends.

    Attributes:
        fit: the part as it is.
        radius, sd: centreline radius of its bends and the standard deviation of that, mm; NaN where the part
            has no bend to tell it by.
        slope: (p,) how the other numbers move with the radius, per mm.
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
    for _ in range(MOST_STEPS):
        middle = _with_radius(fit, radius)
        less, more = (_with_radius(middle, radius + aside) for aside in (-width, width))
        slope = (more.chi2 - less.chi2) / (2 * width)
        curvature = (less.chi2 - 2 * middle.chi2 + more.chi2) / width**2
        step = -slope / curvature if curvature > 0 else -np.sign(slope) * 0.2 * radius
        step = float(np.clip(step, -0.2 * radius, 0.2 * radius))
        if abs(step) < 1e-5 * radius or step**2 * abs(curvature) < 1e-4:
            break
        fit = middle
        radius = float(np.clip(radius + step, die / WIDEST, die * WIDEST))
        width = float(np.clip(abs(step), 0.002 * radius, 0.02 * radius))
    sd = float(np.sqrt(2 / curvature)) if curvature > 0 else np.nan
    difference = more.chain.parameters() - less.chain.parameters()
    where = layout(fit.chain.bends)
    difference[where.rotations] = np.angle(np.exp(1j * difference[where.rotations]))
    return PartFit(middle, middle.chain.radius, sd, difference / (2 * width))


def _with_radius(fit: Fit, radius: float) -> Fit:
    # the fits lie close together, so few iterations do, and a hopeless one is not run long
    start = replace(fit.chain, radius=radius)
    return fit_from(start, fit.evidence, FormingLimits(radius), planar=fit.planar, most_iterations=ENOUGH_EACH)


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
    doubt = part.fit.doubt
    covariance = moves @ doubt.covariance @ moves.T
    if np.isfinite(part.sd):
        covariance += np.outer(by_radius, by_radius) * part.sd**2
    return replace(part.fit, chain=made, doubt=Doubt(covariance, doubt.loose, doubt.flat, doubt.scale))
