"""What a level laid on the leg bent before must read, and which of the two ways to read it is meant."""

from __future__ import annotations

import math
from typing import Literal

from plumbend.frames import FloatArray
from plumbend.making.machine import LEFT, UP, machine_of
from plumbend.records import record
from plumbend.shop import Bender

LEAST_LEAN = math.radians(5.0)
"""A leg that leaves the tube's own direction by less tells a level too little of how the tube is turned."""

_NOTHING = 1e-9
Sideways = Literal["left", "right"]


@record
class LevelReading:
    """What a level says of one leg while the tail lies level.

    Attributes:
        leg: counted from 1, from the start end.
        reads: radians from level, 0 to half pi.
        points: up or down, away from the bend; None for a level leg.
        sideways: left or right seen from the tail; None for neither. A reading alone is the same for two turns of the
            tube: this tells which is meant.
        past_plumb: the turn has carried the leg over plumb, to the other side; at an upright bender, where it starts
            from plumb above or below the tube, up or down says as much.
    """

    leg: int
    reads: float
    points: Literal["up", "down"] | None
    sideways: Sideways | None
    past_plumb: bool


def level_on(leg: tuple[int, FloatArray, FloatArray], turn: float, bender: Bender) -> LevelReading | None:
    """The reading on a leg, from its number and its directions (3,) before and after the turn, in machine axes.

    None where the bender's plane or swing is not known, or where the leg lies so nearly along the tube that a level
    tells nothing of the turn.
    """
    number, before, after = leg
    lean = math.hypot(float(after[1]), float(after[2]))
    if machine_of(bender) is None or lean < math.sin(LEAST_LEAN):
        return None
    height = float(after @ UP)
    points: Literal["up", "down"] | None = None if abs(height) < _NOTHING else "up" if height > 0 else "down"
    over = bender.plane == "level" and turn != 0 and float(before @ LEFT) * float(after @ LEFT) < -_NOTHING
    left = float(after @ LEFT)
    sideways: Sideways | None = None if abs(left) < _NOTHING else "left" if left > 0 else "right"
    return LevelReading(number, math.asin(min(1.0, abs(height))), points, sideways, points is not None and over)
