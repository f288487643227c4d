"""Corners, or a bend program, from a CSV file or from lines typed with commas: no job, no die.

Corners are rows of forward, left, up; a program is rows of straight, turn, bend with a last row of a straight
alone. A first row of headings may stand above either, and then the columns may come in any order.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from plumbend.frames import FloatArray
from plumbend.job.checking import read_table
from plumbend.job.files import read_spreadsheet_text, refuse_file
from plumbend.job.places import Mistakes, Spot, csv_spot, shortened
from plumbend.job.source import Path as Keys
from plumbend.job.spreadsheet import Row, read_sheet
from plumbend.job.tables import PlaceRow
from plumbend.job.tube_program import read_program_rows
from plumbend.job.values import MOST_BENDS, Reading
from plumbend.records import record
from plumbend.shape.program import Program
from plumbend.units import Units

TYPED = "typed lines"
"""What text is called that comes from no file."""

_CORNERS = ("forward", "left", "up")
_PROGRAM = ("straight", "turn", "bend")
_ALSO = {"x": "forward", "y": "left", "z": "up", "rotation": "turn", "angle": "bend"}
_IGNORED = ("", "name", "note", "corner")
_OF_POINTS = {"what", "leg", "side", "good_to", "good to"}
"""Headings that only a list of points has, as jobs name it."""


@record
class _Columns:
    """Rows below the headings, if any; ``headings`` has one word for each column, "" for one to be ignored."""

    name: str
    headings: tuple[str, ...] | None
    rows: tuple[Row, ...]
    reading: Reading


def read_shape(source: Path | str, units: Units) -> FloatArray | Program:
    """Corners (m, 3) in mm or a program, whichever the headings or the rows say.

    Without headings a last row of one cell shows a program, words such as L or up show corners, and cw or ccw a
    program; otherwise the text could be either.

    Args:
        source: a CSV file's path, or the text itself.
        units: of bare lengths.

    Raises:
        BadFile: with every mistake, or asking for headings.
    """
    columns = _open(source, units)
    if columns.headings is not None:
        is_program = not set(columns.headings) & set(_CORNERS)
    else:
        words = set(re.findall("[a-z]+", " ".join(cell.lower() for row in columns.rows for cell in row.cells)))
        is_program = bool(words & {"cw", "ccw", "clockwise"}) or not any(columns.rows[-1].cells[1:])
        is_corners = bool(words & {"l", "r", "left", "right", "fwd", "forward", "aft", "rear", "up", "down"})
        if is_program == is_corners:
            what = "this may be corners or a bend program"
            mend = "Put headings above it: forward, left, up for corners; straight, turn, bend for a program."
            raise refuse_file(columns.name, what, mend)
    return _program(columns) if is_program else _corners(columns)


def _open(source: Path | str, units: Units) -> _Columns:
    name, text = (TYPED, source) if isinstance(source, str) else (str(source), read_spreadsheet_text(source))
    if name.lower().endswith(".toml"):
        mend = "Solve it, if it is a job; here go rows of forward, left, up, or of straight, turn, bend."
        raise refuse_file(name, "this is no file of corners or of a program", mend)
    sheet = read_sheet(text, name)
    reading = Reading(units, from_csv=True, decimal_comma=sheet.decimal_comma)
    top, below = sheet.rows[0], sheet.rows[1:]
    words = [_ALSO.get(cell.lower(), cell.lower()) for cell in top.cells]
    known = [word for word in words if word in _CORNERS or word in _PROGRAM]
    _refuse_measurements(name, words, sheet.rows, top.line)
    if not known:
        if len(sheet.rows) > 1 and not any(row.cells[1:] for row in sheet.rows):
            mend = "Part the figures by commas, such as 0, L 12-1/2, 34-3/8."
            raise refuse_file(name, "every line is a single figure", mend, top.line)
        return _Columns(name, None, sheet.rows, reading)
    mistakes = Mistakes()
    spot = csv_spot(name, top.line, "headings", lambda _: "")
    wanted = _CORNERS if known[0] in _CORNERS else _PROGRAM
    for word in wanted:
        if known.count(word) != 1:
            what = f'there is no column "{word}"' if word not in known else f'there are two columns "{word}"'
            mistakes.add(spot, (), what, f"The headings are {', '.join(wanted)}.")
    for word in words:
        if word not in wanted and word not in _IGNORED:
            mistakes.add(spot, (), f'"{shortened(word)}" is not known here', f"The headings are {', '.join(wanted)}.")
    if not below:
        mistakes.add(spot, (), "there is nothing below the headings", "Type a row for each.")
    mistakes.raise_any()
    return _Columns(name, tuple(word if word in wanted else "" for word in words), below, reading)


def _refuse_measurements(name: str, words: Sequence[str], rows: Sequence[Row], line: int) -> None:
    """Raise BadFile for what belongs into a job: a list of points, or the many places of a scan."""
    file = "points.csv" if name == TYPED else Path(name).name
    if _OF_POINTS & set(words):
        mend = f'Name it in a job, points = "{file}", and solve the job: only bare corners can be converted.'
        raise refuse_file(name, "this is a list of measured points", mend, line)
    # with headings above them
    if len(rows) > MOST_BENDS + 3 and not set(_PROGRAM) & set(words):
        what = f"there are {len(rows)} rows, and a tube has at most {MOST_BENDS} bends"
        file = "scan.csv" if name == TYPED else file
        mend = f'If this is a scan, name it in a job, scan = "{file}", and solve the job.'
        raise refuse_file(name, what, mend)


def _cells(columns: _Columns, wanted: Sequence[str], mistakes: Mistakes) -> list[tuple[dict[str, str], Spot]]:
    """The cells of each row under the wanted words, with their place."""
    headings = columns.headings or tuple(wanted)
    rows = []
    for number, row in enumerate(columns.rows, start=1):
        spot = csv_spot(columns.name, row.line, f"row {number}", _heading)
        if any(row.cells[len(headings) :]):
            mend = f"Write {', '.join(wanted)}. If commas stand for decimal points, part the cells by semicolons."
            mistakes.add(spot, (), f"the row has {len(row.cells)} cells, not {len(headings)}", mend)
        paired = zip(headings, row.cells, strict=False)
        rows.append(({word: cell for word, cell in paired if word and cell}, spot))
    return rows


def _heading(keys: Keys) -> str:
    return _CORNERS[int(keys[1])] if len(keys) > 1 else "".join(map(str, keys))


def _corners(columns: _Columns) -> FloatArray:
    mistakes = Mistakes()
    corners = []
    rows = _cells(columns, _CORNERS, mistakes)
    for cells, spot in rows:
        empty = [word for word in _CORNERS if word not in cells]
        for word in empty:
            mistakes.add(spot, (word,), "there is no figure", "Type it, be it 0; part the cells by commas.")
        if not empty:
            at = {"at": [cells[word] for word in _CORNERS]}
            corners.append(read_table(PlaceRow, at, spot, columns.reading, mistakes).at)
    if len(rows) < 2:
        what = "a tube needs two ends at least"
        mistakes.add(rows[0][1], (), what, "Type its corners a line each, from the start end to the far end.")
    mistakes.raise_any()
    return np.array(corners, dtype=np.float64)


def _program(columns: _Columns) -> Program:
    mistakes = Mistakes()
    rows = _cells(columns, _PROGRAM, mistakes)
    whole = csv_spot(columns.name, columns.rows[0].line, "", lambda _: "")
    program = read_program_rows(rows, whole, columns.reading, mistakes)
    mistakes.raise_any()
    assert program is not None  # else a mistake was raised
    return program
