"""The bend program: straights, rotations, angles."""

from __future__ import annotations

import numpy as np

from plumbend.errors import BadValue
from plumbend.frames import FloatArray, wrap_angle
from plumbend.records import record


@record(eq=False)
class Program:
    """What a tube of n bends is, wherever it lies.

    Attributes:
        straights: (n + 1,) mm, from the start end, tangent to tangent.
        rotations: (n,) radians in (-pi, pi]; the first is 0. Looking along the tube from the start end
            toward the far end, clockwise is positive.
        angles: (n,) radians, exterior angles in (0, pi].

    Raises:
        BadValue: its shapes do not go together, a number is not finite, or the first rotation is not 0.
    """

    straights: FloatArray
    rotations: FloatArray
    angles: FloatArray

    def __post_init__(self) -> None:
        for name in ("straights", "rotations", "angles"):
            value = np.array(getattr(self, name), dtype=np.float64)
            value.setflags(write=False)
            object.__setattr__(self, name, value)
        n = self.angles.size
        if self.straights.shape != (n + 1,) or self.rotations.shape != (n,):
            raise BadValue(
                f"A program of {n} bends has {n + 1} straights and {n} rotations, "
                f"not {self.straights.size} and {self.rotations.size}."
            )
        if not all(np.isfinite(value).all() for value in (self.straights, self.rotations, self.angles)):
            raise BadValue("A program's straights, rotations and angles are finite numbers.")
        if n and self.rotations[0] != 0.0:
            raise BadValue("The first rotation is 0: nothing lies before the first bend.")

    @property
    def bends(self) -> int:
        """Number of bends."""
        return int(self.angles.size)

    def developed_length(self, radius: float) -> float:
        """Finished centreline length in mm, end to end, with bends of centreline ``radius`` mm."""
        return float(self.straights.sum() + radius * self.angles.sum())

    def reversed(self) -> Program:
        """The same tube named from its other end: every rotation keeps its sign."""
        rotations = np.concatenate([[0.0], self.rotations[:0:-1]])[: self.bends]
        return Program(self.straights[::-1], rotations, self.angles[::-1])

    def mirrored(self) -> Program:
        """The mirror part: every rotation changes its sign."""
        return Program(self.straights, wrap_angle(-self.rotations), self.angles)
