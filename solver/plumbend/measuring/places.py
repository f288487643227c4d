"""Places and centre planes that readings are taken from and to."""

from __future__ import annotations

from typing import Final, Literal

from plumbend.errors import BadValue
from plumbend.records import record
from plumbend.units import Axis

AXES: Final[tuple[Axis, Axis, Axis]] = ("forward", "left", "up")

Hint = Literal["forward", "aft", "left", "right", "above", "below"]
WAY_OF_HINT: Final[dict[Hint, tuple[int, float]]] = {
    "forward": (0, 1.0),
    "aft": (0, -1.0),
    "left": (1, 1.0),
    "right": (1, -1.0),
    "above": (2, 1.0),
    "below": (2, -1.0),
}
"""Axis and sense of a hint: of two answers, the one further this way is meant."""


@record
class Place:
    """A base or a point, given, partly given, or to be found.

    Attributes:
        name: as painted on the vehicle.
        at: forward, left, up in mm; None for what is to be found.
        sd: one standard deviation in mm of each given coordinate; 0 holds it as given.
        base: a place that other places are measured from.
        hints: which of two mirror answers is meant.

    Raises:
        BadValue: an accuracy is no length, or a hint is not known.
    """

    name: str
    at: tuple[float | None, float | None, float | None] = (None, None, None)
    sd: tuple[float, float, float] = (0.0, 0.0, 0.0)
    base: bool = False
    hints: tuple[Hint, ...] = ()

    def __post_init__(self) -> None:
        if any(not 0 <= sd < float("inf") for sd in self.sd):
            raise BadValue(f"{self.name} has an accuracy that is no length. Give one in mm, or leave it out.")
        if any(hint not in WAY_OF_HINT for hint in self.hints):
            raise BadValue(f"{self.name} has a hint that is not known. Write {', '.join(WAY_OF_HINT)}.")

    @property
    def held(self) -> tuple[bool, bool, bool]:
        """Coordinates that stay exactly as given."""
        forward, left, up = (at is not None and sd == 0 for at, sd in zip(self.at, self.sd, strict=True))
        return forward, left, up


@record
class CentrePlane:
    """A plumb plane from front to back: the vehicle's centre plane, or that through a taut string.

    Attributes:
        name: as it is called in the readings.
        offset: how far to the left of the origin it passes, mm; None where it is to be found.
        heading: radians that its forward direction is turned to the left; None where it is to be found.
    """

    name: str = "centre plane"
    offset: float | None = None
    heading: float | None = None
