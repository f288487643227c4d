"""What the shop owns: only the user's own figures, all lengths in mm and angles in radians."""

from __future__ import annotations

import math
from dataclasses import dataclass

from plumbend.tubing import Tubing


@dataclass(frozen=True, slots=True)
class Die:
    """One bend die.

    Attributes:
        name: as the user calls it; where none is given, its clr as typed.
        clr: centreline radius stamped on it.
        od: outside diameter it takes; None where not said, and then the fit to the tube is not checked.
        bent_clr: the radius that it really bends, where known.
        max_wrap: largest bend angle that the machine reaches with it.
        grip: shortest straight that the clamp can hold between two bends.
    """

    name: str
    clr: float
    od: float | None = None
    bent_clr: float | None = None
    max_wrap: float | None = None
    grip: float | None = None

    @property
    def radius(self) -> float:
        """Centreline radius of the finished bend: what it really bends, else the stamp."""
        return self.clr if self.bent_clr is None else self.bent_clr

    @property
    def largest_angle(self) -> float:
        """Largest bend angle: the reach of the pointer, at most a U-bend."""
        return math.pi if self.max_wrap is None else min(self.max_wrap, math.pi)

    def least_straight(self, tubing: Tubing) -> float:
        """Shortest straight between two bends: ``grip``, else a guess of 2 x OD + 10 mm (common practice)."""
        return 2 * tubing.od + 10.0 if self.grip is None else self.grip


@dataclass(frozen=True, slots=True)
class Shop:
    """The dies of the shop file."""

    dies: tuple[Die, ...]
