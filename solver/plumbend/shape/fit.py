"""The fit: the chain that misses the evidence least, for its accuracies, within what the die can bend."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from plumbend.estimate.chances import beyond_chance
from plumbend.estimate.doubt import Doubt, doubt_of
from plumbend.estimate.minimise import Minimum, minimise
from plumbend.frames import FloatArray
from plumbend.shape.chain import Chain, layout
from plumbend.shape.evidence import Evidence, Miss


@dataclass(frozen=True, slots=True)
class FormingLimits:
    """What the die can bend: centreline radius and least straight between bends in mm, largest angle in radians."""

    radius: float
    least_straight: float = 0.0
    largest_angle: float = np.pi


@dataclass(frozen=True, slots=True, eq=False)
class Fit:
    """A tube fitted to what was measured.

    Attributes:
        chain: the tube.
        evidence: what was measured as compiled, corners with their bends settled.
        doubt: covariance of the chain's parameters, pose included.
        minimum: where the iteration ended, with the bounds that hold.
        planar: rotations were held at 0 or half a turn because the tube was told to be planar.
        widening: what every standard deviation is multiplied by, because the evidence disagrees with itself.
        also_fitted: numbers that the evidence had to fix beside the chain's, such as a part's own radius.
    """

    chain: Chain
    evidence: Evidence
    doubt: Doubt
    minimum: Minimum[Chain]
    planar: bool = False
    widening: float = 1.0
    also_fitted: int = 0

    @property
    def chi2(self) -> float:
        """Weighted sum of squares of the misses."""
        return self.minimum.normal.chi2

    @property
    def dof(self) -> int:
        """Residuals less the numbers that they fix."""
        fixed = self.evidence.size + self.also_fitted - int(self.minimum.held.sum()) - len(self.doubt.flat)
        return self.minimum.normal.count - fixed

    @property
    def covariance(self) -> FloatArray:
        """(p, p) of the chain's parameters, widened where the evidence disagrees with itself."""
        return self.doubt.covariance * self.widening**2

    @property
    def at_limit(self) -> npt.NDArray[np.bool_]:
        """(p,) True for straights and angles that a limit of the die holds."""
        held = self.minimum.held.copy()
        if self.planar:
            held[layout(self.chain.bends).rotations] = False
        return held

    @property
    def converged(self) -> bool:
        """Whether the iteration settled."""
        return self.minimum.converged

    def misses(self) -> list[Miss]:
        """Every point's miss, in the points' order."""
        return self.evidence.misses(self.chain, self.doubt.covariance)


def widened(fit: Fit) -> Fit:
    """The same fit, its doubts scaled up where what was measured is impossible for its accuracies.

    They grow by the square root of the sum of squares over its degrees of freedom, and never shrink.
    """
    if not beyond_chance(fit.chi2, fit.dof):
        return fit
    return replace(fit, widening=math.sqrt(fit.chi2 / fit.dof))


def fit_from(
    start: Chain,
    evidence: Evidence,
    limits: FormingLimits,
    *,
    planar: bool = False,
    most_iterations: int = 200,
    least_gain: float = 0.0,
) -> Fit:
    """Fit from a first guess, which is brought within the limits first; it is left unfinished as
    :func:`~plumbend.estimate.minimise.minimise` says."""
    lower, upper = bounds(start.bends, limits)
    where = layout(start.bends)
    if planar:
        flat = np.pi * np.round(start.rotations / np.pi)
        start = replace(start, rotations=flat)
        lower[where.rotations] = upper[where.rotations] = flat[1:]
    values = np.clip(start.parameters(), lower, upper)
    start = replace(start, straights=values[where.straights], angles=values[where.angles])
    minimum = minimise(evidence, start, lower, upper, most_iterations=most_iterations, least_gain=least_gain)
    return Fit(minimum.state, evidence, doubt_of(minimum.normal, minimum.held), minimum, planar)


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
