"""The fit: the chain that misses the evidence least, for its accuracies, within what the die can bend."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from plumbend.estimate.chances import beyond_chance
from plumbend.estimate.doubt import Doubt, doubt_of
from plumbend.estimate.minimise import Minimum, minimise
from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.chain import Chain, layout
from plumbend.shape.evidence import Evidence, Miss

if TYPE_CHECKING:  # a tube without demands does not pay for them
    from plumbend.estimate.demanded import HeldMinimum
    from plumbend.estimate.reaching import Reached


MOST_KEPT = 60
"""Steps that bring a tube to what it must keep, at most; five are usual."""
NEARLY = 1e-2
"""Part of the sum of squares that a tube may lie above its least before it is brought to what it must keep."""
UNSEEN = 1e-4
"""A demand missed by less, in doubts, is met."""


@record
class FormingLimits:
    """What the die can bend: centreline radius and least straight between bends in mm, largest angle in radians."""

    radius: float
    least_straight: float = 0.0
    largest_angle: float = np.pi


@record(eq=False)
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
        held: how the demands on the tube hold it; None where there are none.
        runner_up: the fit with another number of bends, where they were counted and it does nearly as well.
    """

    chain: Chain
    evidence: Evidence
    doubt: Doubt
    minimum: Minimum[Chain]
    planar: bool = False
    widening: float = 1.0
    also_fitted: int = 0
    held: HeldMinimum[Chain] | None = None
    runner_up: Fit | None = None

    @property
    def chi2(self) -> float:
        """Weighted sum of squares of the misses."""
        return self.minimum.normal.chi2

    @property
    def dof(self) -> int:
        """Residuals less the numbers that they fix; 0 where places that are off together count as fewer than these."""
        held = int(self.minimum.held.sum()) + self.doubt.rank
        fixed = self.evidence.size + self.also_fitted - held - len(self.doubt.flat)
        return max(self.minimum.normal.count - fixed, 0)

    @property
    def demands_met(self) -> bool:
        """Whether all that the tube must meet or keep to is, to less than can be seen."""
        return self.held is None or self.held.missed < UNSEEN

    @property
    def covariance(self) -> FloatArray:
        """(p, p) of the chain's parameters, widened where the evidence disagrees with itself."""
        return self.doubt.covariance * self.widening**2

    @property
    def answer(self) -> FloatArray:
        """(p, p): how far its numbers move for each unit of the gradient; their covariance, unwidened, where all that
        was measured errs by itself."""
        if self.evidence.scan is None or not self.evidence.scan.errs_together:
            return self.doubt.covariance
        demanded = None if self.held is None else self.held.demanded.jacobian[self.held.active]
        return doubt_of(self.minimum.normal, self.minimum.held, demanded).covariance

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
        return self.evidence.misses(self.chain, self.doubt.covariance, self.answer)


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
    """Fit from a first guess, which is brought within the limits first, and to the demands where there are any; it
    is left unfinished as :func:`~plumbend.estimate.minimise.minimise` says."""
    if evidence.is_held or evidence.sides_told:
        return _fit_held(start, evidence, limits, planar=planar, most_iterations=most_iterations)
    return fit_free(start, evidence, limits, planar=planar, most_iterations=most_iterations, least_gain=least_gain)


