"""The least of a quadratic within linear equalities and inequalities, as a least-distance problem.

With the matrix's inverse factored, H^-1 = W W^T, and the equalities solved for what they fix, the quadratic is a
distance, and the nearest place to the origin within E y >= f comes from non-negative least squares (Lawson & Hanson,
Solving Least Squares Problems, 1974, ch. 23: LSI to LDP to NNLS). It is exact, needs no start, and says when nothing is
within.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.records import record

IN_VAIN = 1e-9
"""Rows that are independent to less than this part of their length contradict or repeat each other."""

NOTHING_WITHIN = 1e-12
"""The non-negative least squares leave a residual whose square is below this only where nothing is within."""

_HARDLY_TOLD_APART = 1e8
"""Condition of rows' products from which on their pushes lose half of their digits."""


@record(eq=False)
class Rows:
    """Linear demands on a step: ``matrix`` (m, p) times step equal to, or at least, ``right`` (m,)."""

    matrix: FloatArray
    right: FloatArray

    def and_also(self, more: Rows) -> Rows:
        """These rows, then ``more``."""
        return Rows(np.vstack([self.matrix, more.matrix]), np.concatenate([self.right, more.right]))


@record(eq=False)
class Least:
    """Where a quadratic is least.

    Attributes:
        step: (p,).
        equal, least: multipliers of the equalities (any sign) and of the inequalities (0 or more): the quadratic's
            gradient at the step is the sum of the rows times these.
    """

    step: FloatArray
    equal: FloatArray
    least: FloatArray


def least_quadratic(spread: FloatArray, gradient: FloatArray, equal: Rows, least: Rows) -> Least | None:
    """The step that makes step.H.step / 2 + gradient.step least within ``equal`` and ``least``.

    Args:
        spread: W (p, p), W W^T the inverse of H, which is best of about unit diagonal.
        gradient: (p,).
        equal: rows that must equal their right sides; repeated ones do no harm.
        least: rows that must be at least their right sides.

    Returns:
        None where no step satisfies them.
    """
    shift = spread.T @ gradient  # step = spread (y - shift), the quadratic |y|^2 / 2
    above, floor = _measured_from(least, spread, shift)
    if not equal.right.size:
        found = nearest_within(above, floor)
        return None if found is None else Least(spread @ (found[0] - shift), np.zeros(0), found[1])
    rows, right = _measured_from(equal, spread, shift)
    own = np.linalg.norm(rows, axis=1)
    own = np.where(own > 0, own, 1.0)
    left, sizes, ways = np.linalg.svd(rows / own[:, None])
    rank = int((sizes > IN_VAIN * max(float(sizes.max(initial=0.0)), 1e-300)).sum())
    fixed = ways[:rank].T @ ((left[:, :rank].T @ (right / own)) / sizes[:rank])
    if np.abs(rows @ fixed - right).max(initial=0.0) > 1e-7 * (1 + np.abs(right).max(initial=0.0)):
        return None
    free = ways[rank:].T
    found = nearest_within(above @ free, floor - above @ fixed)
    if found is None:
        return None
    place, pushes = found
    y = fixed + free @ place
    pulls = left[:, :rank] @ ((ways[:rank] @ (y - above.T @ pushes)) / sizes[:rank]) / own
    return Least(spread @ (y - shift), pulls, pushes)


def least_missing(
    spread: FloatArray, gradient: FloatArray, equal: Rows, least: Rows, bounds: Rows, weight: float
) -> Least | None:
    """The same where not all of ``equal`` and ``least`` can be met, and what is missed of each is paid for.

    A miss m costs ``weight`` m + m^2 / 2. ``bounds`` are inequalities that are met whatever the cost; the multipliers
    of ``least`` are followed by theirs. None where no step is within them.
    """
    demands = Rows(
        np.vstack([least.matrix, equal.matrix, -equal.matrix]), np.concatenate([least.right, equal.right, -equal.right])
    )
    count, size = len(demands.matrix), gradient.size
    # a step is followed by what it misses of each demand
    wider = np.zeros((size + count, size + count))
    wider[:size, :size], wider[size:, size:] = spread, np.eye(count)
    limits = np.zeros((2 * count + len(bounds.matrix), size + count))
    limits[:count, :size], limits[:count, size:] = demands.matrix, np.eye(count)
    limits[count : 2 * count, size:] = np.eye(count)
    limits[2 * count :, :size] = bounds.matrix
    found = least_quadratic(
        wider,
        np.concatenate([gradient, np.full(count, weight)]),
        Rows(np.zeros((0, size + count)), np.zeros(0)),
        Rows(limits, np.concatenate([demands.right, np.zeros(count), bounds.right])),
    )
    if found is None:
        return None
    others, twice = len(least.matrix), len(equal.matrix)
    of_least, up, down = np.split(found.least[:count], [others, others + twice])
    return Least(found.step[:size], up - down, np.concatenate([of_least, found.least[2 * count :]]))


