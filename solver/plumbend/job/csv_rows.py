"""Rows of a CSV file put in, changed and taken out; the other rows stay byte for byte as they were saved."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Mapping
from pathlib import Path
from typing import Literal

from plumbend.errors import BadValue
from plumbend.job.files import refuse_file
from plumbend.job.headed_csv import heading
from plumbend.job.spreadsheet import read_sheet
from plumbend.job.toml_text import Row, Value

_UTF16 = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}
_SAME = {"forward": "x", "left": "y", "up": "z"}
_OUT = re.compile(r"out(?::\s*|\Z)", re.IGNORECASE)
"""What a note begins with where its row is struck out."""


class SheetText:
    """A CSV file; what changes its rows gives the bytes that it becomes. Rows count from 0 below the headings.

    Args:
        data: of the file, as a spreadsheet saved it or as it was typed.
        path: the file, for messages.

    Raises:
        BadFile: there is nothing in it, or it cannot be told where a cell ends.
    """

    def __init__(self, data: bytes, path: Path) -> None:
        self._name = str(path)
        self._encoding = _UTF16.get(data[:2]) or _eight_bit(data)
        try:
            # bytes that are no letters come out again as they are
            self._text = data.decode(self._encoding, errors="surrogateescape")
        except UnicodeDecodeError:
            raise refuse_file(self._name, "it ends in half a letter", "Save the file again as UTF-8.") from None
        sheet = read_sheet(self._text, self._name)
        self._mark = sheet.mark
        self._headings = [_column(cell) for cell in sheet.rows[0].cells]
        self._headings_line, self._rows = sheet.rows[0].line, sheet.rows[1:]
        self._lines = re.findall(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+\Z", self._text)
        self._newline = next((end[0] for end in re.finditer(r"\r\n|\r|\n", self._text)), "\n")

    def insert(self, index: int | None, row: Row | str) -> bytes:
        """Put a row above the one at ``index``, or below the last where that is None.

        Args:
            index: of a row that is there.
            row: by column; "at" is the columns x, y and z.

        Raises:
            BadFile: there is no column for what the row says, or no such letter in the file's way of saving.
        """
        written = self._written(_cells(row))
        if index is not None:
            start, _ = self._span(index)
            return self._joined(start, start, written)
        end = len(self._text)
        return self._joined(end, end, written if self._text.endswith(("\n", "\r")) else self._newline + written)

    def replace(self, index: int, row: Row | str) -> bytes:
        """Put another row in the place of one; arguments and errors as for :meth:`insert`."""
        return self._joined(*self._span(index), self._written(_cells(row)))

    def remove(self, index: int) -> bytes:
        """Take a row out."""
        return self._joined(*self._span(index), "")

    def strike(self, index: int, struck: bool) -> bytes:
        """Strike a row out by its note, or take it back in.

        Raises:
            BadFile: there is no column "note".
        """
        start, end = self._span(index)
        cells = dict(zip(self._headings, self._rows[index].cells, strict=False))
        note = cells.get("note", "")
        if struck != bool(_OUT.match(note)):
            cells["note"] = f"out: {note}".removesuffix(": ") if struck else _OUT.sub("", note, count=1)
            return self._joined(start, end, self._written(cells))
        return self._joined(start, start, "")

    def _span(self, index: int) -> tuple[int, int]:
        """Where the lines of a row begin and end."""
        if not 0 <= index < len(self._rows):
            raise BadValue(f"there is no row {index} in {self._name}")
        first = last = self._rows[index].line - 1
        while "".join(self._lines[first : last + 1]).count('"') % 2:
            last += 1
        start = len("".join(self._lines[:first]))
        return start, start + len("".join(self._lines[first : last + 1]))

    def _written(self, cells: Mapping[str, str]) -> str:
        for column in cells:
            if column not in self._headings:
                mend = f'Add a heading "{column}" at the end of its first row.'
                raise refuse_file(self._name, f'there is no column "{column}"', mend, self._headings_line)
        # a row that began with "#" would be a remark
        all_quoted = self._all_quoted() or cells.get(self._headings[0], "").startswith("#")
        quoting: Literal[0, 1] = csv.QUOTE_ALL if all_quoted else csv.QUOTE_MINIMAL
        written = io.StringIO()
        writer = csv.writer(written, delimiter=self._mark, quoting=quoting, lineterminator=self._newline)
        writer.writerow([cells.get(heading, "") for heading in self._headings])
        return written.getvalue()

    def _all_quoted(self) -> bool:
        """Whether every cell of the last row that holds anything stands in quotes."""
        lines = [line.strip() for line in self._lines if line.strip(f" \t\r\n{self._mark}")]
        cell = r'[ \t]*"(?:[^"]|"")*"[ \t]*'
        return re.fullmatch(rf"{cell}(?:{re.escape(self._mark)}{cell})*", lines[-1]) is not None

    def _joined(self, start: int, end: int, new: str) -> bytes:
        text = self._text[:start] + new + self._text[end:]
        try:
            return text.encode(self._encoding, errors="surrogateescape")
        except UnicodeEncodeError as fault:
            what = f'the letter "{text[fault.start]}" cannot be saved in it'
            raise refuse_file(self._name, what, "Save the file again as UTF-8.") from None


def _eight_bit(data: bytes) -> str:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _column(cell: str) -> str:
    plain = heading(cell)
    return _SAME.get(plain, plain)


def _cells(row: Row | str) -> dict[str, str]:
    if isinstance(row, str):
        raise BadValue("rows are given by their columns")
    cells: dict[str, str] = {}
    for column, value in row.items():
        if column == "at" and isinstance(value, list | tuple) and len(value) == 3:
            cells.update(zip("xyz", map(_cell, value), strict=True))
        elif isinstance(value, list | tuple):
            cells[column] = " / ".join(map(_cell, value))
        else:
            cells[column] = _cell(value)
    return cells


def _cell(value: Value) -> str:
    if not isinstance(value, str | int | float):
        raise BadValue(f"{value!r} does not go into one cell")
    return str(value).lower() if isinstance(value, bool) else str(value)
