"""What each kind of point says of a chain, as residuals with exact derivatives.

A residual is the miss in mm along a direction b (unit vector in space). With N any two unit vectors square
to the tube's tangent t, v = point - foot and d = |v|:

======= ===================== ===== ==========================================================
kind    residual              count derivative
======= ===================== ===== ==========================================================
centre  N v                     2   -[b, (foot - c) x b] S_e, b = N: the foot's slide along t drops out
side    N (v - OD/2 m)          2   the same, and the tilt of m (see :class:`SidePoints`)
outside d - OD/2                1   the same with b = v/d
touch   d - OD/2 - gap          1   the same; so has a place to keep clear of
end     point - end             3   the same with b = x, y, z and all that lies before the end
corner  point - corner          3   the same, and the corner's own: u for its straight, r/2 sec^2(A/2) u
======= ===================== ===== ==========================================================

S_e holds the twists of the parameters before element e.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol

import numpy as np

from plumbend.frames import FloatArray, cross, normals_to
from plumbend.records import record
from plumbend.shape.chain import POSE, Chain, Motion
from plumbend.shape.feet import Feet, allowed_elements, feet
from plumbend.shape.points import Point

LEAST_ACROSS = 1e-3
"""Part of a side's direction that is square to the tube, at least: on the way to a fit a leg may lie along it."""


@record(eq=False)
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
        """Residuals and derivatives; ``basis`` (m, k, 3) are directions of an earlier call to keep to."""


class OnTube:
    """Points that have a foot on the tube."""

    def __init__(self, points: list[Point], members: list[int], bends: int) -> None:
        self.members = members
        self.at = np.array([points[i].at for i in members])
        self.allowed = allowed_elements([points[i].leg for i in members], bends)

    def feet(self, chain: Chain) -> Feet:
        """The points' feet."""
        return feet(chain, self.at, self.allowed)


def _masked(motion: Motion, foot: Feet, rows: FloatArray) -> FloatArray:
    """Rows (m, k, p) without the parameters that do not lie before each foot's element."""
    return rows * motion.layout.before[foot.element][:, None, :]


class CentrePoints(OnTube):
    """Points anywhere on the centreline."""

    def rows(self, chain: Chain, motion: Motion, basis: FloatArray | None) -> Rows:
        """The two parts of each miss that are square to the tube."""
        foot = self.feet(chain)
        normals = normals_to(foot.tangent) if basis is None else carried(basis, foot.tangent)
        residuals = np.matmul(normals, foot.off[:, :, None])[:, :, 0]
        return Rows(residuals, normals, _masked(motion, foot, motion.rows(normals, foot.place)))


def carried(normals: FloatArray, tangent: FloatArray) -> FloatArray:
    """Normals (m, 2, 3) carried over to tangents (m, 3) without spin about them.

    Weights stated along the old normals hold along the carried ones, which change smoothly with the tube.
    """
    flat = normals - (normals @ tangent[:, :, None]) * tangent[:, None, :]
    first = flat[:, 0] / np.linalg.norm(flat[:, 0], axis=1, keepdims=True)
    second = flat[:, 1] / np.linalg.norm(flat[:, 1], axis=1, keepdims=True)
    # squared up evenly: half of the skew is taken from each
    plus, minus = first + second, first - second
    plus /= np.linalg.norm(plus, axis=1, keepdims=True) * np.sqrt(2)
    minus /= np.linalg.norm(minus, axis=1, keepdims=True) * np.sqrt(2)
    return np.stack([plus + minus, plus - minus], axis=1)


class SidePoints(OnTube):
    """Places touched on a named side of the tube.

    The touched place lies at OD/2 m from the axis, m = (e - (e.t) t)/s for the side's direction e, s the
    length of the numerator. As the tangent tilts by dt, m turns about b = t x m by -(e.t)/s (b.dt), which
    adds OD/2 (e.t)/s (b.dt) N.b to the rows. On an arc of curvature kappa, inward normal n, the foot's slide
    ds (1 - kappa v.n) = v.(w x t) - t.(velocity of the foot) tilts the tangent too: dt = w x t + kappa n ds.
    """

    def __init__(self, points: list[Point], members: list[int], bends: int, od: float) -> None:
        super().__init__(points, members, bends)
        self.side = np.array([points[i].side for i in members])
        self.od = od

    def rows(self, chain: Chain, motion: Motion, basis: FloatArray | None) -> Rows:
        """The two parts of each miss, of the touched place from where the tube's side is, square to the tube."""
        foot = self.feet(chain)
        t, v = foot.tangent, foot.off
        normals = normals_to(t) if basis is None else carried(basis, t)
        along = np.einsum("mi,mi->m", self.side, t)
        m = self.side - along[:, None] * t
        s = np.maximum(np.linalg.norm(m, axis=1), LEAST_ACROSS)
        m = m / s[:, None]
        b = cross(t, m)
        off = v - self.od / 2 * m
        residuals = np.matmul(normals, off[:, :, None])[:, :, 0]
        jacobian = motion.rows(normals, foot.place)
        arm = foot.place - motion.reference
        inward = foot.inward
        stretch = 1 - foot.curvature * np.einsum("mi,mi->m", v, inward)
        pull = (foot.curvature * np.einsum("mi,mi->m", b, inward) / stretch)[:, None]
        turning = np.concatenate([-pull * t, -m + pull * (cross(t, v) - cross(arm, t))], axis=1)
        tilt = (self.od / 2 * along / s)[:, None] * (turning @ motion.twists)
        jacobian += np.matmul(normals, b[:, :, None]) * tilt[:, None, :]
        return Rows(residuals, normals, _masked(motion, foot, jacobian))


