"""Least squares within smooth demands: sequential least squares.

Each step is the least of a quadratic within the demands as they look from here (:mod:`plumbend.estimate.quadratic`);
it is shortened until |demands missed| weighed with the multipliers, plus the sum of squares, falls (Han 1977; Nocedal &
Wright, Numerical Optimization, ch. 18, from memory), and bent once along the demands where only their curvature stands
in its way. The normal equations lack the curvature of the demands themselves, which the multipliers bring in: that
is learnt from how the exact gradient changes from step to step and, where steps shrink slowly all the same, taken from
differences of it. Demands that cannot all be met as they look
from here are missed by as little as can be, at a price.
"""

from __future__ import annotations

from typing import Generic, TypeVar

import numpy as np

from plumbend.estimate.demanded import Demanded, DemandingProblem, HeldMinimum
from plumbend.estimate.normal import Normal, column_scale
from plumbend.estimate.quadratic import Least, Rows, least_missing, least_quadratic
from plumbend.frames import FloatArray
from plumbend.records import record

State = TypeVar("State")


SETTLED = 4e-8
"""Largest part of the Lagrangian's gradient, and miss of a demand, in doubts, at which nothing is left to gain."""
SLOWLY = 0.3
"""Steps that shrink by less than to this part ask for the curvature in full,"""
NEAR = 1.0
"""which tells little before they have become as short as this, in doubts,"""
LEARNS_BELOW = 3.0
"""Steps longer than this, in doubts, say too little of the place where they end;"""
ENOUGH = 6
"""and costs more than so many steps, by which it is mostly learnt."""
MOST_WEIGHT = 1e7
"""Weight of what is missed, from which on demands that are still missed cannot be met."""
LOOSE = 1e-7
"""Stiffness of a direction that nothing fixes, as part of the stiffest."""
MUCH_WEIGHT = 1e4
"""Weight of what is missed from which on it rules the step;"""
IN_VAIN = 1e-3
"""a step that then takes off less than this part of it shows that the demands cannot be met."""
STRAINED = 30.0
"""Multipliers, over the root of the sum of squares, that demands have only where they all but repeat each other."""
MUCH_DAMPED = 1.0
"""From such damping on it is that which keeps steps short."""
DIFFERENCE = 1e-4
"""Step of the differences, in doubts."""


def minimise_held(
    problem: DemandingProblem[State],
    start: State,
    lower: FloatArray,
    upper: FloatArray,
    *,
    most_iterations: int = 60,
) -> HeldMinimum[State]:
    """Smallest weighted sum of squares within demands and lower <= values <= upper, from a start near it.

    Args:
        problem: gives normal equations and demands, and moves states.
        start: first guess; need not meet the demands, but lies within the bounds.
        lower, upper: (p,) bounds, infinite where there is none.
        most_iterations: steps tried at most.
    """
    search = _Search(problem, start, lower, upper)
    for _ in range(most_iterations):
        if search.settled():
            break
        search.advance()
    return search.ended()


@record(eq=False)
class _Place(Generic[State]):
    """A state with its normal equations and demands."""

    state: State
    normal: Normal
    demanded: Demanded


