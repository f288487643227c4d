"""How well a tube and the places of a vehicle are known together, and what one measurement more would do to it.

The points that readings place and the tube through them are not two things: the tube's fit says more of where the
points are. With the points' rows B P - h(x) of the fit, whitened by Q = B S B^T of the readings' own covariance S, and
their derivatives J by the tube's numbers x, the best linear estimate of all together has (Koch, Parameter Estimation
and Hypothesis Testing in Linear Models, 3.5, mixed model; with G = cov(places, rows))

    cov(x, x) = C    cov(x, y) = -C J^T Q^-1 G^T    cov(y, y) = S - G Q^-1 (Q - J C J^T) Q^-1 G^T.

One measurement more, with rows R by x and y and accuracy N, takes away C R^T (N + R C R^T)^-1 R C of that: the update
of recursive least squares (Kalman, A New Approach to Linear Filtering and Prediction Problems, 1960). Both hold to
first order, as every doubt does; readings and tube fitted again would give the same.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbend.estimate.doubt import IN_PART
from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import Adjusted
from plumbend.records import record
from plumbend.shape.evidence import Evidence
from plumbend.shape.fit import Fit

_ANYWHERE = 1e4
"""mm, one standard deviation, along what nothing fixes: far more than a tube leaves open."""


@record(eq=False)
class PlacedBy:
    """The readings that place some of a tube's points.

    Attributes:
        adjusted: they and their places.
        points: names of the tube's points that are places of theirs.
        scale: what every doubt of theirs was multiplied by.
    """

    adjusted: Adjusted
    points: frozenset[str]
    scale: float = 1.0


class KnownTogether:
    """A tube's p numbers, then the q of the places' state.

    Attributes:
        tube: p.
        covariance: (p + q, p + q).
        flat: (f, p + q) directions that nothing fixes, about 10 m long, which ``covariance`` holds as well.
    """

    def __init__(self, fit: Fit, placed_by: PlacedBy | None) -> None:
        """Of a fit at its least sum of squares; ``placed_by`` is None where all its points were typed."""
        self._doubt = fit.doubt
        self.tube = fit.evidence.size
        tube = fit.doubt.covariance
        if placed_by is None:
            whole = tube.copy()
        else:
            places = placed_by.adjusted.full_covariance * placed_by.scale**2
            rows, shared = _of_points(fit, placed_by, places)
            across = -tube @ rows.T @ shared.T
            left = np.eye(len(rows)) - rows @ tube @ rows.T
            whole = np.block([[tube, across], [across.T, places - shared @ left @ shared.T]])
        self.flat = np.zeros((len(fit.doubt.flat), len(whole)))
        self.flat[:, : self.tube] = fit.doubt.flat * fit.doubt.scale
        # an angle of a radian moves a tube by a radius or more
        longest = np.abs(self.flat).max(axis=1, keepdims=True, initial=0.0)
        self.flat *= _ANYWHERE / np.where(longest > 0, longest, 1.0)
        self.covariance: FloatArray = whole + self.flat.T @ self.flat

    def doubt(self, rows: FloatArray) -> float:
        """Root of the sum of the variances of numbers with derivatives (k, p + q); infinite where nothing fixes one."""
        return self._root(rows, rows @ self.covariance @ rows.T)

    def doubts_with(self, rows: FloatArray, more: Sequence[tuple[FloatArray, FloatArray]]) -> FloatArray:
        """The same with each single one of m measurements more, given by rows (c, p + q) and covariance (c, c)."""
        now = rows @ self.covariance @ rows.T
        if not more:
            return np.zeros(0)
        reach = np.concatenate([further for further, _ in more]) @ self.covariance
        shares = reach @ rows.T
        doubts, first = np.zeros(len(more)), 0
        for i, (further, own) in enumerate(more):
            part = slice(first, first + len(further))
            first += len(further)
            gained = shares[part].T @ np.linalg.solve(own + reach[part] @ further.T, shares[part])
            doubts[i] = self._root(rows, now - gained)
        return doubts

    def _root(self, rows: FloatArray, variance: FloatArray) -> float:
        """Root of the trace; infinite for what nothing fixes, unless little is left of how far that could be."""
        scaled = rows[:, : self.tube] * self._doubt.scale
        loose = float(np.linalg.norm(scaled @ self._doubt.flat.T)) > IN_PART * float(np.linalg.norm(scaled))
        total = max(float(np.trace(variance)), 0.0)
        still = total > IN_PART * float(((rows @ self.flat.T) ** 2).sum())
        return np.inf if loose and still else float(np.sqrt(total))


def _of_points(fit: Fit, placed_by: PlacedBy, places: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Whitened rows (r, p) of the fit's points, and their covariance (q, r) with the places' state, whitened alike."""
    evidence = fit.evidence
    assert evidence.joint is not None, "points that readings place come with a covariance of all together"
    weights = evidence.weigh(fit.chain)
    assert weights is not None
    (whitening,) = weights.whitening
    _, rows = evidence.whitened(fit.chain, weights)
    shared = places @ _of_state(evidence, placed_by, len(places)).T
    return rows[: len(whitening)], shared @ spread(evidence, weights.directions).T @ whitening.T


def _of_state(evidence: Evidence, placed_by: PlacedBy, size: int) -> FloatArray:
    """(3m, q): which numbers of the state each of m points is; none for one that was typed."""
    picks = np.zeros((3 * len(evidence.points), size))
    for i, point in enumerate(evidence.points):
        if point.name in placed_by.points:
            column = placed_by.adjusted.network.column[point.name]
            picks[3 * i : 3 * i + 3, column : column + 3] = np.eye(3)
    return picks


def spread(evidence: Evidence, directions: Sequence[FloatArray]) -> FloatArray:
    """(r, 3m) derivatives of the points' rows, in the order of the evidence's groups, by the m points."""
    rows = np.zeros((sum(b.shape[0] * b.shape[1] for b in directions), 3 * len(evidence.points)))
    first = 0
    for group, basis in zip(evidence.groups, directions, strict=True):
        for member, own in zip(group.members, basis, strict=True):
            rows[first : first + len(own), 3 * member : 3 * member + 3] = own
            first += len(own)
    return rows
