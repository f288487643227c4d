"""Readings of the tube itself, straight off gauge or tape: each says one number of a chain.

A residual is reading less what the chain gives, in mm or radians; its derivative is minus that of the
chain's number.
"""

from __future__ import annotations

import math
from typing import ClassVar, Literal, Protocol

import numpy as np

from plumbend.frames import FloatArray, cross, wrap_angle
from plumbend.records import record
from plumbend.shape.chain import Chain, Motion
from plumbend.shape.kinds import corner_moves, end_moves


class TubeReading(Protocol):
    """One number read off the tube.

    Attributes:
        sd: its standard deviation, mm or radians.
        is_angle: whether it is in radians.
    """

    is_angle: ClassVar[bool]

    @property
    def sd(self) -> float:
        """Standard deviation, mm or radians."""

    @property
    def name(self) -> str:
        """What was read, in words."""

    def residual(self, chain: Chain, motion: Motion) -> tuple[float, FloatArray]:
        """Reading less the chain's number, and the derivative (p,) of that."""


@record
class BendAngle:
    """How far bend ``bend``, counted from 1, turns the tube from straight: ``angle``, good to one ``sd``, radians."""

    bend: int
    angle: float
    sd: float
    is_angle: ClassVar[bool] = True

    @property
    def name(self) -> str:
        """What was read."""
        return f"angle of bend {self.bend}"

    def residual(self, chain: Chain, motion: Motion) -> tuple[float, FloatArray]:
        """Reading less angle."""
        row = np.zeros(motion.layout.size)
        row[motion.layout.angles.start + self.bend - 1] = -1.0
        return self.angle - float(chain.angles[self.bend - 1]), row


@record
class BendRotation:
    """Signed turn from the plane of bend ``bend`` - 1 to that of ``bend``, 2 or more.

    ``rotation`` and its standard deviation ``sd`` in radians; clockwise, looking from the start end to the far end, is
    positive.
    """

    bend: int
    rotation: float
    sd: float
    is_angle: ClassVar[bool] = True

    @property
    def name(self) -> str:
        """What was read."""
        return f"turn before bend {self.bend}"

    def residual(self, chain: Chain, motion: Motion) -> tuple[float, FloatArray]:
        """Reading less turn, the short way round."""
        row = np.zeros(motion.layout.size)
        row[motion.layout.rotations.start + self.bend - 2] = -1.0
        return float(wrap_angle(self.rotation - float(chain.rotations[self.bend - 1]))), row


@record
class LegSlope:
    """Slope of leg ``leg``, counted from 1, against level; up toward the far end is positive unless ``unsigned``.

    ``slope`` and its standard deviation ``sd`` in radians.
    """

    leg: int
    slope: float
    sd: float
    unsigned: bool = False
    is_angle: ClassVar[bool] = True

    @property
    def name(self) -> str:
        """What was read."""
        return f"slope of leg {self.leg}"

    def residual(self, chain: Chain, motion: Motion) -> tuple[float, FloatArray]:
        """Reading less slope; an unsigned reading takes the side that the chain lies on."""
        element = 2 * (self.leg - 1)
        u = chain.frames[element, :, 0]
        level = math.hypot(u[0], u[1])
        slope = math.atan2(u[2], level)
        read = math.copysign(self.slope, slope) if self.unsigned else self.slope
        # h.(w x u) with h the unit vector in which u's slope grows; plumb legs have none
        h = (np.array([0.0, 0.0, 1.0]) - u[2] * u) / max(level, 1e-9)
        return read - slope, -(cross(u, h) @ motion.twists[3:]) * motion.layout.before[element]


@record
class CornersApart:
    """Tape between corners ``first`` and ``second``: 0 is the start end, k bend k, n + 1 the far end.

    ``distance`` and its standard deviation ``sd`` in mm.
    """

    first: int
    second: int
    distance: float
    sd: float
    is_angle: ClassVar[bool] = False

    @property
    def name(self) -> str:
        """What was read."""
        return f"tape from corner {self.first} to corner {self.second}"

    def residual(self, chain: Chain, motion: Motion) -> tuple[float, FloatArray]:
        """Reading less distance."""
        (a, moves_a), (b, moves_b) = (_corner(chain, motion, k) for k in (self.first, self.second))
        apart = b - a
        distance = float(np.linalg.norm(apart))
        return self.distance - distance, -(apart / distance) @ (moves_b - moves_a)


def _corner(chain: Chain, motion: Motion, k: int) -> tuple[FloatArray, FloatArray]:
    if 0 < k <= chain.bends:
        place, moves = corner_moves(chain, motion, np.array([k]))
        return place[0], moves[0]
    return end_moves(chain, motion, far=k > 0)


@record
class LegsApart:
    """Distance between legs ``first`` and ``second``, counted from 1, over their outsides, insides or centres.

    ``distance`` and its standard deviation ``sd`` in mm; ``extra`` mm is what the reading has over the distance of the
    centrelines: OD, -OD or 0. The distance is the mean of the middle of each straight from the line of the other; that
    between two lines would be nought or nearly, since lines that are not quite parallel pass each other somewhere.
    """

    first: int
    second: int
    distance: float
    sd: float
    extra: float
    across: Literal["outside", "inside", "centres"]
    is_angle: ClassVar[bool] = False

    @property
    def name(self) -> str:
        """What was read."""
        return f"legs {self.first} and {self.second}, {self.across}"

    def residual(self, chain: Chain, motion: Motion) -> tuple[float, FloatArray]:
        """Reading less distance."""
        total, row = self.extra, np.zeros(motion.layout.size)
        for one, other in ((self.first - 1, self.second - 1), (self.second - 1, self.first - 1)):
            u = chain.frames[2 * one, :, 0]
            middle = chain.origins[2 * one] + chain.straights[one] / 2 * u
            moves = -motion.rows(np.eye(3)[None], middle[None])[0] * motion.layout.before[2 * one]
            moves[:, motion.layout.straights.start + one] += u / 2
            distance, change = _from_line(chain, motion, other, middle, moves)
            total += distance / 2
            row -= change / 2
        return self.distance - total, row


@record
class OutsideToEnd:
    """Distance from the outside of leg ``leg`` square to it to an end of the tube: its centre, in the saw cut.

    The far end where ``far``, else the start end; ``distance``, its standard deviation ``sd`` and the outside diameter
    ``od`` in mm.
    """

    leg: int
    far: bool
    distance: float
    sd: float
    od: float
    is_angle: ClassVar[bool] = False

    @property
    def name(self) -> str:
        """What was read."""
        return f"outside of leg {self.leg} to the {'far' if self.far else 'start'} end"

    def residual(self, chain: Chain, motion: Motion) -> tuple[float, FloatArray]:
        """Reading less distance."""
        distance, change = _from_line(chain, motion, self.leg - 1, *end_moves(chain, motion, self.far))
        return self.distance - distance - self.od / 2, -change


def _from_line(
    chain: Chain, motion: Motion, straight: int, place: FloatArray, moves: FloatArray
) -> tuple[float, FloatArray]:
    """Distance of a place (3,) that moves by ``moves`` (3, p) from the line of a straight, and its derivative."""
    u = chain.frames[2 * straight, :, 0]
    along = (place - chain.origins[2 * straight]) @ u
    foot = chain.origins[2 * straight] + along * u
    off = place - foot
    distance = float(np.linalg.norm(off))
    away = off / max(distance, 1e-9)
    line = motion.rows(away[None, None], foot[None])[0, 0] * motion.layout.before[2 * straight]
    return distance, away @ moves + line
