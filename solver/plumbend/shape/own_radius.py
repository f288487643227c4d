"""The radius of a part's own bends as one number more of its fit, beside the chain's.

The whitened rows J of the chain's p numbers get a last column j: how the same residuals move with the radius while
every other number stays. It is a central difference, for a formula would be another for each kind of measurement. With
the chain's answer C, how far its numbers move for each unit of the gradient, rows N = [J j] have the answer

    A = [C + v s s^T   v s ]    s = -C J^T j, by which the numbers follow the radius,
        [v s^T         v   ]    v = 1 / (j^T j + s^T J^T j),

the inverse of N^T N by its blocks, also where demands and limits leave the chain only some directions.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.shape.chain import by_radius
from plumbend.shape.fit import Fit

_NEXT_TO_NOTHING = 1e-100
"""What a radius that nothing tells is told by: its inverse, squared, is a number still."""


def rows_with_radius(fit: Fit) -> FloatArray:
    """(m, p + 1): whitened rows of points, readings and demands, by the numbers of a fit and its radius."""
    evidence, chain = fit.evidence, fit.chain
    weights = evidence.held_to(chain, fit.minimum.weights)
    _, rows = evidence.whitened(chain, weights)
    return np.column_stack([rows, by_radius(lambda moved: evidence.whitened(moved, weights)[0], chain)])


def scan_with_radius(fit: Fit) -> FloatArray:
    """(p + 1, p + 1): the matrix of its scan's normal equations by the same numbers."""
    scan, chain, weights = fit.evidence.scan, fit.chain, fit.minimum.weights
    assert scan is not None
    width = None if weights is None else weights.scan_width
    return scan.matrix_with(by_radius(scan.misses, chain), chain, chain.motion(fit.evidence.reference), width)


def scan_noise_with_radius(fit: Fit) -> FloatArray:
    """(p + 1, p + 1): covariance of the gradient of these; their matrix where every place errs by itself."""
    scan = fit.evidence.scan
    assert scan is not None
    if not scan.errs_together:
        return scan_with_radius(fit)
    from plumbend.shape.alike import gradient_noise  # few scans say that neighbours are off together

    return gradient_noise(scan.scan, fit.chain, fit.chain.motion(fit.evidence.reference), with_radius=True)


def answer_with_radius(fit: Fit) -> FloatArray:
    """(p + 1, p + 1): how far the numbers of a fit and its radius move for each unit of the gradient; huge for a radius
    that nothing tells."""
    rows = rows_with_radius(fit)
    matrix = rows.T @ rows
    if fit.evidence.scan is not None:
        matrix += scan_with_radius(fit)
    follow = np.append(-fit.answer @ matrix[:-1, -1], 1.0)
    left = max(float(follow @ matrix[:, -1]), _NEXT_TO_NOTHING)
    return np.pad(fit.answer, (0, 1)) + np.outer(follow, follow) / left


def covariance_with_radius(fit: Fit, answer: FloatArray) -> FloatArray:
    """(p + 1, p + 1) of the same numbers, unwidened, from how they answer."""
    if fit.evidence.scan is None or not fit.evidence.scan.errs_together:
        return answer
    rows = rows_with_radius(fit)
    covariance: FloatArray = answer @ (rows.T @ rows + scan_noise_with_radius(fit)) @ answer
    return covariance
