"""A terminal's screen: its own width, bold type and colour."""

from __future__ import annotations

from typing import TextIO

from rich.console import Console
from rich.text import Text


class Screen:
    """Lines of styled text for the terminal that ``file`` writes to."""

    is_plain = False

    def __init__(self, file: TextIO) -> None:
        self._console = Console(file=file)
        self.width = self._console.width

    def write(self, *line: tuple[str, str]) -> None:
        """One line, of parts each with its style; it must fit the width."""
        self._console.print(Text.assemble(*line), no_wrap=True, overflow="ignore", crop=False)