class _Search(Generic[State]):
    """One run: the state, its quadratic, and the weight of what is missed. All steps are in doubts."""

    def __init__(self, problem: DemandingProblem[State], start: State, lower: FloatArray, upper: FloatArray) -> None:
        self.problem, self.lower, self.upper = problem, lower, upper
        self.movable = lower < upper
        self.weight, self.damping, self.iterations = 1.0, 0.0, 0
        self.curvature: FloatArray | None = None
        self.last = np.inf
        self.lost = False
        self.weights = problem.weigh(start)
        self._stand(_Place(start, problem.normal(start, self.weights), problem.demanded(start)))

    def _stand(self, place: _Place[State]) -> None:
        """Take a place, and the step that it asks for."""
        self.state, self.normal, self.demanded = place.state, place.normal, place.demanded
        self.scale = column_scale(self.normal.hessian)
        matrix = self.demanded.jacobian * self.scale
        own = np.linalg.norm(matrix[:, self.movable], axis=1)
        self.rows = np.where(own > 0, own, 1.0)
        self._plan()

    def _plan(self) -> None:
        self.hessian = self._hessian()
        self.plan, self.priced = self._least(self.demanded.values)
        self.elastic = self.priced and float(self._missed(self._then(self.plan.step)).max(initial=0.0)) > SETTLED

    def _hessian(self) -> FloatArray:
        """(q, q) positive definite, of the coordinates that move, in doubts."""
        scale = self.scale[self.movable]
        matrix = self.normal.hessian[np.ix_(self.movable, self.movable)] * scale[:, None] * scale
        if self.curvature is not None:
            matrix = matrix + self.curvature[np.ix_(self.movable, self.movable)] * scale[:, None] * scale
        eigenvalues, vectors = np.linalg.eigh(matrix)
        # a direction that nothing but demands fixes is all but free, yet stays put where they do not fix it either; one
        # along which the Lagrangian falls off is taken as steep as it falls
        sizes = np.maximum(np.abs(eigenvalues), LOOSE * np.abs(eigenvalues).max(initial=1.0))
        definite: FloatArray = (vectors * (sizes + self.damping)) @ vectors.T
        return definite

    def _bound_rows(self) -> Rows:
        """Bounds as rows on the step."""
        values = self.problem.values(self.state)
        size = int(self.movable.sum())
        scale = self.scale[self.movable]
        below, above = (bound[self.movable] - values[self.movable] for bound in (self.lower, self.upper))
        unit = np.eye(size)
        at_least, at_most = np.isfinite(below), np.isfinite(above)
        matrix = np.vstack([unit[at_least], -unit[at_most]])
        return Rows(matrix, np.concatenate([(below / scale)[at_least], -(above / scale)[at_most]]))

    def _least(self, values: FloatArray) -> tuple[Least, bool]:
        """The step to take where the demands have ``values``, and whether what it misses of them was merely paid for.

        So it is where they contradict each other, and where they all but do: two that say the same when they are met,
        such as legs that are parallel and bends that are alike, differ on the way there by the square of what is
        missed, and to meet both as they look from there would lead far off.

        Its multipliers ``equal`` are those of all demands in their order, ``least`` those of the bounds.
        """
        gradient = (self.normal.gradient * self.scale)[self.movable]
        matrix = (self.demanded.jacobian * self.scale)[:, self.movable] / self.rows[:, None]
        right = -values / self.rows
        alike, bounds = self.demanded.equal, self._bound_rows()
        equal, least = (Rows(matrix[which], right[which]) for which in (alike, ~alike))
        found = least_quadratic(self.hessian, gradient, equal, least.and_also(bounds))
        priced = found is None or self._strained(found)
        if priced:
            found = least_missing(self.hessian, gradient, equal, least, bounds, self.weight)
        if found is None:
            self.lost = True
            return Least(np.zeros(gradient.size), np.zeros(alike.size), np.zeros(bounds.right.size)), True
        of_demands, others = np.zeros(alike.size), least.right.size
        of_demands[alike], of_demands[~alike] = found.equal, found.least[:others]
        return Least(found.step, of_demands, found.least[others:]), priced

    def _strained(self, found: Least) -> bool:
        """Whether a step has multipliers that no gradient where it leads could ask for."""
        slope, step = (self.normal.gradient * self.scale)[self.movable], found.step
        chi2 = max(self.normal.chi2 + float(step @ (2 * slope + self.hessian @ step)), 0.0)
        bearable = max(self.weight, STRAINED * (1 + float(np.sqrt(chi2))))
        return float(np.abs(found.equal).max(initial=0.0)) > bearable

    def _missed(self, demanded: Demanded) -> FloatArray:
        return demanded.missed() / self.rows

    def _merit(self, place: _Place[State]) -> float:
        missed = self._missed(place.demanded)
        return place.normal.chi2 / 2 + self.weight * float(missed.sum()) + float(missed @ missed) / 2

    def _lagrangian(self) -> FloatArray:
        """Gradient (q,) of the Lagrangian where the search stands, in doubts."""
        pull = self.normal.gradient * self.scale - (self.plan.equal / self.rows) @ (self.demanded.jacobian * self.scale)
        slope: FloatArray = pull[self.movable]
        bounds = self._bound_rows()
        slope -= self.plan.least @ bounds.matrix
        return slope

    def settled(self) -> bool:
        """Whether nothing is left to gain, or the demands cannot be met."""
        if self.lost:
            return True
        if self.elastic:
            if self.weight < MUCH_WEIGHT or self.damping >= MUCH_DAMPED:
                return False
            # what is left to gain is in the sum of squares, at a place that is of no use
            return self._relief(self.plan.step) <= IN_VAIN * float(self._missed(self.demanded).sum())
        size = 1 + float(np.sqrt(self.normal.chi2))
        if float(np.abs(self._lagrangian()).max(initial=0.0)) > SETTLED * size:
            return False
        return bool(self._missed(self.demanded).max(initial=0.0) <= SETTLED)

    def advance(self) -> None:
        """One step: as planned, or bent along the demands, or shortened; else the next one is held in more."""
        self.iterations += 1
        length = float(np.linalg.norm(self.plan.step))
        if not self.priced:
            # demands that all but repeat each other have huge multipliers far from where they are met: the weight comes
            # down again, or the last digits of what is missed would outweigh every gain (Powell 1978)
            enough = 2 * float(np.abs(self.plan.equal).max(initial=0.0))
            self.weight = max(enough, (self.weight + enough) / 2)
        elif self.elastic and length <= 0.1 * (1 + float(np.sqrt(self.normal.chi2))) and self._too_cheap():
            self.weight = min(100 * self.weight, MOST_WEIGHT)
            self._plan()
            return
        found = self._better()
        if found is None:
            self.damping = max(10 * self.damping, 1e-2)
            self.lost = self.damping > 1e9
            self._plan()
            return
        place, step = found
        slow = length > SLOWLY * self.last
        self.last = length
        self.damping = self.damping / 10 if self.damping > 1e-4 else 0.0
        if length < LEARNS_BELOW:
            self._learn(place, step)
        self.weights = self.problem.weigh(place.state)
        if self.weights is not None:  # they have changed with the state
            place = _Place(place.state, self.problem.normal(place.state, self.weights), place.demanded)
        self._stand(place)
        if slow and length < NEAR and self.iterations > ENOUGH and not self.elastic:
            self.curvature = self._curvature_missing()
            self.last = np.inf  # what comes is judged by itself
            self._plan()

    def _too_cheap(self) -> bool:
        """Whether what the step misses would be missed less at a higher price."""
        left = float(self._missed(self.demanded).sum())
        return self.weight < MOST_WEIGHT and self._relief(self.plan.step) < left / 2

    def _better(self) -> tuple[_Place[State], FloatArray] | None:
        """A better place along the planned step, and the step there; None where there is none."""
        step = self.plan.step
        now = self._merit(_Place(self.state, self.normal, self.demanded))
        hair = 1e-13 * (1 + now)
        # the quadratic's own promise: its fall is at least half of step.hessian.step
        promised = float(step @ self.hessian @ step) / 2 + self.weight * self._relief(step)
        part = 1.0
        while part > 1e-3:
            place = self._try(part * step)
            if self._merit(place) <= now - 1e-4 * part * promised + hair:
                return place, part * step
            bent = self._bent(step, place.demanded) if part == 1.0 else None
            if bent is not None:
                place = self._try(bent)
                if self._merit(place) <= now - 1e-4 * promised + hair:
                    return place, bent
            part /= 2
        return None

    def _learn(self, place: _Place[State], step: FloatArray) -> None:
        """Take from a step what curvature the normal equations lack along it: a symmetric update of rank one.

        (Davidon 1959; Conn, Gould & Toint, Mathematical Programming 50 (1991), from memory.)
        """
        weights = self.plan.equal / self.rows
        before = self.normal.gradient - weights @ self.demanded.jacobian
        after = place.normal.gradient - weights @ place.demanded.jacobian
        whole = self._whole(step)
        off = after - before - place.normal.hessian @ whole
        if self.curvature is not None:
            off = off - self.curvature @ whole
        # measured in doubts
        seen, way = off * self.scale, whole / self.scale
        along = float(seen @ way)
        if abs(along) > 1e-3 * float(np.linalg.norm(seen)) * float(np.linalg.norm(way)):
            update = np.outer(off, off) / along
            self.curvature = update if self.curvature is None else self.curvature + update

    def _relief(self, step: FloatArray) -> float:
        """How much less of the demands a step misses, as they look from here."""
        return max(float((self._missed(self.demanded) - self._missed(self._then(step))).sum()), 0.0)

    def _then(self, step: FloatArray) -> Demanded:
        """The demands after a step, as they look from here."""
        matrix = (self.demanded.jacobian * self.scale)[:, self.movable]
        return Demanded(self.demanded.values + matrix @ step, self.demanded.jacobian, self.demanded.equal)

    def _whole(self, step: FloatArray) -> FloatArray:
        whole = np.zeros(self.movable.size)
        whole[self.movable] = step * self.scale[self.movable]
        return whole

    def _try(self, step: FloatArray) -> _Place[State]:
        state = self.problem.move(self.state, self._whole(step))
        return _Place(state, self.problem.normal(state, self.weights), self.problem.demanded(state))

    def _bent(self, step: FloatArray, there: Demanded) -> FloatArray | None:
        """The step with the demands' curvature made good, from their values where it led."""
        matrix = (self.demanded.jacobian * self.scale)[:, self.movable]
        plan, priced = self._least(there.values - matrix @ step)
        return None if priced else plan.step

    def _curvature_missing(self) -> FloatArray:
        """(p, p) the Lagrangian's Hessian less the normal equations' matrix, by forward differences of its gradient."""
        size = self.movable.size
        weights = self.plan.equal / self.rows
        base = self.normal.gradient - weights @ self.demanded.jacobian
        hessian = np.zeros((size, size))
        for i in np.flatnonzero(self.movable).tolist():
            step = np.zeros(size)
            step[i] = DIFFERENCE * self.scale[i]
            state = self.problem.move(self.state, step)
            gradient = self.problem.normal(state, self.weights).gradient
            hessian[i] = (gradient - weights @ self.problem.demanded(state).jacobian - base) / step[i]
        missing: FloatArray = (hessian + hessian.T) / 2 - self.normal.hessian
        return missing

    def ended(self) -> HeldMinimum[State]:
        """The state with everything said of it."""
        values = self.problem.values(self.state)
        multipliers = self.plan.equal / self.rows
        bounds = np.zeros(values.size)
        within = np.flatnonzero(self.movable)
        at_least = within[np.isfinite(self.lower[within])]
        at_most = within[np.isfinite(self.upper[within])]
        bounds[at_least] += self.plan.least[: at_least.size]
        bounds[at_most] -= self.plan.least[at_least.size :]
        missed = float(self._missed(self.demanded).max(initial=0.0))
        stationary = float(np.abs(self._lagrangian()).max(initial=0.0))
        room = np.where(self.demanded.equal | (multipliers <= 0), 0.0, self.demanded.values / self.rows)
        fixed = ~self.movable
        return HeldMinimum(
            self.state,
            self.normal,
            self.weights,
            self.demanded,
            multipliers,
            bounds / self.scale,
            fixed | (bounds > 0),
            fixed | (bounds < 0),
            stationary,
            missed,
            float(np.abs(room).max(initial=0.0)),
            not self.elastic and not self.lost and missed <= 100 * SETTLED and self.settled(),
            self.iterations,
        )
