"""A page as plain blocks, and how it is shown: sized to the terminal, or 80 plain columns when piped.

Blocks hold finished text: a heading, a paragraph (an item of a list is one with a lead), a table. Only
:func:`show` knows about widths, colour and what the reader's encoding can carry.
"""

from __future__ import annotations

import re
import sys
import textwrap
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise, zip_longest
from typing import Protocol, TextIO

from plumbend.records import record

Piece = tuple[str, str]
"""A part of a line and its style, "" for plain."""

PIPED_WIDTH = 80
READING_WIDTH = 100  # running text on a wide terminal stays readable
ACCENT = "cyan"  # the only colour beside the terminal's own; it never carries a meaning alone
_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:in|mm)\b|±|\+/-)|(?<=±) (?=\d)|(?<=\+/-) (?=\d)")
_INDENT, _GAP = 2, 2  # before a table, and between its columns
_PLUS_MINUS = ("±", "+/-")
_DECIMAL = re.compile(r"-?\d+(?:\.(\d+))?")
_LONGEST_WORD = 20  # longer ones are no numbers, and may be folded


@record
class Heading:
    """A line that stands out; ``level`` 1 opens the page, 2 a tube or a chapter, 3 a part of it."""

    text: str
    level: int = 3


@record
class Paragraph:
    """Running text; lines after the first hang below the end of ``lead``."""

    text: str
    lead: str = ""
    loud: bool = False


@record
class Column:
    """One column: its head, and ``below`` it what its numbers are counted in or seen from."""

    head: str
    below: str = ""
    numeric: bool = False
    loud: bool = False


@record
class Table:
    """Rows of text under columns."""

    columns: tuple[Column, ...]
    rows: tuple[tuple[str, ...], ...]


Block = Heading | Paragraph | Table


def show(blocks: Iterable[Block], file: TextIO | None = None) -> None:
    """Write a page to ``file``, by default standard output.

    A terminal gets its own width, bold numbers and one accent; anything else 80 columns of plain text. Where the
    text is not written as Unicode, as into a pipe on Windows, ± is spelt +/-: the next program would garble it.
    """
    out = sys.stdout if file is None else file
    page = list(blocks)
    if not (out.encoding or "utf").lower().startswith("utf"):
        page = list(map(_in_ascii, page))
    if out.isatty():
        from plumbend_cli.screen import Screen  # a page for a file or the next program has no use for it

        _print(page, Screen(out))
    else:
        _print(page, _Paper(out))


class _Sheet(Protocol):
    """What lines are written on."""

    @property
    def width(self) -> int: ...

    @property
    def is_plain(self) -> bool: ...

    def write(self, *line: Piece) -> None: ...


class _Paper:
    """Plain text, for a file or the next program."""

    width = PIPED_WIDTH
    is_plain = True

    def __init__(self, file: TextIO) -> None:
        self._file = file

    def write(self, *line: Piece) -> None:
        self._file.write("".join(text for text, _ in line).rstrip() + "\n")


def _in_ascii(block: Block) -> Block:
    """The block with each ± spelt out, before anything is set in columns."""
    if isinstance(block, Table):
        columns = tuple(replace(column, head=_spelt(column.head)) for column in block.columns)
        return Table(columns, tuple(tuple(map(_spelt, row)) for row in block.rows))
    return replace(block, text=_spelt(block.text))


def _spelt(text: str) -> str:
    return text.replace("±", "+/-")


def _print(page: list[Block], sheet: _Sheet) -> None:
    for before, block in pairwise([None, *page]):
        close = isinstance(before, Heading) and not isinstance(block, Heading)
        if isinstance(before, Paragraph) and isinstance(block, Paragraph):
            close = bool(block.lead)  # an item of a list follows its neighbour at once
        if before is not None and not close:
            sheet.write()
        match block:
            case Heading():
                _print_heading(block, sheet)
            case Paragraph():
                style = "bold" if block.loud else ""
                _print_text(block.text, block.lead, " " * len(block.lead), style, sheet)
            case Table():
                _print_table(block, sheet)


def _print_heading(heading: Heading, sheet: _Sheet) -> None:
    for line in textwrap.wrap(heading.text, sheet.width):
        sheet.write((line, f"bold {ACCENT}" if heading.level < 3 else "bold"))
    if sheet.is_plain and heading.level < 3:
        sheet.write((("=" if heading.level == 1 else "-") * min(len(heading.text), sheet.width), ""))


def _print_text(words: str, lead: str, hanging: str, style: str, sheet: _Sheet) -> None:
    """Running text behind ``lead``, its further lines behind ``hanging``."""
    lines = textwrap.wrap(
        _NUMBER_AND_UNIT.sub("\N{NO-BREAK SPACE}", words),
        width=min(sheet.width, READING_WIDTH),
        initial_indent=lead,
        subsequent_indent=hanging,
        break_on_hyphens=False,  # 57-3/4 stays in one piece
    )
    for line in lines:
        sheet.write((line.replace("\N{NO-BREAK SPACE}", " "), style))


