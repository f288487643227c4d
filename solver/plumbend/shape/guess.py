"""First guess of a tube from what was measured, points in order."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.frames import FloatArray, angle_between, cross, frame_along, unit
from plumbend.records import record
from plumbend.shape.chain import Chain
from plumbend.shape.corners import chain_from_corners
from plumbend.shape.points import Point
from plumbend.shape.segments import Legs

LEAST_ANGLE = np.radians(0.5)
"""A guess bends at least so much: at 0 the plane of the bend has no gradient."""
NEARLY_BACK = np.radians(160.0)
"""Beyond this the corner is too far off to guess by; the bend is placed by how far out points lie."""


def chain_from_legs(places: list[Point], legs: Legs, radius: float) -> Chain:
    """A chain near places on the centreline whose legs are known.

    Corners come where the best lines of neighbouring legs pass each other nearest.

    Args:
        places: in order from the start end, as :func:`plumbend.shape.guide.guide_places` gives them.
        legs: of every place, as :meth:`plumbend.shape.segments.Segmentation.legs` gives them.
        radius: centreline radius, mm.
    """
    bends = max(leg for leg in legs if leg is not None) - 1
    lines = [_line(members) for members in _members(places, legs, bends)]
    told = {leg: point.at for point, leg in zip(places, legs, strict=True) if point.what == "corner"}
    turns = [angle_between(lines[k].along, lines[k + 1].along) for k in range(bends)]
    if all(turn < NEARLY_BACK for turn in turns):
        inner = [told.get(k + 1, _meet(lines[k], lines[k + 1])) for k in range(bends)]
        start, stop = lines[0].first, lines[-1].last
        chain = chain_from_corners(_apart(np.array([start, *inner, stop])), radius)
    else:
        chain = _by_legs(lines, told, radius)
    angles = np.maximum(chain.angles, LEAST_ANGLE)
    return replace(chain, angles=angles)


@record(eq=False)
class _Line:
    """Best line of a leg's points, directed along the tube; ``first`` and ``last`` are its points' feet on it."""

    through: FloatArray
    along: FloatArray
    first: FloatArray
    last: FloatArray


def _members(points: list[Point], legs: Legs, bends: int) -> list[list[Point]]:
    """Points of each leg; a corner belongs to both of its legs."""
    members: list[list[Point]] = [[] for _ in range(bends + 1)]
    for point, leg in zip(points, legs, strict=True):
        if leg is not None:
            members[leg - 1].append(point)
            if point.what == "corner":
                members[leg].append(point)
    return members


def _line(points: list[Point]) -> _Line:
    at = np.array([point.at for point in points])
    weight = np.array([3.0 / np.trace(point.cov) for point in points])
    through = weight @ at / weight.sum()
    _, _, axes = np.linalg.svd((at - through) * np.sqrt(weight)[:, None], full_matrices=False)
    along = axes[0] * (1.0 if axes[0] @ (at[-1] - at[0]) >= 0 else -1.0)
    first, last = ((place - through) @ along for place in (at[0], at[-1]))
    return _Line(through, along, through + first * along, through + last * along)


def _meet(one: _Line, other: _Line) -> FloatArray:
    """Middle of the nearest approach of two lines; half-way between their points where they hardly turn."""
    apart = other.through - one.through
    cosine = one.along @ other.along
    square = np.linalg.norm(cross(one.along, other.along)) ** 2
    half_way = (one.last + other.first) / 2
    if square < np.radians(2.0) ** 2:
        return half_way
    s = (apart @ one.along - cosine * (apart @ other.along)) / square
    t = (cosine * (apart @ one.along) - apart @ other.along) / square
    return (one.through + s * one.along + other.through + t * other.along) / 2


def _apart(corners: FloatArray) -> FloatArray:
    """Corners with coinciding neighbours pushed a little apart, so that every leg has a direction."""
    corners = corners.copy()
    for k in range(1, len(corners)):
        if np.linalg.norm(corners[k] - corners[k - 1]) < 1e-3:
            corners[k] = corners[k - 1] + np.array([1e-3, 0.0, 0.0])
    return corners


def _by_legs(lines: list[_Line], told: dict[int | None, FloatArray], radius: float) -> Chain:
    """A chain laid leg after leg, for tubes with a bend so sharp that its corner is far off or at infinity."""
    bends = len(lines) - 1
    place = lines[0].first
    origin = place
    straights, rotations, angles = np.zeros(bends + 1), np.zeros(bends), np.zeros(bends)
    frame = frame_along(lines[0].along, _side_of_turn(lines[0], lines[1]))
    start = frame
    for k in range(bends):
        u = frame[:, 0]
        towards = _side_of_turn(lines[k], lines[k + 1])
        turned = frame_along(u, towards)
        if k:
            rotations[k] = np.arctan2(turned[:, 1] @ frame[:, 2], turned[:, 1] @ frame[:, 1])
        angles[k] = max(angle_between(u, lines[k + 1].along), LEAST_ANGLE)
        if angles[k] < NEARLY_BACK:
            corner = told.get(k + 1, _meet(lines[k], lines[k + 1]))
            reach = float((corner - place) @ u - radius * np.tan(angles[k] / 2))
        else:
            outmost = max(float((lines[k].last - place) @ u), float((lines[k + 1].first - place) @ u))
            reach = outmost
        straights[k] = max(reach, 1.0)
        place = place + straights[k] * u + turned @ (radius * np.array([np.sin(angles[k]), 1 - np.cos(angles[k]), 0.0]))
        c, s = np.cos(angles[k]), np.sin(angles[k])
        frame = turned @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
    straights[bends] = max(float((lines[-1].last - place) @ frame[:, 0]), 1.0)
    return Chain(origin, start, straights, rotations, angles, radius)


def _side_of_turn(one: _Line, other: _Line) -> FloatArray:
    """Direction toward the centre of the bend between two legs."""
    across = other.along - (other.along @ one.along) * one.along
    size = np.linalg.norm(across)
    if size > 0.3:
        return across / size
    # nearly straight back: the other leg lies on that side
    beside = other.through - one.through
    return unit(beside - (beside @ one.along) * one.along + 1e-9 * frame_along(one.along, across)[:, 1])
