"""Readings of one length: tapes, heights, and how far along or off a string or a plane."""

from __future__ import annotations

import math
from dataclasses import field
from typing import ClassVar

import numpy as np

from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.measuring.formulas import Computed, across, along, distance, from_plane
from plumbend.measuring.readings import Amount, Curved, Linear
from plumbend.measuring.touched import Touched
from plumbend.records import record


@record
class Tape(Amount, Curved):
    """A tape between two places.

    Attributes:
        point, start: its ends.
        start_touched: the side touched at ``start``.
    """

    plumb: ClassVar[bool] = False

    point: str
    start: str
    start_touched: Touched | None = field(default=None, kw_only=True)

    @property
    def places(self) -> tuple[str, ...]:
        """Both ends."""
        return self.point, self.start

    @property
    def words(self) -> str:
        """Such as "a tape from B1 to A"."""
        return f"a tape from {self.start} to {self.point}"

    def measured(self) -> tuple[float, ...]:
        """Length between the centres, mm."""
        (length,) = Amount.measured(self)
        return (length + (self.start_touched.further if self.start_touched else 0.0),)

    def offsets(self) -> FloatArray:
        """(2, 3) mm, for either end."""
        offsets = Amount.offsets(self)
        if self.start_touched:
            offsets[1] = self.start_touched.offset
        return offsets

    def formula(self, at: FloatArray, plane: FloatArray) -> Computed:
        """Distance."""
        return distance(at)

    def __post_init__(self) -> None:
        Amount.__post_init__(self)
        if self.measured()[0] <= 0:
            raise BadValue(f"{self.title} leaves no length between the two places. Read it again.")


@record
class Datum:
    """What heights are taken from: a level string or laser line, or a floor that may fall.

    Attributes:
        name: as it is called in the readings.
        at: its height in the job, mm, at forward 0, left 0.
        rise_forward, rise_left: how much it rises per mm forward and left; negative where it falls.
    """

    name: str = "datum"
    at: float = 0.0
    rise_forward: float = 0.0
    rise_left: float = 0.0

    def coefficients(self) -> FloatArray:
        """(1, 1, 3) what the height above it grows by, per mm forward, left and up."""
        return np.array([[[-self.rise_forward, -self.rise_left, 1.0]]])


LEVEL_DATUM = Datum()
"""A level datum at height 0."""


@record
class _Upright(Amount, Linear):
    """A plumb length between a datum and a point."""

    either_way: ClassVar[bool] = True

    point: str
    datum: Datum = LEVEL_DATUM

    @property
    def places(self) -> tuple[str, ...]:
        """The point."""
        return (self.point,)


@record
class Height(_Upright):
    """How far a point is above a datum; below it is negative."""

    @property
    def words(self) -> str:
        """Such as "the height of A"."""
        return f"the height of {self.point}"

    def measured(self) -> tuple[float, ...]:
        """Height above the datum's own at forward 0, left 0, plus that: what the coefficients give."""
        (length,) = Amount.measured(self)
        return (length + self.datum.at,)

    def coefficients(self) -> FloatArray:
        """Height above a datum that may rise."""
        return self.datum.coefficients()


@record
class Down(_Upright):
    """How far a point is down from a string or a laser line above it."""

    @property
    def words(self) -> str:
        """Such as "how far A is down from the string"."""
        return f"how far {self.point} is down from the {self.datum.name}"

    def measured(self) -> tuple[float, ...]:
        """How far down from height 0 the point is by this."""
        (length,) = Amount.measured(self)
        return (length - self.datum.at,)

    def coefficients(self) -> FloatArray:
        """Depth below a datum that may rise."""
        return -self.datum.coefficients()


@record
class _FromString(Amount, Curved):
    """A length taken from a taut string between two places."""

    point: str
    start: str
    end: str

    @property
    def places(self) -> tuple[str, ...]:
        """Point, start and end of the string."""
        return self.point, self.start, self.end


@record
class Along(_FromString):
    """How far along a taut string, from its start, the foot of the square from a point lies."""

    plumb: ClassVar[bool] = False
    either_way: ClassVar[bool] = True

    @property
    def words(self) -> str:
        """Such as "how far A is along the string from B1 to B2"."""
        return f"how far {self.point} is along the string from {self.start} to {self.end}"

    def formula(self, at: FloatArray, plane: FloatArray) -> Computed:
        """Part of the way, along the string as it hangs, level or not."""
        return along(at)


@record
class Off(_FromString):
    """How far a point is level to the left of a taut string, looking from its start; the right is negative."""

    either_way: ClassVar[bool] = True

    @property
    def words(self) -> str:
        """Such as "how far A is off the string from B1 to B2"."""
        return f"how far {self.point} is off the string from {self.start} to {self.end}"

    def formula(self, at: FloatArray, plane: FloatArray) -> Computed:
        """Distance from the plumb plane through the string."""
        return across(at, np.broadcast_to([0.0, 0.0, 1.0], (len(at), 3)))[0]


@record
class OffPlane(Amount, Curved):
    """How far a point is to the left of a centre plane, square to it; the right is negative."""

    either_way: ClassVar[bool] = True

    point: str
    centre_plane: str = "centre plane"

    @property
    def places(self) -> tuple[str, ...]:
        """The point."""
        return (self.point,)

    @property
    def plane(self) -> str:
        """The centre plane."""
        return self.centre_plane

    @property
    def words(self) -> str:
        """Such as "how far A is off the centre plane"."""
        return f"how far {self.point} is off the {self.centre_plane}"

    def formula(self, at: FloatArray, plane: FloatArray) -> Computed:
        """Distance from the plane."""
        return from_plane(at, plane)


@record
class Gap(Amount, Linear):
    """How far a point stands off a flat surface, square to it.

    Attributes:
        point: what stands off.
        surface: a place on the surface.
        away: unit vector forward, left, up, square to the surface, to the side where the point is.
    """

    either_way: ClassVar[bool] = True

    point: str
    surface: str
    away: tuple[float, float, float]

    @property
    def places(self) -> tuple[str, ...]:
        """The point and the place on the surface."""
        return self.point, self.surface

    @property
    def words(self) -> str:
        """Such as "the gap from S to A"."""
        return f"the gap from {self.surface} to {self.point}"

    def coefficients(self) -> FloatArray:
        """The way from surface to point, along ``away``."""
        return np.array([[self.away, [-part for part in self.away]]])

    def __post_init__(self) -> None:
        Amount.__post_init__(self)
        if not math.isclose(math.hypot(*self.away), 1.0, abs_tol=1e-9):
            raise BadValue(f"{self.title} has a direction whose length is not 1.")
