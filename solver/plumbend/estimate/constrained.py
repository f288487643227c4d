"""Least squares within smooth demands: sequential least squares.

Each step is the least of a quadratic within the demands as they look from here (:mod:`plumbend.estimate.quadratic`);
it is shortened until |demands missed| weighed with the multipliers, plus the sum of squares, falls (Han 1977; Nocedal &
Wright, Numerical Optimization, ch. 18, from memory), and bent once along the demands where only their curvature stands
in its way. The normal equations lack the curvature of the demands themselves, which the multipliers bring in: the
problem tells it once where it knows it, the rest is learnt from how the exact gradient changes from step to step and,
where steps shrink slowly all the same, taken from differences of it. Demands that cannot all be met as they look from
here are missed by as little as can be, at a price. Where steps do not bring them nearer, the search goes on from the
nearest place where they are met, and ends where none is found (:mod:`plumbend.estimate.reaching`).
"""

from __future__ import annotations

from typing import Generic, TypeVar

import numpy as np

from plumbend.estimate.curvature import by_differences, learnt
from plumbend.estimate.demanded import Demanded, DemandingProblem, HeldMinimum
from plumbend.estimate.normal import Normal, column_scale, half_inverse
from plumbend.estimate.quadratic import Least, Rows, least_missing, least_quadratic
from plumbend.estimate.reaching import reach
from plumbend.frames import FloatArray
from plumbend.records import record

State = TypeVar("State")


