"""Rows of cells out of text that any spreadsheet saved, or that was typed with commas."""

from __future__ import annotations

import csv
import re

from plumbend.job.files import refuse_file
from plumbend.records import record


@record
class Row:
    """One row: its line, counted from 1, and its cells without blanks around them."""

    line: int
    cells: tuple[str, ...]


@record
class Sheet:
    """The rows that hold anything, and the mark between their cells."""

    rows: tuple[Row, ...]
    mark: str

    @property
    def decimal_comma(self) -> bool:
        """Whether a comma in a cell may stand for the decimal point."""
        return self.mark != ","


def read_sheet(text: str, name: str) -> Sheet:
    """Split text into rows of cells at tabs, else semicolons, else commas, whichever its first row has.

    Args:
        text: with any line ends; cells may be quoted. Lines that begin with "#" are left out.
        name: what the user calls the text.

    Raises:
        BadFile: a quotation mark that is not closed, or nothing but blanks.
    """
    lines = text.lstrip("\ufeff").replace("\r\n", "\n").replace("\r", "\n").replace("\0", "").split("\n")
    named = re.fullmatch(r"\"?sep=([,;\t])\"?", lines[0].strip(" "))
    if named:
        lines[0] = ""
    kept = [line if not line.lstrip().startswith("#") else "" for line in lines]
    first = next((line for line in kept if line.strip()), "")
    bare = re.sub(r'"[^"]*"', "", first)
    mark = named[1] if named else next((m for m in "\t;" if m in bare), ",")
    rows: list[Row] = []
    csv.field_size_limit(max(csv.field_size_limit(), len(text)))
    reader = csv.reader([f"{line}\n" for line in kept], delimiter=mark, skipinitialspace=mark != "\t")
    before = 0
    for cells in reader:
        line, before = before + 1, reader.line_num
        if before > line and "".join(kept[line - 1 : before]).count('"') % 2:
            raise refuse_file(name, "a quotation mark is opened here and not closed", "Close it.", line)
        # an apostrophe in front keeps a spreadsheet from making dates; some save it with the text
        stripped = tuple(cell.strip().removeprefix("'").strip() for cell in cells)
        if any(stripped):
            rows.append(Row(line, stripped))
    if not rows:
        raise refuse_file(name, "there is nothing in it", "Type a row of headings and the rows below it.")
    return Sheet(tuple(rows), mark)
