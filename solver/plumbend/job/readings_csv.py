"""Readings from a CSV file: columns point, how, value, value2, from, touched, good_to, note, in any order."""

from __future__ import annotations

import difflib
import re
from collections.abc import Sequence
from pathlib import Path

from plumbend.job.checking import note_unknown
from plumbend.job.headed_csv import HeadedSheet, note_cells_beyond, read_headed
from plumbend.job.model import StruckOut, Written
from plumbend.job.places import Mistakes, Spot, csv_spot
from plumbend.job.reading_lines import Fault, read_tail
from plumbend.job.source import Path as Keys
from plumbend.job.spreadsheet import Row
from plumbend.job.values import Reading
from plumbend.job.vehicle_entries import OUT, Entries, Entry, known_word, note_unknown_word, row_of
from plumbend.job.vehicle_tables import KINDS, PLANE_NAMES, GapRow, VehicleRow
from plumbend.units import Units

_KNOWN = ("point", "how", "value", "value2", "from", "touched", "good_to", "note")
_NEEDED = ("point", "how", "value")
_BETWEEN_NAMES = re.compile(r"\s*[/,;]\s*")


def read_readings_csv(path: Path, units: Units, mistakes: Mistakes) -> Entries:
    """The readings of a CSV file, one to a row.

    ``how`` is the word of the kind; ``from`` names the other place, or both, parted by a slash; ``value2`` is the
    left figure of a drop, or which way a gap stands off; ``touched`` may go on with "od 1-1/2". A note that begins
    with "out:", or is "out", strikes the reading out.

    Args:
        path: the file.
        units: of bare numbers.
        mistakes: what is wrong with headings and rows is noted here.

    Raises:
        BadFile: the file cannot be read at all.
    """
    sheet = read_headed(path, _KNOWN)
    name = sheet.name
    _check_headings(sheet.headings, csv_spot(name, sheet.line, "headings", lambda _: ""), mistakes)
    reading = Reading(units, from_csv=True, decimal_comma=sheet.decimal_comma)
    entries = Entries()
    for index, row in enumerate(sheet.rows):
        cells = dict(zip(sheet.headings, row.cells, strict=False))
        written = Written(name, row.line, "csv", index, cells.get("note") or None)
        if cells.get("note", "").lower().partition(":")[0] == OUT:
            typed = " ".join(filter(None, (cells.get(key) for key in ("point", "how", "from", "value", "value2"))))
            entries.struck_out.append(StruckOut(typed, written))
            continue
        entry = _read_row(cells, row, sheet, reading, written, mistakes)
        if entry is None:
            entries.is_sure = False
        else:
            entries.counted.append(entry)
    return entries


def _check_headings(headings: Sequence[str], spot: Spot, mistakes: Mistakes) -> None:
    """Raise BadFile for columns that are missing; note those that are there twice or not known."""
    missing = Mistakes()
    for column in _NEEDED:
        if column not in headings:
            near = difflib.get_close_matches(column, [h for h in headings if h not in _KNOWN], n=1)
            mend = f'Is it "{near[0]}"?' if near else "Every reading has a point, how it was read, and a value."
            missing.add(spot, (), f'the column "{column}" is missing', mend)
    missing.raise_any()
    for heading in dict.fromkeys(filter(None, headings)):
        if heading not in _KNOWN:
            note_unknown(VehicleRow, heading, spot, mistakes, _KNOWN)
        elif headings.count(heading) > 1:
            mistakes.add(spot, (), f'there are two columns "{heading}"', "Keep one of them.")


def _read_row(
    cells: dict[str, str], row: Row, sheet: HeadedSheet, reading: Reading, written: Written, mistakes: Mistakes
) -> Entry | None:
    def called(keys: Keys) -> str:
        return _column(how, keys)

    how: str | None = None
    spot = csv_spot(written.file, row.line, f"row {row.line}", called)
    before = len(mistakes)
    note_cells_beyond(row, sheet, spot, mistakes)
    typed = cells.get("how", "")
    how = known_word(typed)
    if not cells.get("point"):
        mistakes.add(spot, ("point",), "the cell is empty", "Type the name of the place.")
    if not typed:
        mistakes.add(spot, ("how",), "the cell is empty", f"Write one of {', '.join(KINDS)}.")
    elif how is None:
        note_unknown_word(typed, ("how",), spot, mistakes)
    if how is None:
        return None
    names = _names(how, cells.get("from", ""), spot, mistakes)
    figures = _figures(how, cells, spot, mistakes)
    tail = {}
    if cells.get("touched"):
        try:
            tail = read_tail(["touched", *cells["touched"].split()])
        except Fault as fault:
            mistakes.add(spot, ("touched",), fault.what, fault.mend)
    if len(mistakes) > before:
        return None
    values = row_of(how, cells["point"], names, figures) | tail
    if KINDS[how].table is GapRow:
        values["away"] = cells["value2"]
    values |= {key: cells[key] for key in ("good_to", "note") if cells.get(key)}
    return Entry(how, values, spot, reading, written)


def _column(how: str | None, keys: Keys) -> str:
    """The heading over what ``keys`` of a row lead to."""
    if not keys:
        return ""
    kind, key = KINDS.get(how or ""), str(keys[0])
    if key == "away" or (how == "drop" and keys[1:] == (1,)):
        return "value2"
    if kind is not None and key in (kind.figures_under, kind.names_under):
        return "value" if key == kind.figures_under else "from"
    return {"to": "point", "od": "touched", "from_touched": "touched", "from_od": "touched"}.get(key, key)


def _names(how: str, cell: str, spot: Spot, mistakes: Mistakes) -> list[str]:
    """The names in the cell under "from"."""
    least, most = KINDS[how].names
    names = [cell] if cell else []
    if cell and cell.lower() not in PLANE_NAMES:
        names = [name for name in _BETWEEN_NAMES.split(cell) if name]
        if most == 2 and len(names) == 1 and len(cell.split()) == 2:
            names = cell.split()
    if not names and least:
        mistakes.add(
            spot, ("from",), "the cell is empty", f"Name {'both places' if least == 2 else 'the other place'}."
        )
    elif names and not most:
        mistakes.add(spot, ("from",), f'"{cell}" is too much: no other place has part in it', "Empty the cell.")
    elif len(names) < least or len(names) > most:
        what, mend = ("one place", "Name one.") if most == 1 else ("two places", "Name both, such as B1 / B2.")
        mistakes.add(spot, ("from",), f'"{cell}" is not {what}', mend)
    return names


def _figures(how: str, cells: dict[str, str], spot: Spot, mistakes: Mistakes) -> list[str]:
    """What was read, under "value" and "value2"."""
    least, most = KINDS[how].figures
    wants_second = most == 2 or KINDS[how].table is GapRow
    value, value2 = cells.get("value", ""), cells.get("value2", "")
    if least and not value:
        mistakes.add(spot, ("value",), "the cell is empty", "Type what was read.")
    if value and not most:
        mistakes.add(spot, ("value",), f'"{value}" is too much: nothing is read there', "Empty the cell.")
    if wants_second and not value2:
        mend = (
            "Type how far left it is, such as L 12-1/2." if most == 2 else "Type which way it stands off, such as up."
        )
        mistakes.add(spot, ("value2",), "the cell is empty", mend)
    if value2 and not wants_second:
        mistakes.add(spot, ("value2",), f'"{value2}" is one figure too many', "Empty the cell.")
    return [figure for figure in (value, value2)[:most] if figure]
