"""Keys and tables put in and taken out where a person would put them, all else left as it is.

Each function takes the outline of a text and gives the text that it becomes.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise, takewhile

from plumbend.errors import BadValue
from plumbend.job.source import Path
from plumbend.job.toml_arrays import insert_entry, new_list, remove_entry, replace_entry
from plumbend.job.toml_outline import Outline, TablePart
from plumbend.job.toml_text import dotted

_REMARK_LINE = re.compile(r"[ \t]*#[^\n]*(?:\n|\Z)")
_BLANK_LINE = re.compile(r"[ \t]*(?:\r?\n|\Z)")
_LAST = "tube"
"""Tubes come last in a job; other tables go above them."""


def set_key(outline: Outline, path: Path, value: str) -> str:
    """Give a key its value; where it is new, before the first list of its table, which may be long."""
    part = outline.find(path)
    if part:
        return replace_entry(outline, part, value)
    for depth in range(len(path) - 1, 0, -1):
        holder = outline.find(path[:depth])
        if holder and outline.text[holder.value] == "{":
            pair = f"{dotted(_words(path[depth:]))} = {value}"
            return insert_entry(outline, holder, len(outline.entries(holder)), pair)
    table = _table_of(outline, path)
    below = _words(path[len(table.path) :])
    if table.path == () and len(below) > 1 and not any(key.path[:1] == path[:1] for key in table.keys):
        return add_table(outline, f"[{dotted(below[:-1])}]", [f"{dotted(below[-1:])} = {value}"])
    return _add_key(outline, table, f"{dotted(below)} = {value}", above_lists=True)


def add_list(outline: Outline, path: Path, entry: str) -> str:
    """A new list with one entry, as the last key of its table; that of no table stands before the first header."""
    table = _table_of(outline, path)
    indent = outline.indent(table.keys[-1].start) if table.keys else ""
    value = new_list(entry, indent, outline.newline)
    return _add_key(outline, table, f"{dotted(_words(path[len(table.path) :]))} = {value}", above_lists=False)


def _table_of(outline: Outline, path: Path) -> TablePart:
    """The table that holds or may hold a key."""
    holders = [table for table in outline.tables if table.path == path[: len(table.path)]]
    return max(holders, key=lambda table: len(table.path))


def _words(path: Path) -> list[str]:
    words = [key for key in path if isinstance(key, str)]
    if len(words) < len(path) or not words:
        raise BadValue(f"there is no {'.'.join(map(str, path))} in the file")
    return words


def _add_key(outline: Outline, table: TablePart, line: str, above_lists: bool) -> str:
    before = table.keys
    if above_lists:
        before = list(takewhile(lambda key: "\n" not in outline.text[key.start : key.end], table.keys))
    if before:
        here, indent = outline.line_end(before[-1].end), outline.indent(before[-1].start)
    elif table.path:
        here, indent = outline.line_end(table.header_end), outline.indent(table.start)
    elif table.keys:
        here, indent = outline.line_start(table.keys[0].start), ""
    else:
        here, indent = _above(outline, outline.tables[1]) if outline.tables[1:] else len(outline.text), ""
    return outline.changed(outline.lines_at(here, indent + line))


def remove_key(outline: Outline, path: Path) -> str:
    """Take out a key with its value, or an entry of a list; the text as it is where there is none."""
    part, holder = outline.find(path), outline.find(path[:-1])
    if part is None:
        return outline.text
    if holder is not None:
        paths = [entry.path for entry in outline.entries(holder)]
        return remove_entry(outline, holder, paths.index(path))
    return outline.changed((outline.line_start(part.start), outline.line_end(part.end), ""))


def add_table(
    outline: Outline,
    header: str,
    lines: Sequence[str],
    after: TablePart | None = None,
    before: TablePart | None = None,
) -> str:
    """A new table: above ``before``, else after ``after``, else above the tubes, else at the end."""
    block = outline.newline.join((header, *lines))
    if before is None and after is None:
        before = next((table for table in outline.tables if table.path[:1] == (_LAST,)), None)
    if before:
        return outline.changed(outline.lines_at(_above(outline, before), block + outline.newline))
    here = _end(outline, after) if after else len(outline.text)
    is_parted = here == 0 or re.search(r"\n[ \t]*\r?\n\Z", outline.text[:here])
    return outline.changed(outline.lines_at(here, block if is_parted else outline.newline + block))


def remove_table(outline: Outline, path: Path) -> str:
    """Take out a table with the keys and tables below it; remarks above its header stay."""
    tables = [table for table in outline.tables if table.path[: len(path)] == path]
    start, end = outline.line_start(tables[0].start), _end(outline, tables[0])
    for table, after in pairwise(tables):
        if outline.tables.index(after) == outline.tables.index(table) + 1:
            end = _end(outline, after)
    before = outline.text[:start]
    if not before or re.search(r"(?:\A|\n)[ \t]*\r?\n\Z", before):
        while end < len(outline.text) and (blank := _BLANK_LINE.match(outline.text, end)):
            end = blank.end()
    if end == len(outline.text):
        start = len(re.sub(r"(?:(?<=\n)[ \t]*\r?\n)+\Z", "", before))
    return outline.changed((start, end, ""))


def _above(outline: Outline, table: TablePart) -> int:
    """Where the remarks right above a header begin, else its line."""
    here = outline.line_start(table.start)
    while here and _REMARK_LINE.match(outline.text, outline.line_start(here - 1)):
        here = outline.line_start(here - 1)
    return here


def _end(outline: Outline, table: TablePart) -> int:
    """The line after the last of a table, with remarks right below it, unless a header follows on them."""
    end = here = outline.line_end(table.end)
    while here < len(outline.text) and (remark := _REMARK_LINE.match(outline.text, here)):
        here = remark.end()
    return here if _BLANK_LINE.match(outline.text, here) else end
