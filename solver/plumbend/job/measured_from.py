"""What readings are taken from: bases, datums and the floor, the centre plane, and how the tape is read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from plumbend.job.checking import read_table
from plumbend.job.frame_tables import BaseTable, CentrePlaneTable, DatumTable, FloorTable, TapeTable
from plumbend.job.places import Mistakes, Spot, called
from plumbend.job.values import Reading
from plumbend.job.vehicle_tables import CENTRE_PLANE
from plumbend.measuring.accuracies import sd_from_good_to
from plumbend.measuring.lengths import Datum
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.tapes import TAPES, TapeHabits

FLOOR = "floor"
"""The datum that is always there: level at height 0 where no [floor] says otherwise."""

_STEEPEST = 0.2
"""No floor rises or falls by more than this part of a length."""


def read_bases(rows: Sequence[Mapping[str, Any]], top: Spot, reading: Reading, mistakes: Mistakes) -> dict[str, Place]:
    """Bases of ``[[base]]`` tables by name; one that does not say what it is good to is held where it is given."""
    bases: dict[str, Place] = {}
    for index, row in enumerate(rows):
        spot = top.within(("base", index), called("base", row.get("name"), index + 1))
        table = read_table(BaseTable, row, spot, reading, mistakes)
        at = table.at or (None, None, None)
        if table.good_to is not None and at == (None, None, None) and (not table.says("at") or table.at):
            mend = "Say it of the readings, or give the base its place."
            mistakes.add(spot, ("good_to",), "no figure is given that it could be said of", mend)
        if table.name is None:
            continue
        if table.name in bases:
            mend = "Give each its own name."
            mistakes.add(spot, ("name",), f'there are two bases called "{table.name}"', mend)
        sd = (0.0, 0.0, 0.0) if table.good_to is None else _halved(table.good_to)
        bases[table.name] = Place(table.name, at, sd, base=True, hints=table.hint or ())
    return bases


def _halved(good_to: tuple[float, float, float]) -> tuple[float, float, float]:
    forward, left, up = map(sd_from_good_to, good_to)
    return forward, left, up


def read_datums(
    floor: Mapping[str, Any] | None,
    rows: Sequence[Mapping[str, Any]],
    top: Spot,
    reading: Reading,
    mistakes: Mistakes,
) -> dict[str, Datum]:
    """The floor and the datums of ``[[datum]]`` tables by name."""
    datums = {FLOOR: _read_floor(floor, top.within(("floor",), "[floor]"), reading, mistakes)}
    for index, row in enumerate(rows):
        spot = top.within(("datum", index), called("datum", row.get("name"), index + 1))
        table = read_table(DatumTable, row, spot, reading, mistakes)
        if table.name is None:
            continue
        if table.name == FLOOR:
            mistakes.add(spot, ("name",), "the floor has a table of its own", "Write it under [floor].")
        elif table.name in datums:
            mend = "Give each its own name."
            mistakes.add(spot, ("name",), f'there are two datums called "{table.name}"', mend)
        datums[table.name] = Datum(table.name, table.at or 0.0)
    return datums


def _read_floor(row: Mapping[str, Any] | None, spot: Spot, reading: Reading, mistakes: Mistakes) -> Datum:
    if row is None:
        return Datum(FLOOR)
    table = read_table(FloorTable, row, spot, reading, mistakes)
    falls = [key for key in ("fall_forward", "fall_left") if table.says(key)]
    if falls and not table.says("over"):
        mend = 'Write the length on which it falls so much, such as over = "8 ft".'
        mistakes.add(spot, (falls[0],), "it does not say over what length", mend)
    elif table.says("over") and not falls:
        mend = 'Write how far it falls on that length, such as fall_forward = "1/4".'
        mistakes.add(spot, ("over",), "it does not say how far the floor falls", mend)
    over = table.over or 1.0
    rises = [0.0 if fall is None else -fall / over for fall in (table.fall_forward, table.fall_left)]
    steep = [key for key, rise in zip(("fall_forward", "fall_left"), rises, strict=True) if abs(rise) > _STEEPEST]
    if table.over is not None:
        for key in steep:
            mend = "Check how far it falls, and over what length."
            mistakes.add(spot, (key,), "no floor falls by more than one in five", mend)
    return Datum(FLOOR, table.at or 0.0, *rises)


def read_centre_plane(
    row: Mapping[str, Any] | None, top: Spot, reading: Reading, mistakes: Mistakes
) -> CentrePlane | None:
    """The centre plane as told, to be found as far as it does not say; None where nothing is told."""
    if row is None:
        return None
    table = read_table(CentrePlaneTable, row, top.within(("centre_plane",), "[centre_plane]"), reading, mistakes)
    return CentrePlane(CENTRE_PLANE, table.offset, table.heading)


def read_tape(row: Mapping[str, Any] | None, top: Spot, reading: Reading, mistakes: Mistakes) -> TapeHabits:
    """How the tape is read; as it is where nothing is told.

    What a class or a division says adds to what the tape readings are good to, which is then for holding and
    sighting alone.
    """
    if row is None:
        return TapeHabits()
    spot = top.within(("tape",), "[tape]")
    table = read_table(TapeTable, row, spot, reading, mistakes)
    if table.read_from and table.hook_worn:
        mend = "Keep the one that holds."
        mistakes.add(spot, ("hook_worn",), "the hook plays no part where another line is held at the start", mend)
    return TapeHabits(
        table.read_from or 0.0,
        table.hook_worn or 0.0,
        table.division or 0.0,
        table.warmer or 0.0,
        None if table.tape_class is None else TAPES[table.tape_class],
    )
