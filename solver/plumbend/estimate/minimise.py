"""Levenberg-Marquardt on normal equations, within bounds.

Scaled by the diagonal (Moré 1978) and damped by the gain of each step (Nielsen, IMM-REP-1999-05, from memory);
where a bound bites, the step solves the bounded linear least-squares problem exactly (Lawson & Hanson 1974,
ch. 23; scipy's bvls). Directions that no residual fixes stay where the first guess put them.
"""

from __future__ import annotations

from typing import Any, Generic, Protocol, TypeVar

import numpy as np
import numpy.typing as npt

from plumbend.estimate.normal import FLAT, Normal, column_scale, half_inverse
from plumbend.frames import FloatArray
from plumbend.records import record

State = TypeVar("State")


class Problem(Protocol[State]):
    """What :func:`minimise` asks of a problem.

    A state is whatever the problem moves by a step; its bounded coordinates are ``values(state)``, (p,).
    Weights that depend on the state are made by ``weigh`` and held while a step is tried and judged.
    """

    def values(self, state: State) -> FloatArray:
        """Coordinates (p,) of the state, in which the bounds are stated."""

    def move(self, state: State, step: FloatArray) -> State:
        """The state moved by a step (p,)."""

    def weigh(self, state: State) -> Any:
        """Weights at the state, to be held by ``normal``; None where they are the same everywhere."""

    def normal(self, state: State, weights: Any) -> Normal:
        """Normal equations at the state, with weights made there or earlier."""


@record(eq=False)
class Minimum(Generic[State]):
    """Where :func:`minimise` ended.

    Attributes:
        state: the best state.
        normal: normal equations there.
        weights: the weights that they were made with.
        at_lower, at_upper: (p,) True where the coordinate is held at its bound, or has no room between them.
        converged: the last step was small by the stated measure.
        iterations: steps tried.
    """

    state: State
    normal: Normal
    weights: Any
    at_lower: npt.NDArray[np.bool_]
    at_upper: npt.NDArray[np.bool_]
    converged: bool
    iterations: int

    @property
    def held(self) -> npt.NDArray[np.bool_]:
        """(p,) True where a bound is active."""
        return self.at_lower | self.at_upper


SMALL_DECREASE = 1e-9
"""Converged when the predicted fall of the sum of squares is below this part of 1 + chi2."""

LITTLE = 3e-3
"""A step that lowers the sum of squares by less than this part of it crawls: of 3300 fits of readings with a misread
or two, none that had so small a step above three times its count of numbers and 100 ended below."""

GAIN_OVER = 5
"""Steps tried by whose gain it is judged whether to go on; a step that is too long takes a few to be damped."""


def minimise(
    problem: Problem[State],
    start: State,
    lower: FloatArray,
    upper: FloatArray,
    *,
    most_iterations: int = 100,
    hopeless: float = np.inf,
    least_gain: float = 0.0,
    left: float = 0.0,
) -> Minimum[State]:
    """Smallest weighted sum of squares within lower <= values <= upper, from a start within them.

    Args:
        problem: gives residuals' normal equations and moves states.
        start: first guess; its values must lie within the bounds.
        lower, upper: (p,) bounds, infinite where there is none.
        most_iterations: steps tried at most; ``converged`` is False when they are spent.
        hopeless: a sum of squares above which the minimum is of no use: there the search ends, not converged, with
            the first step that brings little.
        least_gain: part of the sum of squares that every :data:`GAIN_OVER` steps tried must take off together; where
            they do not, the iteration is left there, and ``converged`` is False.
        left: part of 1 + the sum of squares that may be left to take off, where only about where the minimum lies is
            asked; ``converged`` is then said from there on.
    """
    state = start
    weights = problem.weigh(state)
    normal = problem.normal(state, weights)
    damping, growth, last_fall, polish = 0.0, 2.0, np.inf, 0
    converged, bare = False, False
    iterations = 0
    sums = [normal.chi2]
    ready = _Ready(normal)
    # what has no room between its bounds is not moved, wherever a state of its own making put it
    fixed = lower == upper
    while iterations < most_iterations:
        iterations += 1
        values = problem.values(state)
        room = (np.where(fixed, 0.0, bound - values) for bound in (lower, upper))
        if ready.normal is not normal:
            ready = _Ready(normal)
        step = _bounded_step(ready, damping, *room)
        fall = -float(step @ (2 * normal.gradient + normal.hessian @ step))
        if left and damping == 0.0 and fall < left * (1 + normal.chi2):
            converged = True
            break
        if damping == 0.0 and fall < SMALL_DECREASE * (1 + normal.chi2):
            # So near the bottom rounding hides the decrease: full steps are taken unasked, and repeated
            # while they still shrink, which carries weak directions of exact data to their last digits.
            converged = True
            if fall > 0.25 * last_fall:
                break
            state = problem.move(state, step)
            normal = problem.normal(state, weights)
            last_fall = fall
            polish += 1
            if fall <= 1e-26 or polish == 6 or (normal.chi2 > 1e-9 and fall < 1e-12 * normal.chi2):
                break
            continue
        if fall < SMALL_DECREASE * (1 + normal.chi2):
            # so near the bottom the gain is rounding and would only damp further: a full step, once, tells the rest
            if bare:
                converged = True
                break
            damping, growth, bare = 0.0, 2.0, True
            continue
        trial = problem.move(state, step)
        tried = problem.normal(trial, weights)
        if tried.chi2 < normal.chi2 + 1e-12 * (1 + normal.chi2):
            gain = min(max((normal.chi2 - tried.chi2) / fall, 0.0), 1.0) if fall > 0 else 1.0
            crawls = tried.chi2 > hopeless and normal.chi2 - tried.chi2 < LITTLE * normal.chi2
            state, normal = trial, tried
            damping *= max(1 / 3, 1 - (2 * gain - 1) ** 3)
            damping, growth = (damping if damping > 1e-5 else 0.0), 2.0
            weights = problem.weigh(state)
            if weights is not None:
                normal = problem.normal(state, weights)
            if crawls:
                break
        else:
            damping, growth = max(growth * damping, 1e-3), 2 * growth
            if damping > 1e12:
                break
        sums.append(normal.chi2)
        if least_gain and len(sums) > GAIN_OVER and sums[-1 - GAIN_OVER] - sums[-1] < least_gain * sums[-1]:
            break
    values = problem.values(state)
    return Minimum(
        state,
        normal,
        weights,
        fixed | ((values <= lower) & (normal.gradient > 0)),
        fixed | ((values >= upper) & (normal.gradient < 0)),
        converged,
        iterations,
    )


