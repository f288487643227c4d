"""What a fit that must keep demands looks like from one place: the quadratic, and the step that is the least of it.

All steps are in doubts.
"""

from __future__ import annotations

import numpy as np

from plumbend.estimate.demanded import Demanded
from plumbend.estimate.normal import Normal, column_scale, half_inverse
from plumbend.estimate.quadratic import Least, Rows, least_missing, least_quadratic
from plumbend.frames import FloatArray

LOOSE = 1e-7
"""Stiffness of a direction that nothing fixes, as part of the stiffest."""
STRAINED = 30.0
"""Multipliers, over the root of the sum of squares, that demands have only where they all but repeat each other."""


class Outlook:
    """The sum of squares and the demands as they look from one place.

    Attributes:
        normal, demanded: of the place.
        movable: (p,) which coordinates move.
        scale: (p,) a doubt of each coordinate.
        rows: (m,) what a step of a doubt may change of each demand: what is missed is counted in these.
        gradient: (q,) of half the sum of squares, along the coordinates that move.
        bounds: those of the coordinates, as rows on the step.
        hessian: (q, q) positive definite, once :meth:`bend` has told it.
    """

    def __init__(
        self,
        normal: Normal,
        demanded: Demanded,
        values: FloatArray,
        lower: FloatArray,
        upper: FloatArray,
    ) -> None:
        """From the place's normal equations, demands and ``values`` (p,) within their bounds (p,)."""
        self.normal, self.demanded, self.movable = normal, demanded, lower < upper
        self.scale = column_scale(normal.hessian)
        self.gradient = (normal.gradient * self.scale)[self.movable]
        self._matrix = (demanded.jacobian * self.scale)[:, self.movable]
        own = np.linalg.norm(self._matrix, axis=1)
        self.rows = np.where(own > 0, own, 1.0)
        self.bounds = self._bound_rows(lower - values, upper - values)

    def _bound_rows(self, lower: FloatArray, upper: FloatArray) -> Rows:
        scale = self.scale[self.movable]
        below, above = lower[self.movable], upper[self.movable]
        unit = np.eye(scale.size)
        at_least, at_most = np.isfinite(below), np.isfinite(above)
        matrix = np.vstack([unit[at_least], -unit[at_most]])
        return Rows(matrix, np.concatenate([(below / scale)[at_least], -(above / scale)[at_most]]))

    def bend(self, curvature: FloatArray | None, damping: float) -> None:
        """Take the quadratic with the ``curvature`` (p, p) that the normal equations lack, where that is known, and
        with ``damping``, which holds steps in."""
        scale = self.scale[self.movable]
        matrix = self.normal.hessian if curvature is None else self.normal.hessian + curvature
        matrix = matrix[np.ix_(self.movable, self.movable)] * scale[:, None] * scale
        damped = matrix + damping * np.eye(len(matrix)) if damping else matrix
        half = half_inverse(damped, LOOSE)
        if half is None:
            eigenvalues, vectors = np.linalg.eigh(matrix)
            # a direction that nothing but demands fixes is all but free, yet stays put where they do not fix it either;
            # one along which the Lagrangian falls off is taken as steep as it falls
            sizes = np.maximum(np.abs(eigenvalues), LOOSE * np.abs(eigenvalues).max(initial=1.0)) + damping
            damped, half = (vectors * sizes) @ vectors.T, vectors / np.sqrt(sizes)
        self.hessian, self._half = damped, half

    def least(self, values: FloatArray, weight: float) -> tuple[Least, bool] | None:
        """The step to take where the demands have ``values`` (m,), and whether what it misses of them was merely paid
        for, at ``weight`` each; None where none is found.

        So it is where they contradict each other, and where they all but do: two that say the same when they are met,
        such as legs that are parallel and bends that are alike, differ on the way there by the square of what is
        missed, and to meet both as they look from there would lead far off.

        Its multipliers ``equal`` are those of all demands in their order, ``least`` those of the bounds.
        """
        matrix, right = self._matrix / self.rows[:, None], -values / self.rows
        alike = self.demanded.equal
        equal, least = (Rows(matrix[which], right[which]) for which in (alike, ~alike))
        found = least_quadratic(self._half, self.gradient, equal, least.and_also(self.bounds))
        priced = found is None or self._strained(found, weight)
        if priced:
            found = least_missing(self._half, self.gradient, equal, least, self.bounds, weight)
        if found is None:
            return None
        of_demands, others = np.zeros(alike.size), least.right.size
        of_demands[alike], of_demands[~alike] = found.equal, found.least[:others]
        return Least(found.step, of_demands, found.least[others:]), priced

    def bent(self, step: FloatArray, there: Demanded, weight: float) -> FloatArray | None:
        """The ``step`` (q,) with the demands' curvature made good, from what they are ``there``, where it led; None
        where they cannot be met so."""
        found = self.least(there.values - self._matrix @ step, weight)
        return None if found is None or found[1] else found[0].step

    def staying(self) -> Least:
        """No step, and no multipliers."""
        return Least(np.zeros(self.gradient.size), np.zeros(self.rows.size), np.zeros(self.bounds.right.size))

    def _strained(self, found: Least, weight: float) -> bool:
        """Whether a step has multipliers that no gradient where it leads could ask for."""
        slope, step = self.gradient, found.step
        chi2 = max(self.normal.chi2 + float(step @ (2 * slope + self.hessian @ step)), 0.0)
        bearable = max(weight, STRAINED * (1 + float(np.sqrt(chi2))))
        return float(np.abs(found.equal).max(initial=0.0)) > bearable

    def missed(self, demanded: Demanded) -> FloatArray:
        """(m,) by how much ``demanded``, these demands at whatever place, are missed."""
        return demanded.missed() / self.rows

    def then_missed(self, step: FloatArray) -> FloatArray:
        """(m,) by how much the demands are missed after a step (q,), as they look from here."""
        values = self.demanded.values + self._matrix @ step
        return self.missed(Demanded(values, self.demanded.jacobian, self.demanded.equal))

    def relief(self, step: FloatArray) -> float:
        """How much less of the demands a step (q,) misses, as they look from here."""
        return max(float((self.missed(self.demanded) - self.then_missed(step)).sum()), 0.0)

    def lagrangian(self, least: Least) -> FloatArray:
        """(q,) gradient of the Lagrangian, with the multipliers of ``least``."""
        pull: FloatArray = self.gradient - (least.equal / self.rows) @ self._matrix
        return pull - least.least @ self.bounds.matrix

    def whole(self, step: FloatArray) -> FloatArray:
        """(p,) the step (q,) of all coordinates, in their own units."""
        whole = np.zeros(self.movable.size)
        whole[self.movable] = step * self.scale[self.movable]
        return whole
