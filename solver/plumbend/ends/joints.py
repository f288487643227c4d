"""How a tube stands to one neighbour: joint angle, offset, clocking, and where the centrelines come nearest."""

from __future__ import annotations

import math
from collections.abc import Callable
from functools import lru_cache

import numpy as np

from plumbend.ends.neighbours import Leg, Neighbour
from plumbend.ends.surfaces import Piece, Plane
from plumbend.errors import Refused
from plumbend.frames import FloatArray, cross
from plumbend.records import record

LEAST_JOINT_ANGLE = math.radians(15)
"""Below this a cut is refused; common practice calls joints under some 20 degrees awkward by any means."""

_SQUARE_ON = 1e-9  # below this sine no side of the joint is the tight one
_MET = 1e-11  # mm; the foot lies square off the axis
_LATEST = 64  # joints that are remembered: several in turn ask for the same one


@record(eq=False)
class Joint:
    """One tube end on one neighbour.

    Attributes:
        angle: joint angle, radians: between the axes, or between the axis and the plate; 90 degrees is square on.
        offset: mm by which the axes pass each other; 0 for a plate.
        offset_side: round of the side on which the neighbour's axis passes; None without an offset.
        clocking: round of the side in the tight angle of the joint, which comes out short. Square on a tube, where
            neither side is, the side along its axis that is within 90 degrees; square on a plate, none.
        node: mm from the nearest tangent to where the axes come nearest.
        place: (3,) mm, there on the neighbour's centreline, or on the plate.
        direction: (3,) unit, the neighbour's axis there, or square off the plate.
        on_tube: whether it is a tube.
    """

    angle: float
    offset: float
    offset_side: float | None
    clocking: float | None
    node: float
    place: FloatArray
    direction: FloatArray
    on_tube: bool

    @property
    def off_square(self) -> float:
        """The angle on the other scale, where 0 is square on, radians."""
        return math.pi / 2 - self.angle


@lru_cache(maxsize=_LATEST)
def joint(leg: Leg, neighbour: Neighbour) -> Joint:
    """How ``leg`` stands to ``neighbour``.

    Raises:
        Refused: they never meet, or at too small an angle.
    """
    node, piece = _node(leg, neighbour)
    place, direction = piece.foot(leg.start + node * leg.along)
    on_tube = not isinstance(piece, Plane)
    slant = float(direction @ leg.along)
    across = direction - slant * leg.along
    size = float(np.linalg.norm(across))
    angle = math.atan2(size, abs(slant))
    tight = across if slant < 0 else -across  # the way the neighbour runs back along the tube
    if not on_tube:
        angle, tight = math.pi / 2 - angle, -across
    if angle < LEAST_JOINT_ANGLE:
        raise Refused(
            f'The joint on "{neighbour.name}" is only {math.degrees(angle):.1f} degrees between the '
            f"{'axes' if on_tube else 'axis and the plate'}: under {math.degrees(LEAST_JOINT_ANGLE):.0f} no saw or "
            "notcher makes the cut. Meet it at a larger angle"
        )
    clocking: float | None = leg.round_of(tight)
    if abs(slant) < _SQUARE_ON or size < _SQUARE_ON:
        clocking = _within_quarter_turn(leg.round_of(across)) if on_tube else None
    away = place - (leg.start + node * leg.along)
    offset = float(np.linalg.norm(away)) if on_tube else 0.0
    return Joint(
        angle, offset, leg.round_of(away) if offset > 1e-9 * leg.od else None, clocking, node, place, direction, on_tube
    )


def _within_quarter_turn(round_: float) -> float:
    """The same or the opposite side, whichever lies in (-90, 90] degrees."""
    return round_ if -math.pi / 2 < round_ <= math.pi / 2 else round_ - math.copysign(math.pi, round_)


def _node(leg: Leg, neighbour: Neighbour) -> tuple[float, Piece]:
    """Where the leg's axis, having met the neighbour, comes nearest to its centreline, and the piece it is on."""
    start, along = leg.start + leg.free_from * leg.along, leg.along
    # most of a bent tube lies elsewhere
    pieces = [piece for piece in neighbour.pieces if not piece.clears(start, along, leg.od)] or neighbour.pieces
    # the crossing nearest to the start; an axis that only passes takes the place where it passes nearest
    best = (True, math.inf, math.inf)
    for piece in pieces:
        meets, crossing = piece.meets(start[None], along)
        for a, crosses in zip(meets[0].tolist(), crossing[0].tolist(), strict=True):
            if a >= 0:
                by = 0.0 if crosses else float(piece.distance((start + a * along)[None])[0])
                best = min(best, (not crosses, by, a))
    if not math.isfinite(best[2]):
        raise Refused(f'The tube runs past "{neighbour.name}" and never meets it. Check the places')
    at = best[2]

    def nearest(a: float) -> tuple[float, Piece]:
        place = start + a * along
        distances = [float(piece.distance(place[None])[0]) for piece in pieces]
        piece = pieces[int(np.argmin(distances))]
        if isinstance(piece, Plane):
            return distances[0], piece
        return float((place - piece.foot(place)[0]) @ along), piece

    value, piece = nearest(at)
    if isinstance(piece, Plane):
        return leg.free_from + at, piece
    # square on, the place is as far off as the value says, and at a slant farther
    step = math.copysign(max(leg.od / 8, 1.2 * abs(value)), -value)
    here, there = at, at + step
    beyond = nearest(there)[0]
    while beyond * value > 0 and abs(there - at) < 100 * leg.od:
        here, value, there = there, beyond, there + step
        beyond = nearest(there)[0]
    return leg.free_from + _crossing(lambda a: nearest(a)[0], here, value, there, beyond), nearest(there)[1]


def _crossing(f: Callable[[float], float], a: float, at_a: float, b: float, at_b: float) -> float:
    """Where ``f`` goes through 0 between ``a`` and ``b``, where it has values of either sign: false position, the end
    that stays counting half each time (the Illinois method; Dowell and Jarratt 1971)."""
    for _ in range(60):
        middle = (a + b) / 2 if at_a == at_b else b - at_b * (b - a) / (at_b - at_a)
        value = f(middle)
        if value * at_b < 0:
            a, at_a = b, at_b
        else:
            at_a /= 2
        b, at_b = middle, value
        if abs(value) < _MET or abs(b - a) < _MET:
            break
    return b


def square_to_both(leg: Leg, met: Joint) -> FloatArray:
    """(3,) unit: the direction about which the joint's angle opens and closes."""
    normal = cross(leg.along, met.direction)
    size = float(np.linalg.norm(normal))
    return leg.frame[:, 2] if size < _SQUARE_ON else normal / size
