"""Test bends of a die, read from their rows."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from plumbend.job.checking import read_table
from plumbend.job.places import Mistakes, Spot
from plumbend.job.tables import TestBendRow
from plumbend.job.values import Reading
from plumbend.making.calibration import WIDE, TriedBend
from plumbend.units import format_angle, in_both_units

_SPRINGS = (math.radians(-5.0), math.radians(30.0))
"""Radians between which pointer less finished angle lies; a pointer may have been zeroed with slack in it."""


def read_test_bends(
    rows: Sequence[Mapping[str, Any]],
    die: Spot,
    clr: float,
    od: float | None,
    reading: Reading,
    mistakes: Mistakes,
) -> list[TriedBend]:
    """The test bends of a die of radius ``clr`` for tube of ``od``; those with mistakes noted are left out."""
    bends = []
    for index, row in enumerate(rows):
        before, spot = len(mistakes), die.within(("test_bends", index), f"test bend {index + 1}")
        read = read_table(TestBendRow, row, spot, reading, mistakes)
        if read.sawn is None or read.mark is None or read.angle is None or len(mistakes) > before:
            continue
        bend = TriedBend(
            read.sawn,
            read.mark,
            read.angle,
            read.pointer,
            read.clamp_leg,
            read.tail_leg,
            read.width,
            read.batch or "",
            read.date or "",
        )
        _ask_back(bend, row, spot, clr, od, mistakes)
        if len(mistakes) == before:
            bends.append(bend)
    return bends


def _ask_back(
    bend: TriedBend, row: Mapping[str, Any], spot: Spot, clr: float, od: float | None, mistakes: Mistakes
) -> None:
    """Note figures that no test bend has."""
    for key in ("mark", "clamp_leg", "tail_leg"):
        size = getattr(bend, key)
        if size is not None and size >= bend.sawn:
            what = f'"{spot.as_typed((key,), row[key])}" is {in_both_units(size)}, no less than the sawn length'
            mistakes.add(spot, (key,), what, f"The piece is {in_both_units(bend.sawn)}. Check both and their units.")
    if bend.pointer is not None and not _SPRINGS[0] <= bend.pointer - bend.angle <= _SPRINGS[1]:
        what = f"it springs from {format_angle(bend.pointer)} to {format_angle(bend.angle)} degrees"
        mend = "pointer is where it stopped under load, angle how far the bend turns from straight once let off."
        mistakes.add(spot, ("pointer",), what, f"Check both: {mend}")
    if bend.width is None:
        return
    if bend.angle < WIDE:
        mend = "Take it out, or correct the angle."
        mistakes.add(spot, ("width",), f"only a U of {format_angle(WIDE)} degrees or more has a width", mend)
    elif od is not None and abs(bend.width / (2 * clr + od) - 1) > 0.2:
        what = f'"{spot.as_typed(("width",), row["width"])}" is {in_both_units(bend.width)}'
        mend = f"By the stamp it is some {in_both_units(2 * clr + od)}, outside to outside. Check it and its unit."
        mistakes.add(spot, ("width",), what, mend)
