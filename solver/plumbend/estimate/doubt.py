"""How well numbers are known: covariance with flat directions and bounds."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from plumbend.estimate.normal import FLAT, Normal, column_scale, half_inverse
from plumbend.frames import FloatArray

IN_PART = 1e-3
"""A number with less than this part in a direction that nothing fixes has none: directions are found to that."""


@dataclass(frozen=True, slots=True, eq=False)
class Doubt:
    """Covariance of p numbers.

    Attributes:
        covariance: (p, p); rows and columns of numbers held at a bound are 0, of loose ones are what the
            other directions give and must not be used.
        loose: (p,) True where no residual fixes the number.
        flat: (f, p) orthonormal directions that nothing fixes, in scaled coordinates.
        scale: (p,) what a scaled coordinate is worth: coordinate = scale x scaled coordinate.
    """

    covariance: FloatArray
    loose: npt.NDArray[np.bool_]
    flat: FloatArray
    scale: FloatArray


def doubt_of(normal: Normal, held: npt.NDArray[np.bool_]) -> Doubt:
    """Covariance at a minimum, with the numbers ``held`` (p,) kept at their bounds.

    C = Z (Z^T H Z)^-1 Z^T with Z the coordinates that are free; directions whose eigenvalue in the
    unit-diagonal matrix is below :data:`FLAT` of the largest are taken as undetermined, and so is every
    number that has a part in them.
    """
    size = held.size
    free = ~held
    covariance = np.zeros((size, size))
    loose = np.zeros(size, dtype=bool)
    hessian = normal.hessian[np.ix_(free, free)]
    if not hessian.size:
        return Doubt(covariance, loose, np.zeros((0, size)), np.ones(size))
    scale = column_scale(hessian)
    flat = np.zeros((0, size))
    unit_diagonal = hessian * scale[:, None] * scale
    half = half_inverse(unit_diagonal)
    if half is None:
        eigenvalues, vectors = np.linalg.eigh(unit_diagonal)
        fixed = eigenvalues > FLAT * max(eigenvalues[-1], 1e-300)
        half = vectors[:, fixed] / np.sqrt(eigenvalues[fixed])
        loose[free] = np.linalg.norm(vectors[:, ~fixed], axis=1) > IN_PART
        flat = np.zeros((int((~fixed).sum()), size))
        flat[:, free] = vectors[:, ~fixed].T
    half = half * scale[:, None]
    covariance[np.ix_(free, free)] = half @ half.T
    scales = np.ones(size)
    scales[free] = scale
    return Doubt(covariance, loose, flat, scales)
