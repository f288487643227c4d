"""Demands on the state of a least-squares problem, and what holds it at its minimum within them."""

from __future__ import annotations

from typing import Any, Generic, Protocol, TypeVar

import numpy as np
import numpy.typing as npt

from plumbend.estimate.minimise import Problem
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray
from plumbend.records import record

State = TypeVar("State")


@record(eq=False)
class Demanded:
    """Demands on a state: each of ``values`` (m,) must be 0 where ``equal`` (m,), else 0 or more.

    ``jacobian`` (m, p) holds their derivatives by a step.
    """

    values: FloatArray
    jacobian: FloatArray
    equal: npt.NDArray[np.bool_]

    def missed(self) -> FloatArray:
        """(m,) by how much each is missed, 0 where it is met."""
        return np.where(self.equal, np.abs(self.values), np.maximum(-self.values, 0.0))


class DemandingProblem(Problem[State], Protocol[State]):
    """A problem with demands beside its sum of squares."""

    def demanded(self, state: State) -> Demanded:
        """The demands at a state; their number and order stay the same."""

    def curvature(self, state: State, multipliers: FloatArray) -> FloatArray | None:
        """(p, p) second derivatives by a step of half the sum of squares, beside its normal matrix, less those of the
        demands times their multipliers (m,); None where they are not known."""


@record(eq=False)
class HeldMinimum(Generic[State]):
    """Where :func:`plumbend.estimate.constrained.minimise_held` ended.

    Attributes:
        state: the best state.
        normal: normal equations there, with ``weights``.
        weights: as made by the problem.
        demanded: the demands there.
        multipliers: (m,) of the demands: half of what the sum of squares would fall by for each unit that one is
            eased; 0 or more where it is no equality.
        bounds: (p,) the same for bounds, + at the lower and - at the upper one.
        at_lower, at_upper: (p,) True where a bound holds, or leaves no room.
        stationary: largest part of the Lagrangian's gradient, each coordinate measured by its own 1/sqrt(H_ii).
        missed: most by which a demand is missed, likewise.
        slack: most by which a demand that has a multiplier is not at its limit, likewise.
        converged: demands met and nothing left to gain.
        iterations: steps tried.
    """

    state: State
    normal: Normal
    weights: Any
    demanded: Demanded
    multipliers: FloatArray
    bounds: FloatArray
    at_lower: npt.NDArray[np.bool_]
    at_upper: npt.NDArray[np.bool_]
    stationary: float
    missed: float
    slack: float
    converged: bool
    iterations: int

    @property
    def active(self) -> npt.NDArray[np.bool_]:
        """(m,) True for equalities and for the demands that hold the state."""
        return self.demanded.equal | (self.multipliers > 0)
