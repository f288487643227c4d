"""What a tube is to be, whatever was measured: level, plumb, parallel, of an exact bend, alike, symmetric.

A demand is a few numbers of a chain that are all to be 0, in mm or radians, with their derivatives. It is kept exactly,
or weighed like a reading where it says what it is good to. Directions are compared by the parts of one leg's direction
square to the other, which are sines of small angles; they do not tell a leg from the same leg run backwards.
"""

from __future__ import annotations

from abc import ABC, abstractmethod

import numpy as np

from plumbend.frames import FloatArray, cross, frame_along, wrap_angle
from plumbend.records import record
from plumbend.shape.chain import Chain, Motion


def _leg(chain: Chain, motion: Motion, leg: int) -> tuple[FloatArray, FloatArray]:
    """Frame (3, 3) of a leg's straight, and how fast (3, p) the parameters turn it."""
    element = 2 * (leg - 1)
    return chain.frames[element], motion.twists[3:] * motion.layout.before[element]


class _OfAngles(ABC):
    """A demand each of whose numbers is an angle, all as good as each other."""

    __slots__ = ()
    sd: float | None

    @property
    @abstractmethod
    def count(self) -> int:
        """How many numbers are to be 0."""

    @property
    def sds(self) -> FloatArray | None:
        """Radians."""
        return None if self.sd is None else np.full(self.count, self.sd)


@record
class LegLevel(_OfAngles):
    """Leg ``leg`` level."""

    leg: int
    sd: float | None = None

    @property
    def count(self) -> int:
        """How many numbers are to be 0."""
        return 1

    @property
    def name(self) -> str:
        """What is demanded."""
        return f"leg {self.leg} level"

    @property
    def bends(self) -> int:
        """So many that the leg is there."""
        return self.leg - 1

    def rows(self, chain: Chain, motion: Motion) -> tuple[FloatArray, FloatArray]:
        """How far its direction points up."""
        frame, turning = _leg(chain, motion, self.leg)
        u, up = frame[:, 0], np.array([0.0, 0.0, 1.0])
        return u[2:], (cross(u, up) @ turning)[None]


@record(eq=False)
class LegAlong(_OfAngles):
    """Leg ``leg`` parallel to a fixed ``direction`` (3,), a unit vector called ``called``."""

    leg: int
    direction: FloatArray
    called: str
    sd: float | None = None

    @property
    def count(self) -> int:
        """How many numbers are to be 0."""
        return 2

    @property
    def name(self) -> str:
        """What is demanded."""
        return f"leg {self.leg} {self.called}"

    @property
    def bends(self) -> int:
        """So many that the leg is there."""
        return self.leg - 1

    def rows(self, chain: Chain, motion: Motion) -> tuple[FloatArray, FloatArray]:
        """The two parts of the leg's direction square to the other."""
        frame, turning = _leg(chain, motion, self.leg)
        u = frame[:, 0]
        across = frame_along(self.direction, np.array([0.3, 0.5, 0.8]))[:, 1:].T
        return across @ u, cross(u, across) @ turning


@record
class LegsParallel(_OfAngles):
    """Legs ``leg`` and ``other`` parallel, the same way or opposite."""

    leg: int
    other: int
    sd: float | None = None

    @property
    def count(self) -> int:
        """How many numbers are to be 0."""
        return 2

    @property
    def name(self) -> str:
        """What is demanded."""
        return f"leg {self.leg} parallel to leg {self.other}"

    @property
    def bends(self) -> int:
        """So many that both legs are there."""
        return max(self.leg, self.other) - 1

    def rows(self, chain: Chain, motion: Motion) -> tuple[FloatArray, FloatArray]:
        """The two parts of the other leg's direction square to the first."""
        frame, turning = _leg(chain, motion, self.leg)
        other, other_turning = _leg(chain, motion, self.other)
        u, across = other[:, 0], frame[:, 1:].T
        # both turn: b.(w x u) + (w' x b).u = (u x b).(w - w')
        return across @ u, cross(u, across) @ (other_turning - turning)


