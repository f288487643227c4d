"""Readings of the vehicle typed as a list of tables, such as ``{ to = "A", from = "B1", tape = "36-9/16" }``."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from plumbend.job.checking import note_unknown
from plumbend.job.model import StruckOut, Written
from plumbend.job.places import Mistakes, Spot
from plumbend.job.reading_tables import TABLES
from plumbend.job.tables import Table
from plumbend.job.values import Reading
from plumbend.job.vehicle_entries import OUT, Entries, Entry
from plumbend.job.vehicle_tables import KINDS

_KEYS = tuple(dict.fromkeys([*KINDS, *(key for kind in KINDS.values() for key in kind.table.typed_keys())]))
_OF_A_TUBE = ("bend", "leg", "legs", "corners", *(key for key in TABLES if key not in KINDS))


def read_list(rows: Sequence[Mapping[str, Any]], top: Spot, reading: Reading, mistakes: Mistakes) -> Entries:
    """The readings of a list; tables that do not hold one reading are left out, and the mistakes noted."""
    entries = Entries()
    for index, row in enumerate(rows):
        spot = top.within(("readings", index), f"reading {index + 1}")
        note = row.get("note")
        written = Written(spot.file, spot.line(()), "rows", index, note if isinstance(note, str) else None)
        if row.get(OUT) is True:
            typed = _as_line(row, spot, reading, written) or spot.as_typed((), row)
            entries.struck_out.append(StruckOut(typed, written))
            continue
        how = _how(row, spot, mistakes)
        if how is None:
            entries.is_sure = False
        else:
            entries.counted.append(Entry(how, dict(row), spot, reading, written))
    return entries


def _as_line(row: Mapping[str, Any], spot: Spot, reading: Reading, written: Written) -> str | None:
    """A row that is not checked as the line that it would be; None where it would be none."""
    ways = [key for key in KINDS if key in row]
    if len(ways) != 1 or not isinstance(row.get("to"), str):
        return None
    return Entry(ways[0], dict(row), spot, reading, written).typed


def _how(row: Mapping[str, Any], spot: Spot, mistakes: Mistakes) -> str | None:
    """The word of the kind; None with the mistake noted."""
    words = [key for key in KINDS if key in row]
    if len(words) == 1:
        return words[0]
    unknown = [key for key in row if key not in _KEYS]
    if words:
        what = f"there are {len(words)} readings in one row: {', '.join(words)}"
        mistakes.add(spot, (), what, "Write a row for each.")
    elif any(key in _OF_A_TUBE for key in row):
        mend = "Move it into the readings of its [[tube]]."
        mistakes.add(spot, (), "this is a reading of a tube, not of the vehicle", mend)
    elif unknown:
        for key in unknown:
            note_unknown(Table, key, spot, mistakes, _KEYS)
    else:
        mistakes.add(spot, (), "it does not say what was read", f"Write one of {', '.join(KINDS)}.")
    return None
