"""A TOML text taken apart to the character, so that a change leaves every other character as it is.

Rewriting a parsed document would lose what its parser does not keep, such as the order of ``[[base]]`` and
``[[die]]`` tables that stand mixed. Here the text stays the document; this finds the places to cut it.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
from dataclasses import field
from typing import Any

from plumbend.job.source import Path, locate
from plumbend.records import record

_ONE_KEY = r"""(?:[A-Za-z0-9_-]+|"(?:[^"\\\n]|\\.)*"|'[^'\n]*')"""
_KEY = re.compile(rf"({_ONE_KEY}(?:[ \t]*\.[ \t]*{_ONE_KEY})*)[ \t]*=[ \t]*")
_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_REST_OF_LINE = re.compile(r"[ \t]*(?:#[^\n]*)?(?:\r?\n|\Z)")

Cut = tuple[int, int, str]
"""Characters from one position up to another, and the text to put in their place."""


@record
class Part:
    """A key with its value, or an entry of a list.

    Attributes:
        path: as in :func:`plumbend.job.source.locate`.
        start: where its key begins; an entry of a list has none, and begins with its value.
        value: where its value begins.
        end: where its value ends.
        comma: where the comma after it stands, if one does.
    """

    path: Path
    start: int
    value: int
    end: int
    comma: int | None = None

    @property
    def end_with_comma(self) -> int:
        """Where it ends, the comma behind it included."""
        return self.end if self.comma is None else self.comma + 1


@record
class TablePart:
    """A header with the keys below it, up to the next header; the first is the top of the file, without one.

    Attributes:
        path: as in :func:`plumbend.job.source.locate`.
        start: where its header begins.
        header_end: where its header ends.
        keys: in the order of the text.
    """

    path: Path
    start: int
    header_end: int
    keys: list[Part] = field(default_factory=list)

    @property
    def end(self) -> int:
        """Where its last value ends, or else its header."""
        return self.keys[-1].end if self.keys else self.header_end


class Outline:
    """The tables, keys and entries of a text.

    Args:
        text: a document that ``tomllib.loads`` accepts, with the line ends of its file.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self.newline = "\r\n" if re.match(r"[^\n]*\r\n", text) else "\n"
        self._places = locate(text)
        self.tables = [TablePart((), 0, 0)]
        self._take_apart()

    def _take_apart(self) -> None:
        # a header's line holds nothing else, so its whole path is the longest of that line
        path_of_line: dict[int, Path] = {}
        for path, typed in self._places.items():
            path_of_line[typed.line] = max(path, path_of_line.get(typed.line, ()), key=len)
        here = line = counted = 0
        while (here := self.skip_blank(here)) < len(self.text):
            if self.text[here] == "[":
                line, counted = line + self.text.count("\n", counted, here), here
                path = path_of_line[line + 1]
                end = here + len(self._places[path].text)
                self.tables.append(TablePart(path, here, end))
            else:
                part = self._key_and_value(here, self.tables[-1].path)
                self.tables[-1].keys.append(part)
                end = part.end
            here = end

    def _key_and_value(self, start: int, table: Path) -> Part:
        key = _KEY.match(self.text, start)
        assert key is not None  # else tomllib would not have taken the text
        path = (*table, *_parts(key[1]))
        return Part(path, start, key.end(), key.end() + len(self._places[path].text))

    def entries(self, holder: Part) -> list[Part]:
        """What the brackets or braces of a value hold; nothing for any other value."""
        if self.text[holder.value] not in "[{":
            return []
        found: list[Part] = []
        here = self.skip_blank(holder.value + 1)
        while here < holder.end - 1:
            if self.text[holder.value] == "{":
                part = self._key_and_value(here, holder.path)
            else:
                path = (*holder.path, len(found))
                part = Part(path, here, here, here + len(self._places[path].text))
            after = self.skip_blank(part.end)
            comma = after if self.text[after] == "," else None
            found.append(Part(part.path, part.start, part.value, part.end, comma))
            here = after if comma is None else self.skip_blank(comma + 1)
        return found

    def find(self, path: Path) -> Part | None:
        """The key or entry at ``path``; None where there is none, or a table with a header stands there."""
        within: Iterable[Part] = (part for table in self.tables for part in table.keys)
        while part := next((part for part in within if part.path == path[: len(part.path)]), None):
            if part.path == path:
                return part
            within = self.entries(part)
        return None

    def table(self, path: Path) -> TablePart | None:
        """The table under the header of ``path``."""
        return next((table for table in self.tables if table.path == path), None)

    def skip_blank(self, here: int) -> int:
        """The next position that is neither blank nor in a remark."""
        blank = _BLANK.match(self.text, here)
        return blank.end() if blank else here

    def line_start(self, here: int) -> int:
        """Where the line of a position begins."""
        return self.text.rfind("\n", 0, here) + 1

    def line_end(self, here: int) -> int:
        """Where the line after that of a position begins."""
        return self.text.find("\n", here) + 1 or len(self.text)

    def indent(self, here: int) -> str:
        """The blanks at the beginning of the line of a position."""
        blanks = re.compile(r"[ \t]*").match(self.text, self.line_start(here))
        return blanks[0] if blanks else ""

    def begins_line(self, here: int) -> bool:
        """Whether nothing but blanks stands before a position in its line."""
        return not self.text[self.line_start(here) : here].strip()

    def ends_line(self, here: int) -> bool:
        """Whether nothing but blanks and a remark follows a position in its line."""
        return _REST_OF_LINE.match(self.text, here) is not None

    def changed(self, *cuts: Cut) -> str:
        """The text with cuts made, which do not overlap."""
        text = self.text
        for start, end, new in sorted(cuts, reverse=True):
            text = text[:start] + new + text[end:]
        return text

    def lines_at(self, here: int, lines: str) -> Cut:
        """The cut that puts whole lines, without the last line end, where a line begins or the text ends."""
        unended = here == len(self.text) and not self.text.endswith("\n") and self.text
        return here, here, f"{self.newline}{lines}" if unended else f"{lines}{self.newline}"


def _parts(key: str) -> Path:
    """A bare, quoted or dotted key, in its parts."""
    value: Any = tomllib.loads(f"{key} = 0")
    parts: list[str] = []
    while isinstance(value, dict):
        ((name, value),) = value.items()
        parts.append(name)
    return tuple(parts)