SETTLED = 4e-8
"""Largest part of the Lagrangian's gradient, and miss of a demand, in doubts, at which nothing is left to gain."""
UNPAID = 1e-10
"""Part of the sum of squares that demands may still cost or spare by not being exactly at their limits."""
SLOWLY = 0.3
"""Steps that shrink by less than to this part ask for the curvature in full,"""
NEAR = 1.0
"""which tells little before they have become as short as this, in doubts,"""
TOLD_BELOW = 10.0
"""After a step shorter than this, in doubts, the multipliers are near enough to ask once what curvature they bring in;
before that it leads astray."""
LEARNS_BELOW = 3.0
"""Steps longer than this, in doubts, say too little of the place where they end;"""
ENOUGH = 9
"""and costs more than so many steps, by which it is mostly learnt."""
MOST_WEIGHT = 1e7
"""Weight of what is missed, from which on demands that are still missed cannot be met."""
STEPS_TO_MEET = 2
"""Steps toward where demands are met leave after so many"""
MISSED_STILL = 0.5
"""no more than this part of what was missed,"""
MUCH_MISSED = 1.0
"""if that was so much at all, in doubts."""
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
        self.lost = self.told = self.reached = False
        self.sums: list[float] = []
        self.weights = problem.weigh(start)
        self._stand(_Place(start, problem.normal(start, self.weights), problem.demanded(start)))

    def _stand(self, place: _Place[State]) -> None:
        """Take a place, and the step that it asks for."""
        self.state, self.normal, self.demanded = place.state, place.normal, place.demanded
        self.scale = column_scale(self.normal.hessian)
        self.gradient = (self.normal.gradient * self.scale)[self.movable]
        self.matrix = (self.demanded.jacobian * self.scale)[:, self.movable]
        own = np.linalg.norm(self.matrix, axis=1)
        self.rows = np.where(own > 0, own, 1.0)
        self.bounds = self._bound_rows()
        self._plan()

    def _plan(self) -> None:
        self.hessian, self.spread = self._hessian()
        self.plan, self.priced = self._least(self.demanded.values)
        self.elastic = self.priced and float(self._missed(self._then(self.plan.step)).max(initial=0.0)) > SETTLED

    def _hessian(self) -> tuple[FloatArray, FloatArray]:
        """Positive definite H (q, q) of the coordinates that move, in doubts, and W (q, q), W W^T its inverse."""
        scale = self.scale[self.movable]
        matrix = self.normal.hessian if self.curvature is None else self.normal.hessian + self.curvature
        matrix = matrix[np.ix_(self.movable, self.movable)] * scale[:, None] * scale
        damped = matrix + self.damping * np.eye(len(matrix)) if self.damping else matrix
        half = half_inverse(damped, LOOSE)
        if half is not None:
            return damped, half
        eigenvalues, vectors = np.linalg.eigh(matrix)
        # a direction that nothing but demands fixes is all but free, yet stays put where they do not fix it either; one
        # along which the Lagrangian falls off is taken as steep as it falls
        sizes = np.maximum(np.abs(eigenvalues), LOOSE * np.abs(eigenvalues).max(initial=1.0)) + self.damping
        return (vectors * sizes) @ vectors.T, vectors / np.sqrt(sizes)

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
        matrix, right = self.matrix / self.rows[:, None], -values / self.rows
        alike = self.demanded.equal
        equal, least = (Rows(matrix[which], right[which]) for which in (alike, ~alike))
        found = least_quadratic(self.spread, self.gradient, equal, least.and_also(self.bounds))
        priced = found is None or self._strained(found)
        if priced:
            found = least_missing(self.spread, self.gradient, equal, least, self.bounds, self.weight)
        if found is None:
            self.lost = True
            return Least(np.zeros(self.gradient.size), np.zeros(alike.size), np.zeros(self.bounds.right.size)), True
        of_demands, others = np.zeros(alike.size), least.right.size
        of_demands[alike], of_demands[~alike] = found.equal, found.least[:others]
        return Least(found.step, of_demands, found.least[others:]), priced

    def _strained(self, found: Least) -> bool:
        """Whether a step has multipliers that no gradient where it leads could ask for."""
        slope, step = self.gradient, found.step
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
        pull: FloatArray = self.gradient - (self.plan.equal / self.rows) @ self.matrix
        return pull - self.plan.least @ self.bounds.matrix

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
        if float(np.abs(self.plan.equal) @ np.abs(self.demanded.values / self.rows)) > UNPAID * size**2:
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
            if self._in_vain():
                self._reach()
            else:
                self._plan()
            return
        place, step = found
        slow = length > SLOWLY * self.last
        self.last = length
        self.damping = self.damping / 10 if self.damping > 1e-4 else 0.0
        exact = None
        if length < TOLD_BELOW and not self.told and not self.elastic:
            self.told = True
            exact = self.problem.curvature(place.state, self.plan.equal / self.rows)
        if exact is not None:
            self.curvature = exact
        elif length < LEARNS_BELOW:
            self._learn(place, step)
        self.weights = self.problem.weigh(place.state)
        if self.weights is not None:  # they have changed with the state
            place = _Place(place.state, self.problem.normal(place.state, self.weights), place.demanded)
        self._stand(place)
        self.sums.append(float(self._missed(self.demanded).sum()))
        if self._in_vain(self.sums[-1 - STEPS_TO_MEET] if len(self.sums) > STEPS_TO_MEET else np.inf):
            self._reach()
        elif slow and length < NEAR and self.iterations > ENOUGH and not self.elastic:
            self.curvature = self._curvature_missing()
            self.last = np.inf  # what comes is judged by itself
            self._plan()

    def _in_vain(self, since: float = 0.0) -> bool:
        """Whether much is missed of the demands, and more than half of what was some steps ago."""
        return not self.reached and float(self._missed(self.demanded).sum()) > max(MISSED_STILL * since, MUCH_MISSED)

    def _reach(self) -> None:
        """Stand where the demands are met; or where they are missed by least, and the search is lost."""
        self.reached = True
        found = reach(self.problem, self.state, self.lower, self.upper)
        values = self.problem.values(found.state)
        within = np.where(self.movable, np.clip(values, self.lower, self.upper) - values, 0.0)
        state = self.problem.move(found.state, within)
        self.weights, self.last, self.lost = self.problem.weigh(state), np.inf, not found.met
        self._stand(_Place(state, self.problem.normal(state, self.weights), self.problem.demanded(state)))

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
        """Take from a step what curvature the normal equations lack along it."""
        weights = self.plan.equal / self.rows
        before = self.normal.gradient - weights @ self.demanded.jacobian
        after = place.normal.gradient - weights @ place.demanded.jacobian
        whole = self._whole(step)
        self.curvature = learnt(self.curvature, after - before - place.normal.hessian @ whole, whole, self.scale)

    def _relief(self, step: FloatArray) -> float:
        """How much less of the demands a step misses, as they look from here."""
        return max(float((self._missed(self.demanded) - self._missed(self._then(step))).sum()), 0.0)

    def _then(self, step: FloatArray) -> Demanded:
        """The demands after a step, as they look from here."""
        return Demanded(self.demanded.values + self.matrix @ step, self.demanded.jacobian, self.demanded.equal)

    def _whole(self, step: FloatArray) -> FloatArray:
        whole = np.zeros(self.movable.size)
        whole[self.movable] = step * self.scale[self.movable]
        return whole

    def _try(self, step: FloatArray) -> _Place[State]:
        state = self.problem.move(self.state, self._whole(step))
        return _Place(state, self.problem.normal(state, self.weights), self.problem.demanded(state))

    def _bent(self, step: FloatArray, there: Demanded) -> FloatArray | None:
        """The step with the demands' curvature made good, from their values where it led."""
        plan, priced = self._least(there.values - self.matrix @ step)
        return None if priced else plan.step

    def _curvature_missing(self) -> FloatArray:
        """(p, p) the Lagrangian's Hessian less the normal equations' matrix, by differences of its exact gradient."""
        weights = self.plan.equal / self.rows

        def gradient(step: FloatArray) -> FloatArray:
            state = self.problem.move(self.state, step)
            pull: FloatArray = self.problem.normal(state, self.weights).gradient
            return pull - weights @ self.problem.demanded(state).jacobian

        return by_differences(gradient, self.movable, DIFFERENCE * self.scale) - self.normal.hessian

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
