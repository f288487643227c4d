"""Scanned places from a CSV file: up to millions of rows of forward, left, up in any order."""

from __future__ import annotations

import io
import re
import warnings
from pathlib import Path

import numpy as np

from plumbend.frames import FloatArray
from plumbend.job.checking import read_table
from plumbend.job.files import read_spreadsheet_text, refuse_file
from plumbend.job.places import Mistakes, Spot, csv_spot
from plumbend.job.spreadsheet import Row, read_sheet
from plumbend.job.tables import PlaceRow
from plumbend.job.values import AXES, Reading
from plumbend.progress import Progress, untold
from plumbend.typed import LONGEST, parse_length
from plumbend.units import Units

_LARGEST = 1_000_000_000
_MOST_TOLD = 10
"""A scan saved in a wrong way is wrong in every row; more are not told."""

_EXPONENT = re.compile(r"[+-]?\d{1,12}(\.\d*)?[eE][+-]?\d{1,2}", re.ASCII)
_AXIS_OF = {"x": 0, "y": 1, "z": 2, "forward": 0, "left": 1, "up": 2}


def read_scan(path: Path, tube: str, units: Units, progress: Progress = untold) -> FloatArray:
    """Places of a CSV file with the columns x, y, z, or forward, left, up; other columns are left alone.

    Without headings each row is forward, left, up.

    Args:
        path: the file.
        tube: the tube in words, such as 'tube "left rail"'.
        units: of bare numbers.
        progress: told that it is read.

    Returns:
        (m, 3) mm, m at least 1.

    Raises:
        BadFile: the file cannot be read, or with the first mistakes in its rows.
    """
    text = read_spreadsheet_text(path, _LARGEST)
    progress("reading the scan", text.count("\n"))
    name = str(path)
    top = read_sheet(_first_lines(text), name)
    columns = _columns(top.rows[0], name, tube)
    above = top.rows[0].line - (columns is None)
    at = _read_numbers(text, top.mark, columns, above, units)
    return at if at is not None else _read_rows(text, columns, name, tube, units)


def _first_lines(text: str) -> str:
    """The text as far as its first row; all of it where that is not plain to see."""
    lines: list[str] = []
    for line in io.StringIO(text, newline=None):
        lines.append(line)
        bare = line.strip("\ufeff \t\n")
        if bare and not bare.startswith("#") and not bare.strip('"').startswith("sep="):
            break
    top = "".join(lines)
    return text if top.count('"') % 2 else top


def _columns(first: Row, name: str, tube: str) -> tuple[int, ...] | None:
    """Columns of forward, left and up where the first row is headings."""
    headings = [cell.lower() for cell in first.cells]
    if not set(headings) & set(_AXIS_OF):
        return None
    columns = [[at for at, heading in enumerate(headings) if _AXIS_OF.get(heading) == axis] for axis in range(3)]
    mistakes = Mistakes()
    spot = csv_spot(name, first.line, f"{tube}, headings", lambda _: "")
    for letter, found in zip("xyz", columns, strict=True):
        if not found:
            mistakes.add(spot, (), f'the column "{letter}" is missing', "A scan has the columns x, y and z.")
        elif len(found) > 1:
            mistakes.add(spot, (), f'there are two columns "{letter}"', "Keep one of them.")
    mistakes.raise_any()
    return tuple(found[0] for found in columns)


def _read_numbers(text: str, mark: str, columns: tuple[int, ...] | None, above: int, units: Units) -> FloatArray | None:
    """The places below the first ``above`` lines where every cell is a plain number, else None.

    numpy reads a million such rows in less than a second. With other marks between the cells than commas a
    comma is the decimal point, unless points are there too: 1.016,5 is for the careful reader to ask back.
    """
    if mark != "," and "," in text:
        if "." in text:
            return None
        text = text.replace(",", ".")
    lines = io.StringIO(text, newline=None)
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # no rows are only warned of
        try:
            numbers = np.loadtxt(lines, delimiter=mark, skiprows=above, usecols=columns, comments=None, ndmin=2)
        except (ValueError, UserWarning):
            return None
    if numbers.shape[1] != len(AXES):
        return None
    at: FloatArray = numbers * parse_length(1, units)
    # also false for a nan
    return at if bool((np.abs(at) <= LONGEST).all()) else None


def _read_rows(text: str, columns: tuple[int, ...] | None, name: str, tube: str, units: Units) -> FloatArray:
    """The places read cell by cell, as any figures may be typed.

    Raises:
        BadFile: with the first mistakes.
    """
    sheet = read_sheet(text, name)
    rows = sheet.rows if columns is None else sheet.rows[1:]
    if not rows:
        raise refuse_file(name, "there are no points below the headings", "Save the scan again.", sheet.rows[0].line)
    reading = Reading(units, from_csv=True, decimal_comma=sheet.decimal_comma and "," in text)
    mistakes = Mistakes()
    places = []
    for row in rows:
        spot = csv_spot(name, row.line, f"{tube}, row {row.line}", lambda keys: AXES[int(keys[1])] if keys[1:] else "")
        if columns is None and len(row.cells) != len(AXES):
            count = f"{len(row.cells)} cell{'s' * (len(row.cells) != 1)}"
            mend = "Write forward, left, up, parted by commas; if commas stand for decimal points, by semicolons."
            mistakes.add(spot, (), f"the row has {count}, not 3", mend)
        else:
            places.append(_read_row(row, columns or (0, 1, 2), spot, reading, mistakes))
        if len(mistakes) >= _MOST_TOLD:
            break
    mistakes.raise_any()
    return np.array(places)


def _read_row(
    row: Row, columns: tuple[int, ...], spot: Spot, reading: Reading, mistakes: Mistakes
) -> tuple[float, float, float] | None:
    """The place of one row, mm; None with the mistakes noted."""
    cells = [row.cells[at] if at < len(row.cells) else "" for at in columns]
    if "" in cells:
        mistakes.add(spot, ("at", cells.index("")), "the cell is empty", "Type the figure, or take the row out.")
        return None
    return read_table(PlaceRow, {"at": [_number(cell, reading) for cell in cells]}, spot, reading, mistakes).at


def _number(cell: str, reading: Reading) -> float | str:
    """A number with an exponent, such as 1.5e+03, which only programs write; else the cell's text."""
    is_number = not reading.decimal_comma and _EXPONENT.fullmatch(cell)
    return float(cell) if is_number else cell
