"""Where the cut lies along the tube and round it, as numbers to set and mark."""

from __future__ import annotations

import math

from plumbend.ends.neighbours import Leg
from plumbend.records import record

VIEWPOINT = "looking along the tube from the bend toward the cut"
"""From where every clocking is seen; clockwise is +."""


@record
class Reach:
    """One place of a cut, by what it can be measured from along the tube, mm.

    Attributes:
        tangent: from the nearest tangent, along the straight.
        corner: from the nearest bend's corner; None without a bend, or at a U-bend, whose corner is nowhere.
        middle: from the middle of the nearest bend, half its arc and on; None without a bend.
        other: of a straight tube, from the longest point of its other end; None of a bent one.
    """

    tangent: float
    corner: float | None
    middle: float | None
    other: float | None


def reach(leg: Leg, at: float, other: float = 0.0) -> Reach:
    """A place ``at`` mm from the nearest tangent; of a straight tube, whose other end's longest point lies ``other`` mm
    beyond where its centreline stops there, ``at`` mm from that."""
    if leg.bend_angle is None or leg.bend_radius is None:
        return Reach(at, None, None, at + other)
    no_corner = leg.bend_angle > math.pi - 1e-6
    corner = None if no_corner else at + leg.bend_radius * math.tan(leg.bend_angle / 2)
    return Reach(at, corner, at + leg.bend_radius * leg.bend_angle / 2, None)


@record
class Clocking:
    """How far round the tube a place of a cut lies from a line on it, seen as `VIEWPOINT` says.

    Attributes:
        turn: radians in (-pi, pi], + clockwise.
        arc: the same along the outside, mm.
    """

    turn: float
    arc: float


def clocking(leg: Leg, place: float, line: float = 0.0) -> Clocking:
    """From the round ``line`` to the round ``place``: 0 is the inside of the nearest bend, or give the round on which
    the reference line lies on this leg."""
    turn = math.remainder(place - line, 2 * math.pi)
    turn = math.pi if turn <= -math.pi + 1e-12 else turn
    return Clocking(turn, turn * leg.outer)
