"""What ``plumbend calibrate`` left in a die beside its figures: their date, batch and ±, and the earlier figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from plumbend.job.checking import read_table
from plumbend.job.places import Mistakes, Spot
from plumbend.job.tables import CalibratedTable, DieTable, EarlierRow, FiguresGoodToTable, FiguresTable
from plumbend.job.values import Reading
from plumbend.measuring.accuracies import sd_from_good_to
from plumbend.records import record
from plumbend.shop import Springback

_AS_WRITTEN = 1e-9
"""mm or radians; figures that differ by less are the same ones."""


@record
class Told:
    """What test bends said of the figures of a die.

    Attributes:
        date: of the day; None where not said.
        retyped: keys of figures in the die that are no longer those.
        doubts: radians, one standard deviation of the springback at bends of 30, 90 and 180 degrees; None where not
            said, and where it is no longer the springback that was told.
    """

    date: str | None = None
    retyped: tuple[str, ...] = ()
    doubts: tuple[float, float, float] | None = None


def read_calibrated(die: DieTable, at: Spot, reading: Reading, mistakes: Mistakes) -> Told:
    """What test bends said of the figures of a ``die``, as read."""
    spot = at.within(("calibrated",), "calibrated")
    read = read_table(CalibratedTable, die.calibrated or {}, spot, reading, mistakes)
    good_to = read_table(
        FiguresGoodToTable, read.good_to or {}, spot.within(("good_to",), "good_to"), reading, mistakes
    ).springback
    told = read_table(FiguresTable, read.figures or {}, spot.within(("figures",), "figures"), reading, mistakes)
    retyped = tuple(key for key in FiguresTable.typed_keys() if _differ(getattr(told, key), getattr(die, key)))
    if good_to is None or "springback" in retyped:
        return Told(read.date, retyped)
    small, square, u = map(sd_from_good_to, good_to)
    return Told(read.date, retyped, (small, square, u))


def _differ(told: float | Springback | None, now: float | Springback | None) -> bool:
    """Whether a figure was told and another one stands there now; one that was taken out is none."""
    if told is None or now is None:
        return False
    if isinstance(told, Springback) and isinstance(now, Springback):
        return max(abs(told.constant - now.constant), abs(told.part - now.part)) > _AS_WRITTEN
    assert isinstance(told, float)
    assert isinstance(now, float)
    return abs(told - now) > _AS_WRITTEN


def read_earlier(rows: Sequence[Mapping[str, Any]], die: Spot, reading: Reading, mistakes: Mistakes) -> None:
    """Note what is wrong in the earlier figures; they are kept for the user and count for nothing."""
    for index, row in enumerate(rows):
        spot = die.within(("earlier", index), f"earlier figures {index + 1}")
        read_table(EarlierRow, row, spot, reading, mistakes)
