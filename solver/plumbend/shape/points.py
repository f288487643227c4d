"""Points that say where a tube runs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from plumbend.frames import FloatArray

SIDES: dict[str, tuple[float, float, float]] = {
    "front": (1.0, 0.0, 0.0),
    "rear": (-1.0, 0.0, 0.0),
    "left": (0.0, 1.0, 0.0),
    "right": (0.0, -1.0, 0.0),
    "top": (0.0, 0.0, 1.0),
    "bottom": (0.0, 0.0, -1.0),
}
"""Sides of a tube by name, in vehicle axes."""

PointKind = Literal["end", "corner", "centre", "outside"]


@dataclass(frozen=True, slots=True, eq=False)
class Point:
    """One measured place.

    Attributes:
        name: as painted on the vehicle.
        what: "end" where the centreline stops; "corner" where two neighbouring straights would meet if
            prolonged; "centre" anywhere on the centreline; "outside" on the outside of the tube itself.
        at: (3,) mm in vehicle axes: forward, left, up.
        cov: (3, 3) mm^2, covariance of ``at``.
        leg: for "centre" and "outside": 1 to n + 1, where told: bend leg - 1, straight leg or bend leg.
        bend: for "corner": its bend, 1 to n, where told; else corners count in their order.
        side: (3,) unit vector, for "centre": ``at`` is on the tube's outside toward this direction, half an
            OD square from the axis, in the plane of the axis and the direction.
    """

    name: str
    what: PointKind
    at: FloatArray
    cov: FloatArray
    leg: int | None = None
    bend: int | None = None
    side: FloatArray | None = None
