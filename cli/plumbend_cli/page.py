"""A page as plain blocks, and how it is shown: sized to the terminal, or 80 plain columns when piped.

Blocks hold finished text: a heading, a paragraph (an item of a list is one with a lead), a table. Only
:func:`show` knows about widths, colour and what the reader's encoding can carry.
"""

from __future__ import annotations

import io
import re
import sys
import textwrap
from collections.abc import Iterable
from dataclasses import replace
from itertools import pairwise
from typing import TextIO

from rich.console import Console
from rich.padding import Padding
from rich.table import Table as DrawnTable
from rich.text import Text

from plumbend.records import record

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
        _print(page, Console(file=out), plain=False)
        return
    buffer = io.StringIO()
    _print(page, Console(file=buffer, width=PIPED_WIDTH, color_system=None, force_terminal=False), plain=True)
    # rich pads lines to the width of a table; a page for a file has no use for that
    out.writelines(f"{line.rstrip()}\n" for line in buffer.getvalue().splitlines())


def _in_ascii(block: Block) -> Block:
    """The block with each ± spelt out, before anything is set in columns."""
    if isinstance(block, Table):
        columns = tuple(replace(column, head=_spelt(column.head)) for column in block.columns)
        return Table(columns, tuple(tuple(map(_spelt, row)) for row in block.rows))
    return replace(block, text=_spelt(block.text))


def _spelt(text: str) -> str:
    return text.replace("±", "+/-")


def _print(page: list[Block], console: Console, *, plain: bool) -> None:
    for before, block in pairwise([None, *page]):
        close = isinstance(before, Heading) and not isinstance(block, Heading)
        if isinstance(before, Paragraph) and isinstance(block, Paragraph):
            close = bool(block.lead)  # an item of a list follows its neighbour at once
        if before is not None and not close:
            _print_lines("", "", console)
        match block:
            case Heading():
                _print_heading(block, console, plain=plain)
            case Paragraph():
                _print_paragraph(block, console)
            case Table():
                _print_table(block, console)


def _print_heading(heading: Heading, console: Console, *, plain: bool) -> None:
    for line in textwrap.wrap(heading.text, console.width) or [""]:
        _print_lines(line, f"bold {ACCENT}" if heading.level < 3 else "bold", console)
    if plain and heading.level < 3:
        _print_lines(("=" if heading.level == 1 else "-") * min(len(heading.text), console.width), "", console)


def _print_paragraph(paragraph: Paragraph, console: Console) -> None:
    _print_text(paragraph.text, paragraph.lead, " " * len(paragraph.lead), "bold" if paragraph.loud else "", console)


def _print_text(words: str, lead: str, hanging: str, style: str, console: Console) -> None:
    """Running text behind ``lead``, its further lines behind ``hanging``."""
    text = textwrap.fill(
        _NUMBER_AND_UNIT.sub("\N{NO-BREAK SPACE}", words),
        width=min(console.width, READING_WIDTH),
        initial_indent=lead,
        subsequent_indent=hanging,
        break_on_hyphens=False,  # 57-3/4 stays in one piece
    )
    _print_lines(text.replace("\N{NO-BREAK SPACE}", " "), style, console)


def _print_lines(lines: str, style: str, console: Console) -> None:
    """Lines that fit the width already: where there is no style to show, rich has nothing to do, and takes its time."""
    if console.is_terminal:
        console.print(Text(lines, style=style))
    else:
        console.file.write(f"{lines}\n")


def _print_table(table: Table, console: Console) -> None:
    table = _evened(table)
    widths = _widths(table, console.width - _INDENT)
    if widths is None:
        _print_row_by_row(table, console)
        return
    drawn = DrawnTable(box=None, pad_edge=False, padding=(0, _GAP, 0, 0), header_style="bold")
    for column, width in zip(table.columns, widths, strict=True):
        drawn.add_column(
            Text(f"{column.head}\n{column.below}".rstrip()),
            justify="right" if column.numeric else "left",
            style="bold" if column.loud else "",
            overflow="fold",
            width=width,
        )
    for row in table.rows:
        drawn.add_row(*map(Text, row))
    console.print(Padding(drawn, (0, 0, 0, _INDENT)))


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


def _print_row_by_row(table: Table, console: Console) -> None:
    """Each row as a few lines, one for each cell, for a terminal too narrow for the columns."""
    first, *others = table.columns
    indent = " " * _INDENT
    for at, row in enumerate(table.rows):
        if at:
            console.print()
        _print_text(f"{first.head} {row[0]}", indent, indent, "bold", console)
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
            _print_text(f"{head}: {text}", 2 * indent, 3 * indent, "", console)
