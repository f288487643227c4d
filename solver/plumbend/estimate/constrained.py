"""Least squares within smooth demands: sequential least squares.

Each step is the least of a quadratic within the demands as they look from here (:mod:`plumbend.estimate.outlook`);
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
from plumbend.estimate.normal import Normal
from plumbend.estimate.outlook import Outlook
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
ENOUGH = 9
"""and costs more than so many steps, by which it is mostly learnt."""
TOLD_BELOW = 10.0
"""After a step shorter than this, in doubts, the multipliers are near enough to ask once what curvature they bring in;
before that it leads astray."""
LEARNS_BELOW = 3.0
"""Steps longer than this, in doubts, say too little of the place where they end."""
MOST_WEIGHT = 1e7
"""Weight of what is missed, from which on demands that are still missed cannot be met."""
MUCH_WEIGHT = 1e4
"""Weight of what is missed from which on it rules the step;"""
IN_VAIN = 1e-3
"""a step that then takes off less than this part of it shows that the demands cannot be met."""
STEPS_TO_MEET = 2
"""Steps toward where demands are met leave after so many"""
MISSED_STILL = 0.5
"""no more than this part of what was missed,"""
MUCH_MISSED = 1.0
"""if that was so much at all, in doubts."""
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
    """One run: the state, how things look from there, the step planned, and the weight of what is missed. All steps
    are in doubts."""

    def __init__(self, problem: DemandingProblem[State], start: State, lower: FloatArray, upper: FloatArray) -> None:
        self.problem, self.lower, self.upper = problem, lower, upper
        self.weight, self.damping, self.iterations = 1.0, 0.0, 0
        self.curvature: FloatArray | None = None
        self.last = np.inf
        self.lost = self.told = self.reached = False
        self.sums: list[float] = []
        self.weights = problem.weigh(start)
        self._stand(_Place(start, problem.normal(start, self.weights), problem.demanded(start)))

    def _stand(self, place: _Place[State]) -> None:
        """Take a place, and the step that it asks for."""
        self.place = place
        values = self.problem.values(place.state)
        self.outlook = Outlook(place.normal, place.demanded, values, self.lower, self.upper)
        self._plan()

    def _plan(self) -> None:
        self.outlook.bend(self.curvature, self.damping)
        found = self.outlook.least(self.place.demanded.values, self.weight)
        self.lost = self.lost or found is None
        self.plan, self.priced = (self.outlook.staying(), True) if found is None else found
        self.elastic = self.priced and float(self.outlook.then_missed(self.plan.step).max(initial=0.0)) > SETTLED

    def _multipliers(self) -> FloatArray:
        multipliers: FloatArray = self.plan.equal / self.outlook.rows
        return multipliers

    def _missed(self) -> FloatArray:
        return self.outlook.missed(self.place.demanded)

    def _merit(self, place: _Place[State]) -> float:
        missed = self.outlook.missed(place.demanded)
        return place.normal.chi2 / 2 + self.weight * float(missed.sum()) + float(missed @ missed) / 2

    def settled(self) -> bool:
        """Whether nothing is left to gain, or the demands cannot be met."""
        if self.lost:
            return True
        if self.elastic:
            if self.weight < MUCH_WEIGHT or self.damping >= MUCH_DAMPED:
                return False
            # what is left to gain is in the sum of squares, at a place that is of no use
            return self.outlook.relief(self.plan.step) <= IN_VAIN * float(self._missed().sum())
        size = 1 + float(np.sqrt(self.place.normal.chi2))
        if float(np.abs(self.outlook.lagrangian(self.plan)).max(initial=0.0)) > SETTLED * size:
            return False
        if float(np.abs(self.plan.equal) @ np.abs(self.place.demanded.values / self.outlook.rows)) > UNPAID * size**2:
            return False
        return bool(self._missed().max(initial=0.0) <= SETTLED)

    def advance(self) -> None:
        """One step: as planned, or bent along the demands, or shortened; else the next one is held in more."""
        self.iterations += 1
        length = float(np.linalg.norm(self.plan.step))
        if not self.priced:
            # demands that all but repeat each other have huge multipliers far from where they are met: the weight comes
            # down again, or the last digits of what is missed would outweigh every gain (Powell 1978)
            enough = 2 * float(np.abs(self.plan.equal).max(initial=0.0))
            self.weight = max(enough, (self.weight + enough) / 2)
        elif self.elastic and length <= 0.1 * (1 + float(np.sqrt(self.place.normal.chi2))) and self._too_cheap():
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
            exact = self.problem.curvature(place.state, self._multipliers())
        if exact is not None:
            self.curvature = exact
        elif length < LEARNS_BELOW:
            self._learn(place, step)
        self.weights = self.problem.weigh(place.state)
        if self.weights is not None:  # they have changed with the state
            place = _Place(place.state, self.problem.normal(place.state, self.weights), place.demanded)
        self._stand(place)
        self.sums.append(float(self._missed().sum()))
        if self._in_vain(self.sums[-1 - STEPS_TO_MEET] if len(self.sums) > STEPS_TO_MEET else np.inf):
            self._reach()
        elif slow and length < NEAR and self.iterations > ENOUGH and not self.elastic:
            self.curvature = self._curvature_missing()
            self.last = np.inf  # what comes is judged by itself
            self._plan()

    def _in_vain(self, since: float = 0.0) -> bool:
        """Whether much is missed of the demands, and more than half of what was some steps ago."""
        return not self.reached and float(self._missed().sum()) > max(MISSED_STILL * since, MUCH_MISSED)

    def _reach(self) -> None:
        """Stand where the demands are met; or where they are missed by least, and the search is lost."""
        self.reached = True
        found = reach(self.problem, self.place.state, self.lower, self.upper)
        values = self.problem.values(found.state)
        within = np.where(self.outlook.movable, np.clip(values, self.lower, self.upper) - values, 0.0)
        state = self.problem.move(found.state, within)
        self.weights, self.last, self.lost = self.problem.weigh(state), np.inf, not found.met
        self._stand(_Place(state, self.problem.normal(state, self.weights), self.problem.demanded(state)))

    def _too_cheap(self) -> bool:
        """Whether what the step misses would be missed less at a higher price."""
        left = float(self._missed().sum())
        return self.weight < MOST_WEIGHT and self.outlook.relief(self.plan.step) < left / 2

    def _better(self) -> tuple[_Place[State], FloatArray] | None:
        """A better place along the planned step, and the step there; None where there is none."""
        step = self.plan.step
        now = self._merit(self.place)
        hair = 1e-13 * (1 + now)
        # the quadratic's own promise: its fall is at least half of step.hessian.step
        promised = float(step @ self.outlook.hessian @ step) / 2 + self.weight * self.outlook.relief(step)
        part = 1.0
        while part > 1e-3:
            place = self._try(part * step)
            if self._merit(place) <= now - 1e-4 * part * promised + hair:
                return place, part * step
            bent = self.outlook.bent(step, place.demanded, self.weight) if part == 1.0 else None
            if bent is not None:
                place = self._try(bent)
                if self._merit(place) <= now - 1e-4 * promised + hair:
                    return place, bent
            part /= 2
        return None

    def _learn(self, place: _Place[State], step: FloatArray) -> None:
        """Take from a step what curvature the normal equations lack along it."""
        weights = self._multipliers()
        before = self.place.normal.gradient - weights @ self.place.demanded.jacobian
        after = place.normal.gradient - weights @ place.demanded.jacobian
        whole = self.outlook.whole(step)
        self.curvature = learnt(
            self.curvature, after - before - place.normal.hessian @ whole, whole, self.outlook.scale
        )

    def _try(self, step: FloatArray) -> _Place[State]:
        state = self.problem.move(self.place.state, self.outlook.whole(step))
        return _Place(state, self.problem.normal(state, self.weights), self.problem.demanded(state))

    def _curvature_missing(self) -> FloatArray:
        """(p, p) the Lagrangian's Hessian less the normal equations' matrix, by differences of its exact gradient."""
        weights = self._multipliers()

        def gradient(step: FloatArray) -> FloatArray:
            state = self.problem.move(self.place.state, step)
            pull: FloatArray = self.problem.normal(state, self.weights).gradient
            return pull - weights @ self.problem.demanded(state).jacobian

        steps = DIFFERENCE * self.outlook.scale
        return by_differences(gradient, self.outlook.movable, steps) - self.place.normal.hessian

    def ended(self) -> HeldMinimum[State]:
        """The state with everything said of it."""
        place, outlook, multipliers = self.place, self.outlook, self._multipliers()
        bounds = np.zeros(outlook.movable.size)
        within = np.flatnonzero(outlook.movable)
        at_least = within[np.isfinite(self.lower[within])]
        at_most = within[np.isfinite(self.upper[within])]
        bounds[at_least] += self.plan.least[: at_least.size]
        bounds[at_most] -= self.plan.least[at_least.size :]
        missed = float(self._missed().max(initial=0.0))
        stationary = float(np.abs(outlook.lagrangian(self.plan)).max(initial=0.0))
        room = np.where(place.demanded.equal | (multipliers <= 0), 0.0, place.demanded.values / outlook.rows)
        fixed = ~outlook.movable
        return HeldMinimum(
            place.state,
            place.normal,
            self.weights,
            place.demanded,
            multipliers,
            bounds / outlook.scale,
            fixed | (bounds > 0),
            fixed | (bounds < 0),
            stationary,
            missed,
            float(np.abs(room).max(initial=0.0)),
            not self.elastic and not self.lost and missed <= 100 * SETTLED and self.settled(),
            self.iterations,
        )
