"""Points from a CSV file, as rows of the same keys as in a job file."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from plumbend.job.checking import note_unknown
from plumbend.job.files import refuse_file
from plumbend.job.headed_csv import HeadedSheet, note_cells_beyond, read_headed
from plumbend.job.places import Mistakes, Spot, csv_spot, shortened
from plumbend.job.source import Path as Keys
from plumbend.job.spreadsheet import Row
from plumbend.job.tables import CUT_KEYS, PointRow
from plumbend.job.values import Reading
from plumbend.notices import listed
from plumbend.records import record
from plumbend.units import Units

_AXIS_OF = {"x": 0, "y": 1, "z": 2, "forward": 0, "left": 1, "up": 2}
_COLUMNS = ("name", "what", "leg", "bend", "side", "x", "y", "z", "hint", "good_to", "note")
_KNOWN = (*_COLUMNS, "gap", "tube_is", "exact", "within", *CUT_KEYS)


@record
class PointRows:
    """Rows with their places, and how their cells are written."""

    rows: tuple[tuple[dict[str, Any], Spot], ...]
    reading: Reading


def read_point_rows(path: Path, tube: str, units: Units, mistakes: Mistakes) -> PointRows:
    """The points of a CSV file: columns name, what, leg, bend, side, x, y, z, hint, good_to, note, and of places on
    the body gap, tube_is, exact, within, of ends on, square, mitre, short_side, allowance, edge, in any order.

    A point that readings place may leave x, y and z empty, or have "?" in those to be found.

    Args:
        path: the file.
        tube: the tube in words, such as 'tube "left rail"'.
        units: of bare numbers.
        mistakes: what is wrong with headings and rows is noted here.

    Raises:
        BadFile: the file cannot be read at all.
    """
    sheet = read_headed(path, _COLUMNS, (*_KNOWN, *_AXIS_OF))
    if not sheet.rows:
        raise refuse_file(sheet.name, "there are no points below the headings", "Type one to a row.", sheet.line)
    spot = csv_spot(sheet.name, sheet.line, f"{tube}, headings", lambda _: "")
    _need_columns(sheet.headings, spot)
    _check_headings(sheet.headings, spot, mistakes)
    read = [_read_row(sheet, row, tube, mistakes) for row in sheet.rows]
    return PointRows(tuple(read), Reading(units, from_csv=True, decimal_comma=sheet.decimal_comma))


def _need_columns(headings: Sequence[str], spot: Spot) -> None:
    """Raise BadFile for the columns that are missing: the rows say nothing without them."""
    missing = Mistakes()
    axes = {_AXIS_OF[heading] for heading in headings if heading in _AXIS_OF}
    there = {*headings, *("xyz"[axis] for axis in axes)}
    for column in ("name", "what", "x", "y", "z"):
        if column not in there:
            near = difflib.get_close_matches(column, [h for h in headings if h not in _KNOWN], n=1)
            mend = f'Is it "{near[0]}"?' if near else "Every point has a name, what it is, x, y and z."
            missing.add(spot, (), f'the column "{column}" is missing', mend)
    missing.raise_any()


def _check_headings(headings: Sequence[str], spot: Spot, mistakes: Mistakes) -> None:
    """Note columns that are there twice or not known."""
    plain = ["xyz"[_AXIS_OF[heading]] if heading in _AXIS_OF else heading for heading in headings if heading]
    for heading in dict.fromkeys(plain):
        if heading not in _KNOWN:
            note_unknown(PointRow, heading, spot, mistakes, _KNOWN)
        elif plain.count(heading) > 1:
            mistakes.add(spot, (), f'there are two columns "{shortened(heading)}"', "Keep one of them.")


def _read_row(sheet: HeadedSheet, row: Row, tube: str, mistakes: Mistakes) -> tuple[dict[str, Any], Spot]:
    """The row's keys and values, its three figures gathered under "at" unless all are empty, and its place."""
    cells = dict(zip(sheet.headings, row.cells, strict=False))
    columns = {_AXIS_OF[heading]: heading for heading in sheet.headings if heading in _AXIS_OF}

    def called(keys: Keys) -> str:
        if keys[:1] == ("at",):
            return columns[int(keys[1])] if keys[1:] else listed([columns[axis] for axis in sorted(columns)])
        return "".join(map(str, keys[:1]))

    words = f'point "{cells["name"]}"' if cells.get("name") else f"row {row.line}"
    spot = csv_spot(sheet.name, row.line, f"{tube}, {words}", called)
    note_cells_beyond(row, sheet, spot, mistakes)
    values: dict[str, Any] = {key: cells[key] for key in _KNOWN if key not in "xyz" and cells.get(key)}
    figures = {axis: cells.get(column, "") for axis, column in columns.items()}
    if any(figures.values()):
        for axis in (axis for axis in sorted(figures) if not figures[axis]):
            mend = "Type the figure, be it 0, or ? where readings find it."
            mistakes.add(spot, ("at", axis), "the cell is empty", mend)
        values["at"] = [figures.get(axis) or "0" for axis in range(3)]
    return values, spot
