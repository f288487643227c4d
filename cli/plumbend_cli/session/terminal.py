"""What the session talks through: plain lines in, blocks of a page out."""

from __future__ import annotations

import contextlib
import importlib
import shutil
from collections.abc import Sequence
from typing import Protocol

from plumbend_cli.page import Block, show


class Terminal(Protocol):
    """Where lines are typed and answers are read."""

    @property
    def width(self) -> int:
        """Columns that a drawing may take."""

    def ask(self, prompt: str) -> str:
        """One typed line. Raises EOFError or KeyboardInterrupt where no more is coming."""

    def show(self, *blocks: Block) -> None:
        """Write blocks one below the other."""

    def draw(self, lines: Sequence[str]) -> None:
        """Write lines as they are."""


class PlainTerminal:
    """The terminal that the program was started in, or whatever is piped into it."""

    def __init__(self) -> None:
        with contextlib.suppress(ImportError):
            # once loaded, where there is one, it lets a line be edited and earlier ones be fetched back
            importlib.import_module("readline")

    @property
    def width(self) -> int:
        """Columns of the terminal."""
        return shutil.get_terminal_size().columns

    def ask(self, prompt: str) -> str:
        """One typed line."""
        return input(prompt)

    def show(self, *blocks: Block) -> None:
        """Write blocks, and see that they are out before the next question."""
        show(blocks)

    def draw(self, lines: Sequence[str]) -> None:
        """Write lines as they are."""
        print(*lines, sep="\n")
