"""What the tape, the rule or the plumb line touched, where that was not the centre."""

from __future__ import annotations

from typing import Final, Literal, get_args

import numpy as np

from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.records import record

Side = Literal["near side", "far side", "top", "bottom", "front", "back", "left", "right"]

_WAY: Final[dict[str, tuple[float, float, float]]] = {
    "top": (0.0, 0.0, 1.0),
    "bottom": (0.0, 0.0, -1.0),
    "front": (1.0, 0.0, 0.0),
    "back": (-1.0, 0.0, 0.0),
    "left": (0.0, 1.0, 0.0),
    "right": (0.0, -1.0, 0.0),
}


@record
class Touched:
    """The side that was touched of a tube, a post or a stub of ``od`` mm whose centre is the place meant.

    The near and the far side are those met first and last along what was measured; the others are sides of the
    vehicle: front is forward.

    Raises:
        BadValue: the side is not known, or the OD is none.
    """

    side: Side
    od: float

    def __post_init__(self) -> None:
        if self.side not in get_args(Side):
            raise BadValue(f'A side "{self.side}" is not known. Write {", ".join(get_args(Side))}.')
        if not 0 < self.od < np.inf:
            raise BadValue(f"What was touched has an OD of {self.od} mm. It must be more than nothing.")

    @property
    def offset(self) -> FloatArray:
        """(3,) mm from the centre to what was touched; nothing for the near and far sides."""
        return np.array(_WAY.get(self.side, (0.0, 0.0, 0.0))) * (self.od / 2)

    @property
    def further(self) -> float:
        """How much further than the touched side the centre is along what was measured, mm."""
        return {"near side": self.od / 2, "far side": -self.od / 2}.get(self.side, 0.0)