class _Ready:
    """Scaled normal equations, made ready to be solved with one damping after another.

    Attributes:
        normal: as they were gathered.
        scale: (p,) brings the diagonal to one.
        matrix, gradient: scaled.
    """

    def __init__(self, normal: Normal) -> None:
        self.normal = normal
        self.scale = column_scale(normal.hessian)
        self.matrix = normal.hessian * self.scale[:, None] * self.scale
        self.gradient = normal.gradient * self.scale
        self._whole = _Solver(self.matrix)

    def step(self, damping: float) -> FloatArray:
        """The scaled step where nothing is held."""
        return -self._whole.solve(self.gradient, damping)


class _Solver:
    """Solves (matrix + damping) x = gradient, x nothing along directions that nothing fixes."""

    def __init__(self, matrix: FloatArray) -> None:
        self._count = len(matrix)
        # what no row moves has nothing on its diagonal, which else is 1
        seen = np.diagonal(matrix) > 0.5
        self._seen = None if seen.all() else seen
        self._matrix = matrix if self._seen is None else matrix[np.ix_(seen, seen)]
        # of the undamped matrix: the damped one does not show what nothing fixes
        self._half = half_inverse(self._matrix)
        self._eigen: tuple[FloatArray, FloatArray] | None = None

    def solve(self, gradient: FloatArray, damping: float) -> FloatArray:
        """x (p,) for a gradient (p,)."""
        if self._seen is None:
            return self._solve_seen(gradient, damping)
        solution = np.zeros(self._count)
        solution[self._seen] = self._solve_seen(gradient[self._seen], damping)
        return solution

    def _solve_seen(self, gradient: FloatArray, damping: float) -> FloatArray:
        half = self._half
        if half is not None:
            if damping:
                damped = self._matrix + damping * np.eye(len(self._matrix))
                return np.asarray(np.linalg.solve(damped, gradient), dtype=float)
            direct: FloatArray = half @ (half.T @ gradient)
            return direct
        if self._eigen is None:
            eigenvalues, vectors = np.linalg.eigh(self._matrix)
            fixed = eigenvalues > FLAT * eigenvalues[-1:]
            self._eigen = eigenvalues[fixed], vectors[:, fixed]
        eigenvalues, vectors = self._eigen
        solution: FloatArray = vectors @ ((vectors.T @ gradient) / (eigenvalues + damping))
        return solution


def _bounded_step(ready: _Ready, damping: float, below: FloatArray, above: FloatArray) -> FloatArray:
    """Step that minimises the damped quadratic model within below <= step <= above."""
    scale, matrix, gradient = ready.scale, ready.matrix, ready.gradient
    low, high = below / scale, above / scale
    held = high <= low
    step = np.zeros(scale.size)
    # what would pass its bound is set onto it, until nothing does
    while True:
        if held.any():
            free = ~held
            pull = gradient[free] + matrix[np.ix_(free, held)] @ step[held]
            step[free] = -_Solver(matrix[np.ix_(free, free)]).solve(pull, damping)
            passed = free & ((step < low) | (step > high))
        else:
            step = ready.step(damping)
            passed = (step < low) | (step > high)
        if not passed.any():
            break
        step[passed] = np.clip(step, low, high)[passed]
        held |= passed
    if held.any():
        slope = gradient + matrix @ step + damping * step
        wants_in = held & (high > low) & (((step <= low) & (slope < 0)) | ((step >= high) & (slope > 0)))
        if wants_in.any():
            step = _least_within(matrix, gradient, damping, low, high)
    return step * scale


def _least_within(
    matrix: FloatArray, gradient: FloatArray, damping: float, low: FloatArray, high: FloatArray
) -> FloatArray:
    """The same minimum exactly, where setting onto bounds what passes them does not find it."""
    from scipy.optimize import lsq_linear  # only then: the import is slow

    eigenvalues, vectors = np.linalg.eigh(matrix)
    fixed = eigenvalues > FLAT * eigenvalues[-1]
    # flat directions get a stiffness of their own, so that they stay put here as well
    stiffness = np.sqrt(np.where(fixed, np.maximum(eigenvalues, 0) + damping, 1.0))
    rows = stiffness[:, None] * vectors.T
    target = -np.where(fixed, vectors.T @ gradient, 0.0) / stiffness
    free = high > low
    step = np.where(free, 0.0, low)
    solution = lsq_linear(
        rows[:, free],
        target - rows[:, ~free] @ step[~free],
        bounds=(low[free], high[free]),
        method="bvls",
        tol=1e-14,
    )
    step[free] = np.clip(solution.x, low[free], high[free])
    return step