def _print_table(table: Table, sheet: _Sheet) -> None:
    table = _evened(table)
    widths = _widths(table, sheet.width - _INDENT)
    if widths is None:
        _print_row_by_row(table, sheet)
        return
    columns = list(zip(table.columns, widths, strict=True))
    heads = [
        _folded(column.head, width) + (_folded(column.below, width) if column.below else [])
        for column, width in columns
    ]
    tallest = max(map(len, heads))
    _print_cells([[""] * (tallest - len(head)) + head for head in heads], columns, sheet, is_head=True)
    for row in table.rows:
        _print_cells([_folded(cell, width) for cell, width in zip(row, widths, strict=True)], columns, sheet)


def _print_cells(
    cells: list[list[str]], columns: list[tuple[Column, int]], sheet: _Sheet, *, is_head: bool = False
) -> None:
    """The cells of one row, each as the lines it is folded to."""
    for line in zip_longest(*cells, fillvalue=""):
        pieces: list[Piece] = []
        for at, (text, (column, width)) in enumerate(zip(line, columns, strict=True)):
            set_text = text.rjust(width) if column.numeric else text.ljust(width)
            pieces += [(" " * (_GAP if at else _INDENT), ""), (set_text, "bold" if column.loud or is_head else "")]
        sheet.write(*pieces)


def _folded(text: str, width: int) -> list[str]:
    """At least one line; words are broken only where one alone is too long."""
    if len(text) <= width:
        return [text]  # most cells; wrapping them is most of the time that a page takes
    return textwrap.wrap(text, max(width, 1), break_on_hyphens=False) or [""]


def _evened(table: Table) -> Table:
    """The table with as many decimals for every number of a column as the finest of them has."""
    columns = [list(cells) for cells in zip(*table.rows, strict=True)]
    for column, cells in zip(table.columns, columns, strict=False):
        if not column.numeric and column.head not in _PLUS_MINUS:
            continue
        decimals = [len(found[1] or "") if (found := _DECIMAL.fullmatch(cell)) else None for cell in cells]
        most = max((count for count in decimals if count is not None), default=0)
        for at, count in enumerate(decimals):
            if count is not None and count < most:
                cells[at] += "." * (count == 0) + "0" * (most - count)
    return replace(table, rows=tuple(zip(*columns, strict=True)))


def _widths(table: Table, room: int) -> list[int] | None:
    """How wide each column is drawn; None where not even folded heads and texts get them all into ``room``.

    Heads are folded first, then cells of words; a number is never broken.
    """
    room -= _GAP * (len(table.columns) - 1)
    cells = [[row[at] for row in table.rows] for at in range(len(table.columns))]
    heads = [[column.head, column.below] for column in table.columns]
    whole = [max(map(len, head + below)) for head, below in zip(heads, cells, strict=True)]
    heads_folded = [max(_longest_word(head), *map(len, below), 0) for head, below in zip(heads, cells, strict=True)]
    all_folded = [
        max(_longest_word(head), max(map(len, below), default=0) if column.numeric else _longest_word(below))
        for column, head, below in zip(table.columns, heads, cells, strict=True)
    ]
    widths = whole
    for least in (heads_folded, all_folded):
        while sum(widths) > room and widths != least:
            spare = [width - low for width, low in zip(widths, least, strict=True)]
            widest = spare.index(max(spare))
            widths = [width - (at == widest) for at, width in enumerate(widths)]
    return widths if sum(widths) <= room else None


def _longest_word(texts: Iterable[str]) -> int:
    return max((min(len(word), _LONGEST_WORD) for text in texts for word in text.split()), default=0)


def _print_row_by_row(table: Table, sheet: _Sheet) -> None:
    """Each row as a few lines, one for each cell, for a terminal too narrow for the columns."""
    first, *others = table.columns
    indent = " " * _INDENT
    for at, row in enumerate(table.rows):
        if at:
            sheet.write()
        _print_text(f"{first.head} {row[0]}", indent, indent, "bold", sheet)
        lines: list[tuple[Column, str]] = []
        for column, cell in zip(others, row[1:], strict=True):
            belongs = column.head in ("", *_PLUS_MINUS)
            whole = cell.replace(" ", "\N{NO-BREAK SPACE}") if belongs or column.numeric else cell
            if belongs and cell and lines:
                lines[-1] = lines[-1][0], " ".join(filter(None, (lines[-1][1], column.head, whole)))
            elif cell:
                lines.append((column, whole))
        for column, text in lines:
            head = ", ".join(filter(None, (column.head, column.below)))
            _print_text(f"{head}: {text}", 2 * indent, 3 * indent, "", sheet)