@record
class BendExactly(_OfAngles):
    """Bend ``bend`` turns by ``angle`` radians."""

    bend: int
    angle: float
    sd: float | None = None

    @property
    def count(self) -> int:
        """How many numbers are to be 0."""
        return 1

    @property
    def name(self) -> str:
        """What is demanded."""
        return f"bend {self.bend} of {np.degrees(self.angle):.10g} degrees"

    @property
    def bends(self) -> int:
        """So many that the bend is there."""
        return self.bend

    def rows(self, chain: Chain, motion: Motion) -> tuple[FloatArray, FloatArray]:
        """Angle less the one demanded."""
        row = np.zeros((1, motion.layout.size))
        row[0, motion.layout.angles.start + self.bend - 1] = 1.0
        return chain.angles[self.bend - 1 : self.bend] - self.angle, row


@record
class EqualAngles(_OfAngles):
    """All of ``which`` bends turn by the same angle."""

    which: tuple[int, ...]
    sd: float | None = None

    @property
    def count(self) -> int:
        """How many numbers are to be 0."""
        return len(self.which) - 1

    @property
    def name(self) -> str:
        """What is demanded."""
        *others, last = map(str, self.which)
        return f"equal angles at bends {', '.join(others)} and {last}"

    @property
    def bends(self) -> int:
        """So many that all the bends are there."""
        return max(self.which)

    def rows(self, chain: Chain, motion: Motion) -> tuple[FloatArray, FloatArray]:
        """The first angle less each of the others."""
        first, *others = (bend - 1 for bend in self.which)
        rows = np.zeros((len(others), motion.layout.size))
        angles = motion.layout.angles.start
        rows[:, angles + first] = 1.0
        rows[np.arange(len(others)), angles + np.array(others)] = -1.0
        return chain.angles[first] - chain.angles[others], rows


@record
class Symmetric:
    """The tube's two halves mirror each other, end for end.

    Named from its other end a tube keeps every rotation, and its mirror image negates every one. So the two are the
    same tube where straights and angles read alike from both ends, and rotations read alike but for their sign: the
    turn before bend k and that before bend n + 2 - k add up to nothing, or to a whole turn. The one in the middle of
    an even number of bends is 0 or half a turn. (Where they read alike sign and all, half a turn of the whole tube
    brings it back, and no mirror.)

    Attributes:
        length, angle, rotation: standard deviations of straights in mm, of angles and of turns in radians; None where
            it is to be so exactly.
        bends: number of bends, all of them.
    """

    bends: int
    length: float | None = None
    angle: float | None = None
    rotation: float | None = None

    @property
    def sds(self) -> FloatArray | None:
        """Straights from the outside in, then angles, then turns."""
        if self.length is None or self.angle is None or self.rotation is None:
            return None
        n = self.bends
        return np.repeat([self.length, self.angle, self.rotation], [(n + 1) // 2, n // 2, n // 2])

    @property
    def count(self) -> int:
        """How many numbers are to be 0."""
        return (self.bends + 1) // 2 + 2 * (self.bends // 2)

    @property
    def name(self) -> str:
        """What is demanded."""
        return "the tube symmetric"

    def rows(self, chain: Chain, motion: Motion) -> tuple[FloatArray, FloatArray]:
        """Each straight and angle less its fellow's, each turn and its fellow's together."""
        n, where = self.bends, motion.layout
        rows = np.zeros((self.count, where.size))
        straights, bends = np.arange((n + 1) // 2), np.arange(n // 2)
        row = straights
        rows[row, where.straights.start + straights] = 1.0
        rows[row, where.straights.start + n - straights] = -1.0
        row = straights.size + bends
        rows[row, where.angles.start + bends] = 1.0
        rows[row, where.angles.start + n - 1 - bends] = -1.0
        row = row + bends.size
        rows[row, where.rotations.start + bends] += 1.0
        rows[row, where.rotations.start + n - 2 - bends] += 1.0
        turns = chain.rotations[1:]
        together = wrap_angle(turns[bends] + turns[n - 2 - bends])
        values = [
            chain.straights[straights] - chain.straights[n - straights],
            chain.angles[bends] - chain.angles[n - 1 - bends],
            together,
        ]
        return np.concatenate(values), rows


Demand = LegLevel | LegAlong | LegsParallel | BendExactly | EqualAngles | Symmetric
"""Each gives its ``name`` in words; ``bends``, the fewest of a tube that can have it; ``count`` k; ``rows`` of a chain
and its motion, numbers (k,) that are to be 0 and their derivatives (k, p); and ``sds`` (k,), their standard deviations
in mm or radians, None where they must be 0 exactly."""
