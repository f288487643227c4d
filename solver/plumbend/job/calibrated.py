"""What ``plumbend calibrate`` left in a die beside its figures: their date, batch and ±, and the earlier figures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from plumbend.job.checking import read_table
from plumbend.job.places import Mistakes, Spot
from plumbend.job.tables import CalibratedTable, EarlierRow, FiguresGoodToTable
from plumbend.job.values import Reading


def springback_good_to(table: Mapping[str, Any], die: Spot, reading: Reading, mistakes: Mistakes) -> float | None:
    """Radians that the springback is good to at a bend of 90 degrees; None where the table does not say."""
    spot = die.within(("calibrated",), "calibrated")
    read = read_table(CalibratedTable, table, spot, reading, mistakes)
    within = spot.within(("good_to",), "good_to")
    return read_table(FiguresGoodToTable, read.good_to or {}, within, reading, mistakes).springback


def read_earlier(rows: Sequence[Mapping[str, Any]], die: Spot, reading: Reading, mistakes: Mistakes) -> None:
    """Note what is wrong in the earlier figures; they are kept for the user and count for nothing."""
    for index, row in enumerate(rows):
        spot = die.within(("earlier", index), f"earlier figures {index + 1}")
        read_table(EarlierRow, row, spot, reading, mistakes)
