"""The fit: the chain that misses the points least, for their accuracies, within what the die can bend."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from plumbend.estimate.doubt import Doubt, doubt_of
from plumbend.estimate.minimise import Minimum, minimise
from plumbend.frames import FloatArray
from plumbend.shape.chain import Chain, layout
from plumbend.shape.evidence import Evidence
from plumbend.shape.guess import first_guess
from plumbend.shape.points import Point


@dataclass(frozen=True, slots=True)
class FormingLimits:
    """What the die can bend: centreline radius and least straight between bends in mm, largest angle in radians."""

    radius: float
    least_straight: float = 0.0
    largest_angle: float = np.pi


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A tube fitted to points.

    Attributes:
        chain: the tube.
        evidence: the points as compiled, corners with their bends settled.
        doubt: covariance of the chain's parameters, pose included.
        chi2: weighted sum of squares of the misses.
        dof: residuals less the numbers that they fix.
        converged: the iteration settled.
        minimum: where the iteration ended, with the bounds that hold.
    """

    chain: Chain
    evidence: Evidence
    doubt: Doubt
    chi2: float
    dof: int
    converged: bool
    minimum: Minimum[Chain]


def fit_points(points: list[Point], bends: int, limits: FormingLimits) -> Fit | None:
    """Fit a tube of ``bends`` bends to ``points``, in order from the start end.

    Returns None where a leg would have fewer than two points.
    """
    guess = first_guess(points, bends, limits.radius)
    if guess is None:
        return None
    return fit_from(guess.chain, Evidence(guess.points, bends), limits)


def fit_from(start: Chain, evidence: Evidence, limits: FormingLimits) -> Fit:
    """Fit from a first guess, which is brought within the limits first."""
    lower, upper = bounds(start.bends, limits)
    where = layout(start.bends)
    values = np.clip(start.parameters(), lower, upper)
    start = replace(start, straights=values[where.straights], angles=values[where.angles])
    minimum = minimise(evidence, start, lower, upper)
    doubt = doubt_of(minimum.normal, minimum.held)
    fixed = where.size - int(minimum.held.sum()) - len(doubt.flat)
    return Fit(
        minimum.state,
        evidence,
        doubt,
        minimum.normal.chi2,
        minimum.normal.count - fixed,
        minimum.converged,
        minimum,
    )


def bounds(bends: int, limits: FormingLimits) -> tuple[FloatArray, FloatArray]:
    """Lower and upper bounds (p,) of a chain's parameters.

    The least straight holds between bends; an end straight may shrink to nothing, for a tail can be left
    on and sawn off.
    """
    where = layout(bends)
    lower = np.full(where.size, -np.inf)
    upper = np.full(where.size, np.inf)
    straights = np.full(bends + 1, limits.least_straight)
    straights[[0, -1]] = np.minimum(0.0, limits.least_straight)
    lower[where.straights] = straights
    upper[where.angles] = limits.largest_angle
    return lower, upper
