"""That it was asked what drives the numbers, and with what they are to be explained."""

from __future__ import annotations

from typing import TYPE_CHECKING

from plumbend.records import record

if TYPE_CHECKING:  # a job without readings of the vehicle does not pay for them
    from plumbend.shape.known_together import PlacedBy


@record
class Why:
    """What drives the numbers is to be told, as :attr:`plumbend.TubeResult.why`.

    Attributes:
        gap: mm within which both ends are to land; None where no chance of it was asked for.
        placed_by: the readings that place the points of the tube at hand; :func:`plumbend.solve` sees to it.
    """

    gap: float | None = None
    placed_by: PlacedBy | None = None
