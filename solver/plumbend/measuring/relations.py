"""Readings that place points by plumb line, level, line of sight or symmetry, and coordinates read as they are."""

from __future__ import annotations

from dataclasses import field
from typing import ClassVar

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.formulas import Computed, across, mirrored
from plumbend.measuring.places import AXES
from plumbend.measuring.readings import Curved, Linear
from plumbend.measuring.touched import Touched
from plumbend.records import record
from plumbend.units import Axis

_PLAN = np.eye(3)[:2]


@record
class Drop(Linear):
    """Where a plumb bob hung from a point meets the floor: forward and left."""

    components: ClassVar[int] = 2

    point: str
    forward: float
    left: float

    @property
    def places(self) -> tuple[str, ...]:
        """The point."""
        return (self.point,)

    @property
    def words(self) -> str:
        """Such as "a plumb drop of A"."""
        return f"a plumb drop of {self.point}"

    def measured(self) -> tuple[float, ...]:
        """Forward and left."""
        return self.forward, self.left

    def coefficients(self) -> FloatArray:
        """Forward and left."""
        return _PLAN[:, None]


@record
class Coordinate(Linear):
    """One coordinate of a point."""

    point: str
    axis: Axis
    value: float

    @property
    def places(self) -> tuple[str, ...]:
        """The point."""
        return (self.point,)

    @property
    def words(self) -> str:
        """Such as "how far forward A is"."""
        return f"how far {self.axis} {self.point} is"

    def measured(self) -> tuple[float, ...]:
        """The coordinate."""
        return (self.value,)

    def coefficients(self) -> FloatArray:
        """The coordinate."""
        coefficients: FloatArray = np.eye(3)[AXES.index(self.axis)][None, None]
        return coefficients


@record
class Level(Linear):
    """Two points at one height, by water level, laser or spirit level, or a measured step between them.

    Attributes:
        point, other: the two.
        step: how far ``point`` is above ``other``, mm.
        other_touched: the side touched at ``other``.
    """

    point: str
    other: str
    step: float = 0.0
    other_touched: Touched | None = field(default=None, kw_only=True)

    @property
    def places(self) -> tuple[str, ...]:
        """Both."""
        return self.point, self.other

    @property
    def words(self) -> str:
        """Such as "a level from B to A"."""
        return f"a level from {self.other} to {self.point}"

    def measured(self) -> tuple[float, ...]:
        """The step."""
        return (self.step,)

    def offsets(self) -> FloatArray:
        """(2, 3) mm, for either."""
        offsets = Linear.offsets(self)
        if self.other_touched:
            offsets[1] = self.other_touched.offset
        return offsets

    def coefficients(self) -> FloatArray:
        """Difference of heights."""
        return np.array([[[0.0, 0.0, 1.0], [0.0, 0.0, -1.0]]])


@record
class Below(Linear):
    """One point straight under another, by plumb line."""

    components: ClassVar[int] = 2

    point: str
    other: str

    @property
    def places(self) -> tuple[str, ...]:
        """The lower, then the upper."""
        return self.point, self.other

    @property
    def words(self) -> str:
        """Such as "A straight below B"."""
        return f"{self.point} straight below {self.other}"

    def measured(self) -> tuple[float, ...]:
        """Nothing between them, forward and left."""
        return 0.0, 0.0

    def coefficients(self) -> FloatArray:
        """Difference forward and left."""
        return np.stack([_PLAN, -_PLAN], axis=1)


@record
class InLine(Curved):
    """A point on the straight line through two others."""

    components: ClassVar[int] = 2
    plumb: ClassVar[bool] = False

    point: str
    start: str
    end: str

    @property
    def places(self) -> tuple[str, ...]:
        """The point, then the two."""
        return self.point, self.start, self.end

    @property
    def words(self) -> str:
        """Such as "A in line with B1 and B2"."""
        return f"{self.point} in line with {self.start} and {self.end}"

    def measured(self) -> tuple[float, ...]:
        """Nothing off the line, both ways."""
        return 0.0, 0.0

    def formula(self, at: FloatArray, plane: FloatArray) -> Computed:
        """How far off the line, both ways."""
        line = at[:, 2] - at[:, 1]
        # the axis furthest from the line is never along it
        upright = np.eye(3)[np.argmin(np.abs(line), axis=1)]
        one, other = across(at, upright)
        return Computed(
            np.concatenate([one.values, other.values], axis=1),
            np.concatenate([one.by_place, other.by_place], axis=1),
            np.concatenate([one.by_plane, other.by_plane], axis=1),
        )


@record
class SymmetricPair(Curved):
    """A left and a right point that mirror each other across a centre plane."""

    components: ClassVar[int] = 3

    left: str
    right: str
    centre_plane: str = "centre plane"

    @property
    def places(self) -> tuple[str, ...]:
        """Left, right."""
        return self.left, self.right

    @property
    def plane(self) -> str:
        """The centre plane."""
        return self.centre_plane

    @property
    def words(self) -> str:
        """Such as "L and R as a pair"."""
        return f"{self.left} and {self.right} as a pair"

    def measured(self) -> tuple[float, ...]:
        """As far off on either side, none ahead, none higher."""
        return 0.0, 0.0, 0.0

    def formula(self, at: FloatArray, plane: FloatArray) -> Computed:
        """How far from mirroring each other."""
        return mirrored(at, plane)
