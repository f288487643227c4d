"""How well numbers are known: covariance with flat directions and bounds."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plumbend.estimate.normal import FLAT, Normal, column_scale, half_inverse
from plumbend.frames import FloatArray
from plumbend.records import record

IN_PART = 1e-3
"""A number with less than this part in a direction that nothing fixes has none: directions are found to that."""


@record(eq=False)
class Doubt:
    """Covariance of p numbers.

    Attributes:
        covariance: (p, p); rows and columns of numbers held at a bound are 0, of loose ones are what the
            other directions give and must not be used.
        loose: (p,) True where no residual fixes the number.
        flat: (f, p) orthonormal directions that nothing fixes, in scaled coordinates.
        scale: (p,) what a scaled coordinate is worth: coordinate = scale x scaled coordinate.
        told: (p,) True where demands leave the number no freedom at all.
        rank: directions that demands hold, beside the numbers held at bounds.
    """

    covariance: FloatArray
    loose: npt.NDArray[np.bool_]
    flat: FloatArray
    scale: FloatArray
    told: npt.NDArray[np.bool_]
    rank: int = 0


def doubt_of(normal: Normal, held: npt.NDArray[np.bool_], rows: FloatArray | None = None) -> Doubt:
    """Covariance at a minimum, with the numbers ``held`` (p,) kept at their bounds, and demands along their ``rows``.

    C = Z (Z^T H Z)^-1 Z^T with Z a basis of the directions that are free: the coordinates that are not held, less what
    the rows (m, p) see. Directions whose eigenvalue in the unit-diagonal matrix is below :data:`FLAT` of the largest
    are taken as undetermined, and so is every number that has a part in them.
    """
    size = held.size
    free = ~held
    covariance = np.zeros((size, size))
    loose, told = np.zeros(size, dtype=bool), np.zeros(size, dtype=bool)
    hessian = normal.hessian[np.ix_(free, free)]
    if not hessian.size:
        return Doubt(covariance, loose, np.zeros((0, size)), np.ones(size), told)
    scale = column_scale(hessian)
    flat = np.zeros((0, size))
    unit_diagonal = hessian * scale[:, None] * scale
    basis = None if rows is None else _unseen_by(rows[:, free] * scale)
    if basis is not None:
        told[free] = np.linalg.norm(basis, axis=1) < IN_PART
        unit_diagonal = basis.T @ unit_diagonal @ basis
    half = half_inverse(unit_diagonal)
    if half is None:
        eigenvalues, vectors = np.linalg.eigh(unit_diagonal)
        fixed = eigenvalues > FLAT * max(eigenvalues[-1], 1e-300)
        half = vectors[:, fixed] / np.sqrt(eigenvalues[fixed])
        unfixed = vectors[:, ~fixed] if basis is None else basis @ vectors[:, ~fixed]
        loose[free] = np.linalg.norm(unfixed, axis=1) > IN_PART
        flat = np.zeros((int((~fixed).sum()), size))
        flat[:, free] = unfixed.T
    if basis is not None:
        half = basis @ half
    half = half * scale[:, None]
    covariance[np.ix_(free, free)] = half @ half.T
    scales = np.ones(size)
    scales[free] = scale
    return Doubt(covariance, loose, flat, scales, told, 0 if basis is None else len(basis) - basis.shape[1])


def _unseen_by(rows: FloatArray) -> FloatArray:
    """Orthonormal basis (q, q - r) of the directions that rows (m, q) of rank r do not see."""
    own = np.linalg.norm(rows, axis=1, keepdims=True)
    _, sizes, ways = np.linalg.svd(rows / np.where(own > 0, own, 1.0))
    unseen: FloatArray = ways[int((sizes > IN_PART**2).sum()) :].T
    return unseen
