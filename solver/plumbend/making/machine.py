"""Where a bender's parts lie, as the man at the tail sees them.

Axes of the machine: x from the tail to the die, y to the left, z up. The bend starts at the origin; a straight tube
lies along x with its front end beyond the die. A bend leaves the tail where it is and swings the front.
"""

from __future__ import annotations

import math

import numpy as np

from plumbend.frames import FloatArray, cross, rotation_about
from plumbend.records import record
from plumbend.shop import Bender

TO_DIE = np.array([1.0, 0.0, 0.0])
LEFT = np.array([0.0, 1.0, 0.0])
UP = np.array([0.0, 0.0, 1.0])


@record(eq=False)
class Machine:
    """A bender's directions.

    Attributes:
        swing: (3,) unit, the way the front end starts to swing.
        facing: (3,) unit, the way that the reference line faces as a bend is made: up on a level bender, toward the
            man on an upright one.
    """

    swing: FloatArray
    facing: FloatArray

    def holding(self, frame: FloatArray) -> FloatArray:
        """Rotation (3, 3) from a tube's axes to the machine's, with one of its frames where a bend is made.

        ``frame`` has columns u (from the front to the tail), n (toward the bend's centre) and u x n.
        """
        held: FloatArray = np.column_stack([-TO_DIE, self.swing, cross(-TO_DIE, self.swing)]) @ frame.T
        return held


def machine_of(bender: Bender) -> Machine | None:
    """The directions of a bender; None where the shop leaves its plane or its swing open.

    Left or right does not say whether the front of an upright bender rises or drops. On which side of it the man stands
    is not known either: here it is the left, and what would differ on the right must not be told.
    """
    if bender.plane == "level" and bender.swings in ("left", "right"):
        return Machine(LEFT if bender.swings == "left" else -LEFT, UP)
    if bender.plane == "upright" and bender.swings in ("up", "down"):
        return Machine(UP if bender.swings == "up" else -UP, LEFT)
    return None


ANY_MACHINE = Machine(LEFT, UP)
"""Stands for a bender of which nothing is known: turns seen from the tail are the same at every bender."""


def clockwise(before: FloatArray, after: FloatArray) -> float:
    """Radians in (-pi, pi] from one direction (3,) square to the tail to another, + clockwise seen from the tail."""
    angle = math.atan2(float(TO_DIE @ cross(before, after)), float(before @ after))
    return math.pi if angle < 1e-9 - math.pi else angle  # half a turn is the same either way


def turned(direction: FloatArray, angle: float) -> FloatArray:
    """A direction (3,) turned clockwise about the tail by ``angle`` radians, seen from the tail."""
    moved: FloatArray = rotation_about(TO_DIE, angle) @ direction
    return moved
