"""Points that say where a tube runs."""

from __future__ import annotations

import math
from typing import Literal

from plumbend.frames import FloatArray
from plumbend.records import record

SIDES: dict[str, tuple[float, float, float]] = {
    "front": (1.0, 0.0, 0.0),
    "rear": (-1.0, 0.0, 0.0),
    "left": (0.0, 1.0, 0.0),
    "right": (0.0, -1.0, 0.0),
    "top": (0.0, 0.0, 1.0),
    "bottom": (0.0, 0.0, -1.0),
}
"""Sides of a tube by name, in vehicle axes."""

PointKind = Literal["end", "corner", "centre", "outside", "touch", "clear"]


@record(eq=False)
class Standoff:
    """How the outside of a tube is to stand to a place on the body.

    Attributes:
        gap: mm from the place to the tube's outside: at a place to touch just so much, at one to keep clear of at
            least so much; minus infinity frees the tube of the place.
        exact: a place to touch is met exactly, whatever its accuracy.
        within: a place to touch is missed by no more than so many mm, and anywhere within that is as good.
        tube_is: (3,) unit vector from the place to the side on which the tube lies, where told.
        called: what stands there, such as "lamp bracket".
    """

    gap: float = 0.0
    exact: bool = False
    within: float | None = None
    tube_is: FloatArray | None = None
    called: str | None = None


AT_IT = Standoff()
"""The outside at the place itself."""


@record(eq=False)
class Point:
    """One measured place.

    Attributes:
        name: as painted on the vehicle.
        what: "end" where the centreline stops; "corner" where two neighbouring straights would meet if
            prolonged; "centre" anywhere on the centreline; "outside" on the outside of the tube itself; "touch" a
            place on the body that the tube's outside meets; "clear" one that it keeps clear of.
        at: (3,) mm in vehicle axes: forward, left, up.
        cov: (3, 3) mm^2, covariance of ``at``; of a place to touch within so much, what that leaves open.
        leg: for all but ends and corners: 1 to n + 1, where told: bend leg - 1, straight leg or bend leg.
        bend: for "corner": its bend, 1 to n, where told; else corners count in their order.
        side: (3,) unit vector, for "centre": ``at`` is on the tube's outside toward this direction, half an
            OD square from the axis, in the plane of the axis and the direction.
        standoff: for "touch" and "clear".
    """

    name: str
    what: PointKind
    at: FloatArray
    cov: FloatArray
    leg: int | None = None
    bend: int | None = None
    side: FloatArray | None = None
    standoff: Standoff = AT_IT

    @property
    def weighs(self) -> bool:
        """Whether its miss counts in the sum of squares; else it is met exactly, or kept clear of."""
        return self.what != "clear" and not self.standoff.exact

    @property
    def limits(self) -> bool:
        """Whether it sets a limit that the tube must keep."""
        return (not self.weighs or self.standoff.within is not None) and self.standoff.gap > -math.inf
