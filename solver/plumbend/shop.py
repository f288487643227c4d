"""What the shop owns: only the user's own figures, all lengths in mm and angles in radians."""

from __future__ import annotations

import math
from typing import Literal

from plumbend.records import record
from plumbend.tubing import Tubing

Marks = Literal["start", "middle", "both"]
MeasuredFrom = Literal["end", "last bend"]
Begins = Literal["start", "far", "middle"]

KNOWN_AT = (30, 90, 180)
"""Degrees of the bends at which the doubt of a springback is kept."""
_LEAST_SD = math.radians(0.05)
"""No pointer is read more finely."""


@record
class Springback:
    """By how much a bend opens again when it is let off, as a line over the finished angle: constant + part x angle.

    Attributes:
        constant: radians.
        part: of the finished angle.
        doubts: radians, one standard deviation of it at bends of :data:`KNOWN_AT` degrees; None where no test bends
            told it.
    """

    constant: float
    part: float
    doubts: tuple[float, float, float] | None = None

    def opens(self, angle: float) -> float:
        """Radians by which a bend of a finished ``angle`` was bent further."""
        return self.constant + self.part * angle

    def finished(self, stop: float) -> float:
        """Radians that are left of a bend of ``stop`` radians under load."""
        return (stop - self.constant) / (1 + self.part)

    def sd(self, angle: float) -> float | None:
        """Radians, one standard deviation of what a bend of a finished ``angle`` opens by; None where it is not known.

        The variance of a line goes as a parabola over the angle, so three places tell it everywhere.
        """
        if self.doubts is None:
            return None
        at = [math.radians(degrees) for degrees in KNOWN_AT]
        variance = sum(
            sd**2 * math.prod((angle - other) / (own - other) for other in at if other != own)
            for own, sd in zip(at, self.doubts, strict=True)
        )
        return math.sqrt(max(variance, _LEAST_SD**2))


@record
class Bender:
    """The machine that the dies sit on; None where the shop does not say, and nothing is assumed.

    Attributes:
        drive: by hand or by a cylinder.
        plane: how the plane of a bend lies while it is bent.
        swings: where the front end of the tube swings, seen from its tail: left or right on a level bender, up or down
            on an upright one.
        dial_step: smallest step of the angle pointer that can be set, radians.
        dial_slack: play of the pointer, radians: how far it may be off either way.
        tape_step: smallest step that pen marks are set to, mm.
    """

    drive: Literal["manual", "hydraulic"] | None = None
    plane: Literal["level", "upright"] | None = None
    swings: Literal["left", "right", "up", "down"] | None = None
    dial_step: float | None = None
    dial_slack: float | None = None
    tape_step: float | None = None


@record
class Die:
    """One bend die; lengths in mm, angles in radians, None where the shop does not say.

    Attributes:
        name: as the user calls it; where none is given, its clr as typed.
        clr: centreline radius stamped on it.
        od: outside diameter it takes; None where not said, and then the fit to the tube is not checked.
        bent_clr: the radius that it really bends, where known.
        max_wrap: largest bend angle that the machine reaches with it.
        grip: shortest straight that the clamp can hold between two bends.
        tail: straight that must be left behind the last bend while it is bent.
        reference_offset: from the machine's reference for pen marks to the start of the bend, + where the bend starts
            farther from the hooked end.
        springback: where test bends have told it.
        stock_per_radian: mm of straight tube that go into a bend for each radian of its finished angle; the arc's
            length where not said.
        retyped: keys of figures that are no longer what test bends told: typed over since.
        calibrated: the day on which test bends told them, as 2026-05-31; None where not said.
    """

    name: str
    clr: float
    od: float | None = None
    bent_clr: float | None = None
    max_wrap: float | None = None
    grip: float | None = None
    tail: float | None = None
    reference_offset: float | None = None
    springback: Springback | None = None
    stock_per_radian: float | None = None
    retyped: tuple[str, ...] = ()
    calibrated: str | None = None

    @property
    def radius(self) -> float:
        """Centreline radius of the finished bend: what it really bends, else the stamp."""
        return self.clr if self.bent_clr is None else self.bent_clr

    @property
    def largest_angle(self) -> float:
        """Largest finished angle: the reach of the pointer less the springback, where known; at most a U-bend."""
        if self.max_wrap is None:
            return math.pi
        if self.springback is None:
            return min(self.max_wrap, math.pi)
        return min(max(self.springback.finished(self.max_wrap), 0.0), math.pi)

    def least_straight(self, tubing: Tubing) -> float:
        """Shortest straight between two bends: ``grip``, else a guess of 2 x OD + 10 mm (common practice)."""
        return 2 * tubing.od + 10.0 if self.grip is None else self.grip


@record
class Notcher:
    """A hole-saw notcher; None where the shop does not say, and nothing is assumed.

    Attributes:
        most_off_square: how far its scale goes from square on, radians.
        clamp: straight tube that its clamp needs behind the cut, mm.
        cup: how deep its saws cut, mm.
    """

    most_off_square: float | None = None
    clamp: float | None = None
    cup: float | None = None


@record
class Ways:
    """How the man at the bender works, as far as it was told; None where it was not.

    Attributes:
        marks: where he draws pen lines: at the start of each bend, at its middle, at both.
        measured: what he measures them from: one hooked end, or the end of the bend made before.
        begins: with which bend: the first from the start end, from the far end, or the middle one and outwards.
        trim: mm that he leaves on each end.
    """

    marks: Marks | None = None
    measured: MeasuredFrom | None = None
    begins: Begins | None = None
    trim: float | None = None

    def over(self, other: Ways) -> Ways:
        """These, and what the ``other`` tell where these do not."""
        return Ways(
            self.marks or other.marks,
            self.measured or other.measured,
            self.begins or other.begins,
            other.trim if self.trim is None else self.trim,
        )


@record
class Shop:
    """What :func:`plumbend.read_shop` reads: the dies, the bender and the notcher, and how the man works on them."""

    dies: tuple[Die, ...]
    bender: Bender = Bender()
    notcher: Notcher = Notcher()
    ways: Ways = Ways()
