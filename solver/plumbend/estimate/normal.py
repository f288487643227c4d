"""Normal equations of weighted least squares."""

from __future__ import annotations

from typing import Self

import numpy as np

from plumbend.frames import FloatArray
from plumbend.records import record


@record(eq=False)
class Normal:
    """Gauss-Newton normal equations of the sum of squares ``chi2`` of whitened residuals r with rows J.

    Attributes:
        hessian: (p, p), J^T J.
        gradient: (p,), J^T r.
        chi2: r . r.
        count: number of residuals.
    """

    hessian: FloatArray
    gradient: FloatArray
    chi2: float
    count: int

    @classmethod
    def from_rows(cls, residuals: FloatArray, jacobian: FloatArray) -> Self:
        """Gather whitened residuals (m,) and their derivatives (m, p)."""
        return cls(jacobian.T @ jacobian, jacobian.T @ residuals, float(residuals @ residuals), residuals.size)

    def __add__(self, other: Normal) -> Normal:
        return Normal(
            self.hessian + other.hessian,
            self.gradient + other.gradient,
            self.chi2 + other.chi2,
            self.count + other.count,
        )


FLAT = 1e-9
"""An eigenvalue of the unit-diagonal normal matrix below this part of the largest belongs to a direction
that nothing fixes; real tubes stay above 1e-6."""


def column_scale(hessian: FloatArray) -> FloatArray:
    """Scale (p,) that brings the diagonal to one: 1/sqrt(H_ii), and 1 where H_ii is 0 (Moré's scaling).

    Beside the largest, a diagonal of 1e-18 is what rounding leaves of a 0, and no evidence.
    """
    diagonal = np.diagonal(hessian)
    scale = np.ones_like(diagonal)
    positive = diagonal > 1e-18 * diagonal.max(initial=0.0)
    scale[positive] = 1 / np.sqrt(diagonal[positive])
    return scale


def half_inverse(matrix: FloatArray, flat: float = FLAT) -> FloatArray | None:
    """W (p, p), W W^T the inverse of a symmetric matrix; None where nothing may fix a direction.

    The squares of W add up to the sum of the inverse eigenvalues, which that of the least eigenvalue cannot pass, and
    the largest eigenvalue is no more than the trace. Where these leave it open whether the matrix has an eigenvalue
    below ``flat`` of the largest, its eigenvectors must tell. They take twice as long or more.
    """
    try:
        half: FloatArray = np.linalg.inv(np.linalg.cholesky(matrix)).T
    except np.linalg.LinAlgError:
        return None
    return half if float(np.vdot(half, half)) * flat * float(np.trace(matrix)) < 1 else None
