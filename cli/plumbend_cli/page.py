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
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TextIO

from rich.console import Console
from rich.padding import Padding
from rich.table import Table as DrawnTable
from rich.text import Text

PIPED_WIDTH = 80
READING_WIDTH = 100  # running text on a wide terminal stays readable
ACCENT = "cyan"  # the only colour beside the terminal's own; it never carries a meaning alone
_NUMBER_AND_UNIT = re.compile(r"(?<=\d) (?=(?:in|mm)\b)")


@dataclass(frozen=True, slots=True)
class Heading:
    """A line that stands out; ``level`` 1 opens the page, 2 a tube or a chapter, 3 a part of it."""

    text: str
    level: int = 3


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text; lines after the first hang below the end of ``lead``."""

    text: str
    lead: str = ""
    loud: bool = False


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its head, and ``below`` it what its numbers are counted in or seen from."""

    head: str
    below: str = ""
    numeric: bool = False
    loud: bool = False


@dataclass(frozen=True, slots=True)
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
            console.print()
        match block:
            case Heading():
                _print_heading(block, console, plain=plain)
            case Paragraph():
                _print_paragraph(block, console)
            case Table():
                _print_table(block, console)


def _print_heading(heading: Heading, console: Console, *, plain: bool) -> None:
    console.print(Text(heading.text, style=f"bold {ACCENT}" if heading.level < 3 else "bold"))
    if plain and heading.level < 3:
        console.print(Text(("=" if heading.level == 1 else "-") * min(len(heading.text), console.width)))


def _print_paragraph(paragraph: Paragraph, console: Console) -> None:
    text = textwrap.fill(
        _NUMBER_AND_UNIT.sub("\N{NO-BREAK SPACE}", paragraph.text),
        width=min(console.width, READING_WIDTH),
        initial_indent=paragraph.lead,
        subsequent_indent=" " * len(paragraph.lead),
        break_on_hyphens=False,  # 57-3/4 stays in one piece
    )
    text = text.replace("\N{NO-BREAK SPACE}", " ")
    console.print(Text(text, style="bold" if paragraph.loud else ""))


def _print_table(table: Table, console: Console) -> None:
    drawn = DrawnTable(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for column in table.columns:
        drawn.add_column(
            Text(f"{column.head}\n{column.below}".rstrip()),
            justify="right" if column.numeric else "left",
            style="bold" if column.loud else "",
            overflow="fold",
        )
    for row in table.rows:
        drawn.add_row(*map(Text, row))
    console.print(Padding(drawn, (0, 0, 0, 2)))
