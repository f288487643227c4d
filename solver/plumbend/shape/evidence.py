"""Evidence: what measured points say of a chain, as residuals with exact derivatives.

A residual is the miss in mm, named by a direction b (unit vector in space): it is b . (point - place on the
tube). With N any two unit vectors square to the tube's tangent t, and v = point - foot:

====== ==================== ===== ============================================================
kind   residual             count derivative
====== ==================== ===== ============================================================
centre N v                    2   -[b, (foot - c) x b] S_e: exact, the foot's slide along t drops out
end    point - end            3   the same with b = x, y, z and all that lies before the end
corner point - corner         3   the same, and the corner's own: u for its straight, r/2 sec^2(A/2) u
====== ==================== ===== ============================================================

S_e holds the twists of the parameters before element e. Weighting comes after, in one place
(:meth:`Evidence.normal`): a row of direction b has the variance b^T Sigma b of its point.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray, normals_to
from plumbend.shape.chain import POSE, Chain, Motion, layout
from plumbend.shape.feet import Allowed, allowed_elements, feet
from plumbend.shape.points import Point


@dataclass(frozen=True, slots=True, eq=False)
class Rows:
    """Residuals of m points of one kind, k to a point.

    Attributes:
        residuals: (m, k) mm.
        directions: (m, k, 3): derivative of a residual by its own point.
        jacobian: (m, k, p): derivative by the chain's parameters.
    """

    residuals: FloatArray
    directions: FloatArray
    jacobian: FloatArray


class PointGroup(Protocol):
    """Points of one kind, compiled for one number of bends."""

    @property
    def members(self) -> list[int]:
        """Index of each point of the group in the list that it was compiled from."""

    def rows(self, chain: Chain, motion: Motion, basis: FloatArray | None) -> Rows:
        """Residuals and derivatives; ``basis`` (m, k, 3) holds the directions of an earlier call."""


class CentrePoints:
    """Points anywhere on the centreline."""

    def __init__(self, points: list[Point], members: list[int], bends: int) -> None:
        self.members = members
        self.at = np.array([points[i].at for i in members])
        self.allowed: Allowed | None = allowed_elements([points[i].leg for i in members], bends)

    def rows(self, chain: Chain, motion: Motion, basis: FloatArray | None) -> Rows:
        """The two parts of each miss that are square to the tube."""
        foot = feet(chain, self.at, self.allowed)
        normals = normals_to(foot.tangent) if basis is None else carried(basis, foot.tangent)
        residuals = np.matmul(normals, foot.off[:, :, None])[:, :, 0]
        jacobian = motion.rows(normals, foot.place) * motion.layout.before[foot.element][:, None, :]
        return Rows(residuals, normals, jacobian)


def carried(normals: FloatArray, tangent: FloatArray) -> FloatArray:
    """Normals (m, 2, 3) carried over to tangents (m, 3) without spin about them.

    Weights stated along the old normals hold along the carried ones, which change smoothly with the tube.
    """
    flat = normals - (normals @ tangent[:, :, None]) * tangent[:, None, :]
    first = flat[:, 0] / np.linalg.norm(flat[:, 0], axis=1, keepdims=True)
    # symmetric squaring-up: half of the skew is taken from each
    second = flat[:, 1] / np.linalg.norm(flat[:, 1], axis=1, keepdims=True)
    plus, minus = first + second, first - second
    plus /= np.linalg.norm(plus, axis=1, keepdims=True) * np.sqrt(2)
    minus /= np.linalg.norm(minus, axis=1, keepdims=True) * np.sqrt(2)
    return np.stack([plus + minus, plus - minus], axis=1)


class EndPoints:
    """Places where the centreline stops: ``far`` False for the start end."""

    def __init__(self, points: list[Point], members: list[int], far: bool) -> None:
        self.members = members
        self.at = np.array([points[i].at for i in members])
        self.far = far

    def rows(self, chain: Chain, motion: Motion, basis: FloatArray | None) -> Rows:
        """All three parts of the miss at the end."""
        place = np.broadcast_to(chain.far_end if self.far else chain.origin, self.at.shape)
        directions = _axes(len(self.at)) if basis is None else basis
        jacobian = motion.rows(directions, place)
        if not self.far:
            jacobian[:, :, POSE:] = 0.0
        return Rows(self.at - place, directions, jacobian)


class CornerPoints:
    """Places where two neighbouring straights would meet if prolonged; ``at_bend`` counts bends from 1."""

    def __init__(self, points: list[Point], members: list[int], at_bend: list[int]) -> None:
        self.members = members
        self.at = np.array([points[i].at for i in members])
        self.at_bend = np.array(at_bend)

    def rows(self, chain: Chain, motion: Motion, basis: FloatArray | None) -> Rows:
        """All three parts of the miss at the corner."""
        where = motion.layout
        k = self.at_bend - 1
        u = chain.frames[2 * k, :, 0]
        angle = chain.angles[k]
        place = chain.tangents()[k, 1] + (chain.radius * np.tan(angle / 2))[:, None] * u
        directions = _axes(len(self.at)) if basis is None else basis
        jacobian = motion.rows(directions, place) * where.before[2 * k][:, None, :]
        own = np.arange(len(k))
        jacobian[own, :, where.straights.start + k] -= u
        jacobian[own, :, where.angles.start + k] -= (chain.radius / 2 / np.cos(angle / 2) ** 2)[:, None] * u
        return Rows(self.at - place, directions, jacobian)


def _axes(count: int) -> FloatArray:
    return np.broadcast_to(np.eye(3), (count, 3, 3))


@dataclass(frozen=True, slots=True, eq=False)
class Weights:
    """How rows are whitened, held while a step is judged: per group the directions that the whitening is
    stated along (m, k, 3), and the whitening (m, k, k)."""

    directions: list[FloatArray]
    whitening: list[FloatArray]


class Evidence:
    """All the points of one tube, compiled for one number of bends.

    As a problem for :func:`plumbend.estimate.minimise.minimise` its states are chains.
    """

    def __init__(self, points: list[Point], bends: int) -> None:
        """Compile ``points``, in order from the start end, for a tube of ``bends`` bends.

        Corners that are not told their bend take them in order.
        """
        self.bends = bends
        self.points = points
        self.reference = np.mean([point.at for point in points], axis=0)
        self.groups = list(_compile(points, bends))
        covariance = np.array([point.cov for point in points])
        variance = covariance[:, 0, 0]
        alike = np.array_equal(covariance, variance[:, None, None] * np.eye(3))
        self._covariance = [covariance[group.members] for group in self.groups]
        self._spread = [np.sqrt(variance[group.members]) for group in self.groups] if alike else None

    def rows(self, chain: Chain, weights: Weights | None = None) -> list[Rows]:
        """Rows of every group at ``chain``, along the directions that ``weights`` hold."""
        motion = chain.motion(self.reference)
        held = [None] * len(self.groups) if weights is None else weights.directions
        return [group.rows(chain, motion, basis) for group, basis in zip(self.groups, held, strict=True)]

    def values(self, state: Chain) -> FloatArray:
        """The chain's parameters (p,)."""
        return state.parameters()

    def move(self, state: Chain, step: FloatArray) -> Chain:
        """The chain after a step (p,)."""
        return state.moved(step, self.reference)

    def weigh(self, state: Chain) -> Weights | None:
        """Whitening along the rows' directions: None where every point is as good one way as another."""
        if self._spread is not None:
            return None
        directions = [rows.directions for rows in self.rows(state)]
        whitening = [
            np.linalg.inv(np.linalg.cholesky(b @ covariance @ np.swapaxes(b, 1, 2)))
            for b, covariance in zip(directions, self._covariance, strict=True)
        ]
        return Weights(directions, whitening)

    def normal(self, state: Chain, weights: Weights | None) -> Normal:
        """Normal equations of the whitened rows."""
        size = layout(self.bends).size
        residuals, jacobian = [], []
        for i, rows in enumerate(self.rows(state, weights)):
            if weights is None:
                assert self._spread is not None
                scale = 1 / self._spread[i]
                r, J = rows.residuals * scale[:, None], rows.jacobian * scale[:, None, None]
            else:
                r = np.matmul(weights.whitening[i], rows.residuals[:, :, None])[:, :, 0]
                J = weights.whitening[i] @ rows.jacobian
            residuals.append(r.ravel())
            jacobian.append(J.reshape(-1, size))
        return Normal.from_rows(np.concatenate(residuals), np.concatenate(jacobian))

    def misses(self, chain: Chain) -> tuple[FloatArray, FloatArray]:
        """Every point's miss in mm (m,), and the miss over its doubt, both without sign."""
        size = np.zeros(len(self.points))
        weighed = np.zeros(len(self.points))
        for group, covariance, rows in zip(self.groups, self._covariance, self.rows(chain), strict=True):
            size[group.members] = np.linalg.norm(rows.residuals, axis=1)
            b = rows.directions
            inverse = np.linalg.inv(b @ covariance @ np.swapaxes(b, 1, 2))
            squares = np.einsum("mi,mij,mj->m", rows.residuals, inverse, rows.residuals)
            weighed[group.members] = np.sqrt(squares / rows.residuals.shape[1])
        return size, weighed

    def beyond_ends(self, chain: Chain) -> Iterator[tuple[int, float, bool]]:
        """Points whose feet lie beyond an end: index, by how much in mm, and whether beyond the far end.

        An end straight that no point fixes has no end to lie beyond; the caller knows.
        """
        for group in self.groups:
            if isinstance(group, CentrePoints):
                foot = feet(chain, group.at, group.allowed)
                for i in np.flatnonzero(foot.beyond > 0).tolist():
                    yield group.members[i], float(foot.beyond[i]), bool(foot.along[i] > 0)


def _compile(points: list[Point], bends: int) -> Iterator[PointGroup]:
    """Group points by kind; an end point is the far end unless it comes first."""
    first = [i for i, point in enumerate(points) if point.what == "end" and i == 0]
    last = [i for i, point in enumerate(points) if point.what == "end" and i > 0]
    centres = [i for i, point in enumerate(points) if point.what == "centre"]
    corners = [i for i, point in enumerate(points) if point.what == "corner"]
    if first:
        yield EndPoints(points, first, far=False)
    if last:
        yield EndPoints(points, last, far=True)
    if centres:
        yield CentrePoints(points, centres, bends)
    if corners:
        yield CornerPoints(points, corners, corner_bends(points))


def corner_bends(points: list[Point]) -> list[int]:
    """The bend, counted from 1, of each corner among ``points``: the one told, else one more than the last."""
    bends: list[int] = []
    for point in points:
        if point.what == "corner":
            bends.append(point.bend or (bends[-1] + 1 if bends else 1))
    return bends
