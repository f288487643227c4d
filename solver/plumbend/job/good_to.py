"""What measurements are good to where they do not say themselves: as the job says, else the usual."""

from __future__ import annotations

from typing import Final, Literal

import numpy as np

from plumbend.frames import FloatArray
from plumbend.job.tables import GoodToTable
from plumbend.measuring.accuracies import (
    ANGLE_BY_FINDER,
    MEASURED_HEIGHT,
    PLUMB_DROP,
    ROTATION_BY_FINDER,
    SCANNED_POINT,
    TAPED_LENGTH,
    TYPED_POINT,
    good_to_from_sd,
    sd_from_good_to,
)
from plumbend.records import record
from plumbend.units import Units, format_angle, format_length, length_with_unit

OneFigure = Literal["tape", "vehicle tape", "height", "drop", "angle", "slope", "rotation", "scan"]
"""Measurements whose accuracy is one figure; that of a point is three."""


@record
class _Usual:
    """One standard deviation, mm or radians, of what is usually measured by what."""

    sd: float
    what: str
    by: str
    is_angle: bool = False


_USUAL: Final[dict[str, _Usual]] = {
    "point": _Usual(TYPED_POINT, "Typed points", "tape and plumb bob"),
    "tape": _Usual(TAPED_LENGTH, "Lengths taped on the tube", "a tape"),
    "vehicle tape": _Usual(TAPED_LENGTH, "Lengths taped on the vehicle", "a tape"),
    "height": _Usual(MEASURED_HEIGHT, "Heights", "a rule and a string or a laser line"),
    "drop": _Usual(PLUMB_DROP, "Plumb drops", "a plumb bob"),
    "angle": _Usual(ANGLE_BY_FINDER, "Angles of bends", "a gravity angle finder", True),
    "slope": _Usual(ANGLE_BY_FINDER, "Slopes of legs", "a gravity angle finder", True),
    "rotation": _Usual(ROTATION_BY_FINDER, "Turns between bends", "an angle finder", True),
    "scan": _Usual(SCANNED_POINT, "Scanned points", "a scanning probe"),
}


class GoodTo:
    """The accuracies of one job; those that had to be assumed are remembered."""

    def __init__(self, said: GoodToTable) -> None:
        self._point = said.point
        self._said: dict[OneFigure, float | None] = {
            "tape": said.tape,
            "vehicle tape": said.tape,
            "height": said.height,
            "drop": said.drop,
            "angle": said.angle,
            "slope": said.slope,
            "rotation": said.rotation,
            "scan": said.scan,
        }
        self._assumed: set[str] = set()

    def covariance(self, own: tuple[float, float, float] | None) -> FloatArray:
        """Covariance (3, 3) in mm^2 of a point that is good to ``own`` mm along the axes, or does not say."""
        return np.diag([sd**2 for sd in self.sds(own)])

    def sds(self, own: tuple[float, float, float] | None) -> tuple[float, float, float]:
        """One standard deviation in mm, along each axis, of a point that is good to ``own``, or does not say."""
        good_to = own or self._point
        if good_to is None:
            self._assumed.add("point")
            return (TYPED_POINT,) * 3
        forward, left, up = map(sd_from_good_to, good_to)
        return forward, left, up

    def sd(self, what: OneFigure, own: float | None) -> float:
        """One standard deviation, mm or radians, of a measurement that is good to ``own``, or does not say."""
        good_to = own or self._said[what]
        if good_to is None:
            self._assumed.add(what)
            return _USUAL[what].sd
        return sd_from_good_to(good_to)

    def assumed(self, units: Units) -> tuple[str, ...]:
        """A sentence for each accuracy that had to be assumed."""
        return tuple(
            f"{usual.what} are taken as good to {_size(usual, units)}, the usual for {usual.by}, "
            "since the job does not say."
            for what, usual in _USUAL.items()
            if what in self._assumed
        )


def _size(usual: _Usual, units: Units) -> str:
    good_to = good_to_from_sd(usual.sd)
    if usual.is_angle:
        return f"{format_angle(good_to).removesuffix('.0')} degrees"
    mm = f"{format_length(good_to, 'mm', decimals=1).removesuffix('.0')} mm"
    return mm if units == "mm" else f"{length_with_unit(good_to, units, parts=32)} ({mm})"
