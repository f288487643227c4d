"""Where demands can all be met, sought from a state that misses them; or that it leads nowhere.

Only what is missed is made less, by Gauss-Newton steps; of all that would do alike each is the one that moves what was
measured least, for its doubts. So a step takes a small system of as many rows as demands are missed. Where what is
missed hardly falls any more it has a least there, and from here the demands cannot be met together: those that are
then missed pull against each other. (The restoration phase of Fletcher & Leyffer, Mathematical Programming 91 (2002),
and the reading of its end after Chinneck, Feasibility and Infeasibility in Optimization, 2008, both from memory.)
"""

from __future__ import annotations

from typing import Generic, TypeVar

import numpy as np
import numpy.typing as npt

from plumbend.estimate.demanded import Demanded, DemandingProblem
from plumbend.estimate.normal import Normal, column_scale
from plumbend.frames import FloatArray
from plumbend.records import record

State = TypeVar("State")

MET = 1e-7
"""What is missed by less, in doubts, is met."""
MOST_STEPS = 60
"""Steps tried, at most; where all can be met five are usual."""
LEADS_ON = 0.05
"""Part of the squares missed that so many steps tried must take off together, or it leads nowhere."""
STEPS_TO_JUDGE = 6
LOOSE = 1e-6
"""Stiffness of a direction that nothing measured fixes, as part of the stiffest."""
MUCH_DAMPED = 1e6
"""Damping from which on no step is left."""


@record(eq=False)
class Reached(Generic[State]):
    """Where the way led.

    Attributes:
        state: the state.
        missed: (m,) by how much each demand is missed, in doubts that what was measured leaves of it.
        past_bounds: a bound is passed.
    """

    state: State
    missed: FloatArray
    past_bounds: bool

    @property
    def met(self) -> bool:
        """Whether all demands are met within the bounds."""
        return not self.past_bounds and float(self.missed.max(initial=0.0)) < MET


def reach(problem: DemandingProblem[State], start: State, lower: FloatArray, upper: FloatArray) -> Reached[State]:
    """Go from a start to where the demands are met and lower <= values <= upper, or missed by least.

    Args:
        problem: gives demands, and by its normal equations what moves at little cost.
        start: need neither meet the demands nor lie within the bounds.
        lower, upper: (p,) infinite where there is none; what has no room between them is not moved.
    """
    spread = _of_a_doubt(problem.normal(start, problem.weigh(start)), lower < upper)

    def look(state: State) -> Demanded:
        """Demands and bounds, their derivatives by steps of a doubt."""
        demanded, bounds = problem.demanded(state), _bounds(problem.values(state), lower, upper)
        return Demanded(
            np.concatenate([demanded.values, bounds.values]),
            np.concatenate([demanded.jacobian, bounds.jacobian]) @ spread,
            np.concatenate([demanded.equal, bounds.equal]),
        )

    state, seen = start, look(start)
    sizes = np.linalg.norm(seen.jacobian, axis=1)
    sizes[sizes == 0] = 1.0
    missed = seen.missed() / sizes
    damping = 0.0
    sums = [float(missed @ missed)]
    for _ in range(MOST_STEPS):
        if missed.max(initial=0.0) < MET or damping > MUCH_DAMPED:
            break
        on = seen.equal | (missed > 0)
        rows, off = seen.jacobian[on] / sizes[on, None], seen.values[on] / sizes[on]
        step = -rows.T @ _solved(rows @ rows.T, off, damping)
        there = problem.move(state, spread @ step)
        looked = look(there)
        then = looked.missed() / sizes
        left = float(then @ then)
        if left < sums[-1]:
            promised = sums[-1] - float(np.square(off + rows @ step).sum())
            gain = (sums[-1] - left) / promised if promised > 0 else 1.0
            damping = damping / 10 if gain > 0.75 else 2 * damping if gain < 0.25 else damping
            damping = damping if damping > 1e-6 else 0.0
            state, seen, missed = there, looked, then
            sums.append(left)
        else:
            damping = max(10 * damping, 1e-3)
            sums.append(sums[-1])
        if len(sums) > STEPS_TO_JUDGE and sums[-1 - STEPS_TO_JUDGE] - sums[-1] < LEADS_ON * sums[-1]:
            break
    count = problem.demanded(state).values.size
    return Reached(state, missed[:count], bool(missed[count:].max(initial=0.0) >= MET))


def _solved(gram: FloatArray, off: FloatArray, damping: float) -> FloatArray:
    """Weights of the rows, the least of many where rows repeat each other."""
    if damping:
        return np.asarray(np.linalg.solve(gram + damping * np.eye(len(gram)), off), dtype=float)
    return np.asarray(np.linalg.lstsq(gram, off, rcond=1e-10)[0], dtype=float)


def _of_a_doubt(normal: Normal, movable: npt.NDArray[np.bool_]) -> FloatArray:
    """(p, q) steps by a doubt each along q directions that do not mix, of those coordinates that move."""
    scale = column_scale(normal.hessian)[movable]
    matrix = normal.hessian[np.ix_(movable, movable)] * scale[:, None] * scale
    eigenvalues, vectors = np.linalg.eigh(matrix)
    stiffest = float(eigenvalues.max(initial=0.0)) or 1.0
    spread = np.zeros((movable.size, scale.size))
    spread[movable] = scale[:, None] * vectors / np.sqrt(np.maximum(eigenvalues, LOOSE * stiffest))
    return spread


def _bounds(values: FloatArray, lower: FloatArray, upper: FloatArray) -> Demanded:
    """Bounds as demands."""
    unit, room = np.eye(values.size), lower < upper
    below, above = np.isfinite(lower) & room, np.isfinite(upper) & room
    return Demanded(
        np.concatenate([(values - lower)[below], (upper - values)[above]]),
        np.concatenate([unit[below], -unit[above]]),
        np.zeros(int(below.sum() + above.sum()), dtype=bool),
    )
