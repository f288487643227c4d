"""What a level laid on the leg bent before must read, and which of the two ways to read it is meant."""

from __future__ import annotations

import math
from typing import Literal

from plumbend.frames import FloatArray
from plumbend.making.machine import LEFT, UP, Machine, machine_of
from plumbend.records import record
from plumbend.shop import Bender

LEAST_LEAN = math.radians(5.0)
"""A leg that leaves the tube's own direction by less tells a level too little of how the tube is turned."""

_NOTHING = 1e-9
Sideways = Literal["left", "right", "toward you", "away from you"]


@record
class LevelReading:
    """What a level says of one leg while the tail lies level.

    Attributes:
        leg: counted from 1, from the start end.
        reads: radians from level, 0 to half pi.
        points: up or down, away from the bend; None for a level leg.
        sideways: left or right seen from the tail, or from and to the man at an upright bender; None for neither.
            A reading alone is the same for two turns of the tube: this tells which is meant.
        past_plumb: the turn has carried the leg over plumb, to the other side.
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
    machine = machine_of(bender)
    number, before, after = leg
    lean = math.hypot(float(after[1]), float(after[2]))
    if machine is None or lean < math.sin(LEAST_LEAN):
        return None
    height = float(after @ UP)
    points: Literal["up", "down"] | None = None if abs(height) < _NOTHING else "up" if height > 0 else "down"
    over = bender.plane == "level" and turn != 0 and float(before @ LEFT) * float(after @ LEFT) < -_NOTHING
    return LevelReading(
        number, math.asin(min(1.0, abs(height))), points, _sideways(after, machine, bender), points is not None and over
    )


def _sideways(after: FloatArray, machine: Machine, bender: Bender) -> Sideways | None:
    if bender.plane == "level":
        left = float(after @ LEFT)
        return None if abs(left) < _NOTHING else "left" if left > 0 else "right"
    toward = float(after @ machine.facing)
    return None if abs(toward) < _NOTHING else "toward you" if toward > 0 else "away from you"
