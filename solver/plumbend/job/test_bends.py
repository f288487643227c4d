"""Test bends of a die, read from their rows."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from plumbend.job.checking import read_table
from plumbend.job.places import Mistakes, Spot
from plumbend.job.tables import TestBendRow
from plumbend.job.values import Reading, in_other_unit
from plumbend.making.calibration import WIDE, TriedBend
from plumbend.units import format_angle, in_both_units

_SPRINGS = (math.radians(-2.0), math.radians(30.0))
"""Radians between which pointer less finished angle lies; neither is read better than to half a degree."""
_LONGEST = 7500.0
"""mm; no stick of tube is longer (common practice, no source)."""
_PART_OFF, _OFF = 0.2, 8.0
"""Of the arc by its stamp, and mm: as much as the stock that a bend uses by its legs may lie off it. Radius and stretch
account for a tenth, square and rule for the rest (common practice, no source)."""


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
        _ask_back(bend, row, spot, clr, od, reading, mistakes)
        if len(mistakes) == before:
            bends.append(bend)
    return bends


def _ask_back(
    bend: TriedBend,
    row: Mapping[str, Any],
    spot: Spot,
    clr: float,
    od: float | None,
    reading: Reading,
    mistakes: Mistakes,
) -> None:
    """Note figures that no test bend has."""
    if bend.sawn > _LONGEST:
        what = f'"{spot.as_typed(("sawn",), row["sawn"])}" is {in_both_units(bend.sawn)}, longer than any stick'
        other = in_other_unit(row["sawn"], reading.units, clr, _LONGEST)
        mend = f'Write "{other}" if that was meant, and all lengths of the bend so.' if other else "Check the figure."
        mistakes.add(spot, ("sawn",), what, mend)
        return
    for key in ("mark", "clamp_leg", "tail_leg"):
        size = getattr(bend, key)
        if size is not None and size >= bend.sawn:
            what = f'"{spot.as_typed((key,), row[key])}" is {in_both_units(size)}, no less than the sawn length'
            mistakes.add(spot, (key,), what, f"The piece is {in_both_units(bend.sawn)}. Check both and their units.")
    if bend.clamp_leg is not None and bend.clamp_leg <= bend.mark < bend.sawn:
        what = f'"{spot.as_typed(("clamp_leg",), row["clamp_leg"])}" is no longer than the mark'
        mend = "The leg runs from the clamped end past the mark to the outside of the bend: are the two swapped?"
        mistakes.add(spot, ("clamp_leg",), what, mend)
    elif od is not None and bend.clamp_leg is not None and bend.tail_leg is not None:
        _check_legs(bend, bend.clamp_leg + bend.tail_leg, spot, clr, od, mistakes)
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


def _check_legs(bend: TriedBend, legs: float, spot: Spot, clr: float, od: float, mistakes: Mistakes) -> None:
    """Note legs, together so many mm, by which the bend would use far more or less tube than its arc is long."""
    sine, cosine = (math.sin(bend.angle), math.cos(bend.angle)) if bend.angle < math.pi / 2 else (1.0, 0.0)
    used = bend.sawn - (legs - (2 * clr + od) * sine) / (1 + cosine)
    arc = clr * bend.angle
    if abs(used - arc) <= _PART_OFF * arc + _OFF:
        return
    what = (
        f"by its legs this bend of {format_angle(bend.angle)} degrees used {in_both_units(used)} of tube, and its arc "
        f"is some {in_both_units(arc)}"
    )
    mend = "Check the sawn length, the angle and both legs: each runs from its end to the outside of the bend."
    mistakes.add(spot, ("tail_leg",), what, mend)
