"""Readings, bases or points of a job's text, in whichever way they are written there: put in, changed, taken out."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from typing import Any, Literal

from plumbend.errors import BadValue
from plumbend.job import toml_arrays, toml_lines, toml_tables
from plumbend.job.files import refuse_file
from plumbend.job.source import Path
from plumbend.job.toml_outline import Outline, Part
from plumbend.job.toml_text import Row, key_text, value_text

Form = Literal["rows", "lines", "csv"]
"""Tables in the job, lines of a text block, or rows of a CSV file beside the job."""

_TABLES_OF_THEIR_OWN = (("base",), ("die",), ("tube",))


class WrittenRows:
    """The rows at one path of a text, which need not be there. What changes them gives the text that it becomes.

    Args:
        text: of a job file.
        path: of the list or text block.
        file: the job file, for messages.

    Attributes:
        form: how they are written; where there are none, as rows.
        sheet: the name of the CSV file that they stand in; "" where they stand in the text.

    Raises:
        BadFile: something else than rows stands there.
    """

    def __init__(self, text: str, path: Path, file: str) -> None:
        self._path = path
        self._outline = Outline(text)
        self._part = part = self._outline.find(path)
        self._tables = [table for table in self._outline.tables if table.path[1:] and table.path[:-1] == path]
        self._block: Part | None = None
        self.form: Form = "rows"
        self.sheet = ""
        if part is None or text[part.value] == "[":
            return
        line = text.count("\n", 0, part.value) + 1
        if text[part.value] not in "\"'":
            mend = "Write a list of rows, a text block, or the name of a CSV file."
            raise refuse_file(file, f'"{path[-1]}" is no list of rows', mend, line)
        if not toml_lines.is_block(self._outline, part):
            self.form, self.sheet = "csv", tomllib.loads(f"name = {text[part.value : part.end]}")["name"]
            return
        if toml_lines.joins_lines(self._outline, part):
            what = "lines of this text block are joined with backslashes"
            raise refuse_file(file, what, "Take the backslashes at the ends of lines out.", line)
        self.form, self._block = "lines", part

    def insert(self, index: int | None, row: Row | str) -> str:
        """Put a row before the one at ``index``, or a row or line after the last where that is None.

        Raises:
            BadValue: a line cannot be put there.
        """
        if self._block:
            if index is not None:
                raise BadValue("a line can only be added at the end of a text block")
            return toml_lines.append_line(self._outline, self._block, _as_line(row))
        row = _as_row(row)
        if index is not None and index < self._count():
            self._check(index)
        at = self._count() if index is None else index
        if self._part:
            return toml_arrays.insert_entry(self._outline, self._part, at, value_text(row))
        if not self._tables and self._path not in _TABLES_OF_THEIR_OWN:
            if self._outline.find(self._path[:-1]):  # its owner is itself written within braces
                return toml_tables.set_key(self._outline, self._path, f"[{value_text(row)}]")
            return toml_tables.add_list(self._outline, self._path, value_text(row))
        header = f"[[{'.'.join(key for key in self._path if isinstance(key, str))}]]"
        lines = [key_text(key, value) for key, value in row.items()]
        before = self._tables[at] if at < len(self._tables) else None
        after = self._tables[-1] if self._tables else None
        return toml_tables.add_table(self._outline, header, lines, after=after, before=before)

    def replace(self, index: int, row: Row | str) -> str:
        """Put another row or line in the place of one; values of a row that stay the same stay as they are typed."""
        if self._block:
            return toml_lines.replace_line(self._outline, self._block, index, _as_line(row))
        self._check(index)
        row, path, outline = _as_row(row), (*self._path, index), self._outline
        part, old = outline.find(path), self._said(index)
        if part and not (isinstance(old, dict) and old.keys() == row.keys()):
            return toml_arrays.replace_entry(outline, part, value_text(row))
        for key in old:
            if key not in row:
                outline = Outline(toml_tables.remove_key(outline, (*path, key)))
        for key, value in row.items():
            if key not in old or old[key] != value:
                outline = Outline(toml_tables.set_key(outline, (*path, key), value_text(value)))
        return outline.text

    def remove(self, index: int) -> str:
        """Take a row or line out."""
        if self._block:
            return toml_lines.remove_line(self._outline, self._block, index)
        self._check(index)
        if self._part:
            return toml_arrays.remove_entry(self._outline, self._part, index)
        return toml_tables.remove_table(self._outline, (*self._path, index))

    def strike(self, index: int, struck: bool) -> str:
        """Strike a row or line out, or take it back in."""
        if self._block:
            return toml_lines.strike_line(self._outline, self._block, index, struck)
        self._check(index)
        path = (*self._path, index, "out")
        if struck:
            return toml_tables.set_key(self._outline, path, value_text(True))
        return toml_tables.remove_key(self._outline, path)

    def _said(self, index: int) -> Any:
        """What the row at ``index`` says."""
        value: Any = tomllib.loads(self._outline.text)
        for key in (*self._path, index):
            value = value[key]
        return value

    def _count(self) -> int:
        return len(self._outline.entries(self._part)) if self._part else len(self._tables)

    def _check(self, index: int) -> None:
        if not 0 <= index < self._count():
            raise BadValue(f"there is no {self._path[-1]} at {index}: the file has {self._count()}")


def _as_line(row: Row | str) -> str:
    if not isinstance(row, str):
        raise BadValue("a text block takes readings as lines of text")
    return row


def _as_row(row: Row | str) -> Row:
    if not isinstance(row, Mapping):
        raise BadValue("rows are given by their keys")
    return row
