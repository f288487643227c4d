"""CSV files whose first row says what stands in each column."""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from pathlib import Path

from plumbend.job.files import read_spreadsheet_text, refuse_file
from plumbend.job.places import Mistakes, Spot
from plumbend.job.spreadsheet import Row, read_sheet
from plumbend.records import record


@record
class HeadedSheet:
    """A CSV file.

    Attributes:
        name: the file, as the user named it.
        headings: in small letters, words joined by underscores.
        line: of the headings, counted from 1.
        rows: those below.
        decimal_comma: whether a comma in a cell may stand for the decimal point.
    """

    name: str
    headings: tuple[str, ...]
    line: int
    rows: tuple[Row, ...]
    decimal_comma: bool


def heading(cell: str) -> str:
    """A heading as it is known: "Good to" is good_to."""
    return re.sub(r"[\s-]+", "_", cell.lower())


def read_headed(path: Path, known: Sequence[str], also: Collection[str] = ()) -> HeadedSheet:
    """The rows of a CSV file below its headings.

    Args:
        path: the file.
        known: the headings that it may have.
        also: other words for some of them.

    Raises:
        BadFile: the file cannot be read, or none of its first cells is a heading.
    """
    name = str(path)
    sheet = read_sheet(read_spreadsheet_text(path), name)
    top = sheet.rows[0]
    headings = tuple(map(heading, top.cells))
    if not {*known, *also} & set(headings):
        raise refuse_file(name, "the first row holds no headings", f"Type {', '.join(known)} there.", top.line)
    return HeadedSheet(name, headings, top.line, sheet.rows[1:], sheet.decimal_comma)


def note_cells_beyond(row: Row, sheet: HeadedSheet, spot: Spot, mistakes: Mistakes) -> None:
    """Note cells of a row that stand under no heading."""
    if any(row.cells[len(sheet.headings) :]):
        mend = "If commas stand for decimal points here, save the file with semicolons between the cells."
        mistakes.add(spot, (), "there are more cells than headings", mend)