def _measured_from(rows: Rows, spread: FloatArray, shift: FloatArray) -> tuple[FloatArray, FloatArray]:
    matrix = rows.matrix @ spread
    return matrix, rows.right + matrix @ shift


def nearest_within(matrix: FloatArray, floor: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """The place y (n,) nearest to the origin with ``matrix`` (m, n) y >= ``floor`` (m,), and m multipliers.

    y is the sum of the rows times the multipliers. None where there is no such place.
    """
    size = np.linalg.norm(matrix, axis=1)
    usable = size > IN_VAIN
    if (floor[~usable] > 1e-7).any():
        return None
    pushes = np.zeros(floor.size)
    most = float(floor[usable].max(initial=0.0))
    if most <= 0:
        return np.zeros(matrix.shape[1]), pushes
    rows = matrix[usable] / size[usable, None]
    right = floor[usable] / size[usable]
    plain = _held_by_what_is_passed(rows, right)
    if plain is not None:
        pushes[usable] = plain[1] / size[usable]
        return plain[0], pushes
    from scipy.optimize import nnls  # only where it is not plain what holds: the import is slow

    scale = float(np.abs(right).max())
    goal = np.zeros(rows.shape[1] + 1)
    goal[-1] = 1.0
    stacked = np.vstack([rows.T, right / scale])
    try:
        weights, _ = nnls(stacked, goal, maxiter=30 * max(stacked.shape))
    except RuntimeError:  # it ran around in a ring of rows that repeat each other
        return None
    left = 1.0 - float(weights @ right) / scale
    if left < NOTHING_WITHIN:
        return None
    y = rows.T @ weights * (scale / left)
    own = weights * (scale / left)
    y, own = _settled(rows, right, y, own)
    pushes[usable] = own / size[usable]
    return y, pushes


def _held_by_what_is_passed(rows: FloatArray, right: FloatArray) -> tuple[FloatArray, FloatArray] | None:
    """The place held by just the rows that the origin passes, and those passed from there; None where one of them
    would pull, or two are hardly told apart.

    Where all push and the rest are kept to, that is the nearest place (Karush-Kuhn-Tucker; the problem is convex).
    """
    holding = right > 0
    slack = 1e-12 * (1 + float(np.abs(right).max()))
    while True:
        held = rows[holding]
        gram = held @ held.T
        if len(gram) > rows.shape[1] or (len(gram) > 1 and np.linalg.cond(gram) > _HARDLY_TOLD_APART):
            return None
        own = np.linalg.solve(gram, right[holding])
        if (own < 0).any():
            return None
        place: FloatArray = held.T @ own
        passed = ~holding & (rows @ place < right - slack)
        if not passed.any():
            pushes = np.zeros(right.size)
            pushes[holding] = own
            return place, pushes
        holding |= passed


def _settled(rows: FloatArray, right: FloatArray, y: FloatArray, own: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The same place with all its digits: from the rows that hold it, where these are told apart."""
    holding = np.flatnonzero(own > 0)
    held = rows[holding]
    gram = held @ held.T
    try:
        exact = np.linalg.solve(gram, right[holding])
    except np.linalg.LinAlgError:
        return y, own
    place = held.T @ exact
    slack = 1e-9 * (1 + float(np.abs(right).max()))
    if (exact < 0).any() or (rows @ place < right - slack).any():
        return y, own
    settled = np.zeros_like(own)
    settled[holding] = exact
    return place, settled