class OutsidePoints(OnTube):
    """Points on the outside of the tube itself, or places on the body that it stands off by their gap."""

    def __init__(self, points: list[Point], members: list[int], bends: int, od: float) -> None:
        super().__init__(points, members, bends)
        self.off_axis = np.array([od / 2 + points[i].standoff.gap for i in members])

    def rows(self, chain: Chain, motion: Motion, basis: FloatArray | None) -> Rows:
        """Distance from the centreline less half an OD and the gap, + where the point is farther off."""
        foot = self.feet(chain)
        distance = np.linalg.norm(foot.off, axis=1)
        # a place on the axis itself is as near to the outside in every direction square to it
        on_axis = distance < 1e-9
        away = np.where(on_axis[:, None], foot.inward, foot.off / np.where(on_axis, 1.0, distance)[:, None])[:, None, :]
        residuals = (distance - self.off_axis)[:, None]
        return Rows(residuals, away, _masked(motion, foot, motion.rows(away, foot.place)))


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
        place, moves = corner_moves(chain, motion, self.at_bend)
        directions = _axes(len(self.at)) if basis is None else basis
        return Rows(self.at - place, directions, -(directions @ moves))


def corner_moves(chain: Chain, motion: Motion, at_bend: np.ndarray) -> tuple[FloatArray, FloatArray]:
    """Corners of bends ``at_bend`` (m,) counted from 1: places (m, 3) and their derivatives (m, 3, p)."""
    k = at_bend - 1
    u = chain.frames[2 * k, :, 0]
    half = chain.angles[k] / 2
    place = chain.tangents()[k, 1] + (chain.radius * np.tan(half))[:, None] * u
    moves = -motion.rows(_axes(len(k)), place) * motion.layout.before[2 * k][:, None, :]
    own = np.arange(len(k))
    moves[own, :, motion.layout.straights.start + k] += u
    moves[own, :, motion.layout.angles.start + k] += (chain.radius / 2 / np.cos(half) ** 2)[:, None] * u
    return place, moves


def end_moves(chain: Chain, motion: Motion, far: bool) -> tuple[FloatArray, FloatArray]:
    """An end of the centreline: its place (3,) and derivative (3, p)."""
    place = chain.far_end if far else chain.origin
    moves = -motion.rows(_axes(1), place[None])[0]
    if not far:
        moves[:, POSE:] = 0.0
    return place, moves


def _axes(count: int) -> FloatArray:
    return np.broadcast_to(np.eye(3), (count, 3, 3))


def group_points(points: list[Point], bends: int, od: float) -> Iterator[PointGroup]:
    """Points whose misses count, in groups of one kind; an end point is the far end unless it comes first.

    Corners that are not told their bend take them in order.
    """
    ends = [i for i, point in enumerate(points) if point.what == "end"]
    on_axis = [i for i, point in enumerate(points) if point.what == "centre" and point.side is None]
    on_side = [i for i, point in enumerate(points) if point.what == "centre" and point.side is not None]
    outside = [i for i, point in enumerate(points) if point.what == "outside"]
    touched = [i for i, point in enumerate(points) if point.what == "touch" and point.weighs]
    corners = [i for i, point in enumerate(points) if point.what == "corner"]
    if ends[:1] == [0]:
        yield EndPoints(points, [0], far=False)
    if any(ends):
        yield EndPoints(points, [i for i in ends if i], far=True)
    if on_axis:
        yield CentrePoints(points, on_axis, bends)
    if on_side:
        yield SidePoints(points, on_side, bends, od)
    if outside:
        yield OutsidePoints(points, outside, bends, od)
    if touched:
        yield OutsidePoints(points, touched, bends, od)
    if corners:
        yield CornerPoints(points, corners, corner_bends(points))


def corner_bends(points: list[Point]) -> list[int]:
    """The bend, counted from 1, of each corner among ``points``: the one told, else one more than the last."""
    bends: list[int] = []
    for point in points:
        if point.what == "corner":
            bends.append(point.bend or (bends[-1] + 1 if bends else 1))
    return bends