def _fit_held(start: Chain, evidence: Evidence, limits: FormingLimits, *, planar: bool, most_iterations: int) -> Fit:
    """The same beside places on the body, or with demands.

    The tube is fitted first as if nothing had to be kept, what is to be met exactly being merely measured. From there
    it is brought to what must be kept, so that it passes a place to keep clear of on the side on which it would have.
    """
    # only such a tube pays for it
    from plumbend.shape.held import as_measured, drawn_over, wrong_sides

    def settled(begun: Chain, on: Evidence, left: float = 0.0) -> Chain:
        begun, lower, upper = brought_within(begun, limits, planar=planar)
        return minimise(on, begun, lower, upper, most_iterations=most_iterations, left=left).state

    measured = as_measured(evidence) if evidence.is_held else evidence
    begun = settled(start, measured, NEARLY)
    wrong = wrong_sides(begun, evidence)
    if wrong:
        # drawn over to the sides told, and then left to what was measured
        drawn = settled(begun, drawn_over(measured, wrong), NEARLY)
        begun = settled(drawn, measured, NEARLY)
        if wrong_sides(begun, evidence):
            begun = drawn
    if evidence.is_held:
        return fit_kept(begun, evidence, limits, planar=planar, most_iterations=min(most_iterations, MOST_KEPT))
    return fit_free(begun, evidence, limits, planar=planar, most_iterations=most_iterations)


def fit_kept(
    begun: Chain, evidence: Evidence, limits: FormingLimits, *, planar: bool = False, most_iterations: int = MOST_KEPT
) -> Fit:
    """Bring a tube that fits what was measured to all that must be kept."""
    from plumbend.estimate.constrained import minimise_held  # only a tube that must keep something pays for it
    from plumbend.shape.held import HeldEvidence

    begun, lower, upper = brought_within(begun, limits, planar=planar)
    held = minimise_held(HeldEvidence(evidence), begun, lower, upper, most_iterations=most_iterations)
    minimum = Minimum(
        held.state, held.normal, held.weights, held.at_lower, held.at_upper, held.converged, held.iterations
    )
    doubt = _doubt_at(evidence, minimum, held.demanded.jacobian[held.active])
    return Fit(held.state, evidence, doubt, minimum, planar, held=held)


def reached(start: Chain, evidence: Evidence, limits: FormingLimits, *, planar: bool = False) -> Reached[Chain]:
    """A tube brought to where it keeps all that it must, whatever it then misses; or where that leads to nothing."""
    from plumbend.estimate.reaching import reach  # only a tube that must keep something pays for it
    from plumbend.shape.held import HeldEvidence

    start, lower, upper = brought_within(start, limits, planar=planar)
    return reach(HeldEvidence(evidence), start, lower, upper)


def fit_free(
    start: Chain,
    evidence: Evidence,
    limits: FormingLimits,
    *,
    planar: bool = False,
    most_iterations: int = 200,
    least_gain: float = 0.0,
) -> Fit:
    """The same with no regard to what must be met or kept to."""
    start, lower, upper = brought_within(start, limits, planar=planar)
    minimum = minimise(evidence, start, lower, upper, most_iterations=most_iterations, least_gain=least_gain)
    return Fit(minimum.state, evidence, _doubt_at(evidence, minimum), minimum, planar)


def _doubt_at(evidence: Evidence, minimum: Minimum[Chain], demanded: FloatArray | None = None) -> Doubt:
    """Covariance at a minimum, demands held along their rows (m, p)."""
    doubt = doubt_of(minimum.normal, minimum.held, demanded)
    if evidence.scan is None or not evidence.scan.errs_together:
        return doubt
    # the sum of squares takes every place to err on its own: the numbers scatter as its gradient really does
    noise = evidence.gradient_noise(minimum.state, minimum.weights)
    return replace(doubt, covariance=doubt.covariance @ noise @ doubt.covariance)


def brought_within(start: Chain, limits: FormingLimits, *, planar: bool) -> tuple[Chain, FloatArray, FloatArray]:
    """A first guess within the limits, and the lower and upper bounds (p,) that these are."""
    lower, upper = bounds(start.bends, limits)
    where = layout(start.bends)
    if planar:
        flat = np.pi * np.round(start.rotations / np.pi)
        start = replace(start, rotations=flat)
        lower[where.rotations] = upper[where.rotations] = flat[1:]
    values = np.clip(start.parameters(), lower, upper)
    return replace(start, straights=values[where.straights], angles=values[where.angles]), lower, upper


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
