"""A man at the session's terminal: types prepared lines and keeps what he is shown."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence

from plumbend_cli.page import Block, show


class Typist:
    """Types lines one after another; with the last of them the terminal is closed.

    Attributes:
        shown: what was written since the start, with the prompts.
        asked: the prompts, in order.
    """

    def __init__(self, lines: Iterable[str], width: int = 80) -> None:
        self._lines = iter(lines)
        self._width = width
        self.shown = ""
        self.asked: list[str] = []

    @property
    def width(self) -> int:
        return self._width

    def ask(self, prompt: str) -> str:
        self.asked.append(prompt)
        try:
            line = next(self._lines)
        except StopIteration:
            raise EOFError from None
        self.shown += f"{prompt}{line}\n"
        return line

    def show(self, *blocks: Block) -> None:
        out = io.StringIO()
        show(blocks, out)
        self.shown += out.getvalue()

    def draw(self, lines: Sequence[str]) -> None:
        self.shown += "".join(f"{line}\n" for line in lines)

    def has_read(self, sentence: str) -> bool:
        """Whether a sentence was shown, wherever its lines were broken."""
        return sentence in " ".join(self.shown.split())
