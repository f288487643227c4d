"""Where each key and value of a TOML text stands, and how it was typed.

The standard reader of TOML keeps neither lines nor the text of numbers. This one walks a text which that
reader has already accepted, so it checks nothing; it only finds places.
"""

from __future__ import annotations

import re

from plumbend.records import record

Path = tuple[str | int, ...]
"""Keys and list positions from the top of the document, such as ("tube", 0, "points", 2, "at")."""

_BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")
_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_STRING = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*"{3,5}'
    r"|'''(?:[^']|'(?!''))*'{3,5}"
    r'|"(?:[^"\\\n]|\\.)*"'
    r"|'[^'\n]*'",
    re.DOTALL,
)
# a date and its time may be parted by a space
_BARE_VALUE = re.compile(r"\d{4}-\d\d-\d\d \d\d:[^\s,\]}#]*|[^\s,\]}#]+")
_ESCAPE = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))")
_PLAIN_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", "e": "\x1b"}


@record
class Typed:
    """A value's line, counted from 1, and its text as typed, quotes and all; a table's is its header."""

    line: int
    text: str


def locate(text: str) -> dict[Path, Typed]:
    """Every table, key and list entry of a TOML text with its place.

    Args:
        text: a document that ``tomllib.loads`` accepts, with line ends "\\n".

    Returns:
        One entry for each path that ``tomllib.loads`` gives, save the empty one. A table made only by dotted
        keys or by the headers of its children stands where it is first mentioned.
    """
    return _Walk(text).places


class _Walk:
    """One pass over the text; ``here`` is the reading position."""

    def __init__(self, text: str) -> None:
        self.text, self.here = text, 0
        self.places: dict[Path, Typed] = {}
        self._line, self._counted = 1, 0
        self._entries: dict[Path, int] = {}  # how many tables each [[array]] holds so far
        self._document()

    def _line_at(self, position: int) -> int:
        """The line of a position that never lies before an earlier one asked for."""
        self._line += self.text.count("\n", self._counted, position)
        self._counted = position
        return self._line

    def _skip_blank(self) -> None:
        match = _BLANK.match(self.text, self.here)
        self.here = match.end() if match else self.here

    def _sees(self, mark: str) -> bool:
        """Step over ``mark`` if it stands here."""
        found = self.text.startswith(mark, self.here)
        self.here += len(mark) * found
        return found

    def _document(self) -> None:
        table: Path = ()
        self._skip_blank()
        while self.here < len(self.text):
            if self.text[self.here] == "[":
                table = self._header()
            else:
                self._key_and_value(table)
            self._skip_blank()

    def _header(self) -> Path:
        start, line = self.here, self._line_at(self.here)
        is_array = self._sees("[[")
        if not is_array:
            self._sees("[")
        keys = self._key()
        self._skip_blank()
        self.here += 2 if is_array else 1
        typed = Typed(line, self.text[start : self.here])
        path: Path = ()
        for depth, key in enumerate(keys, start=1):
            path = (*path, key)
            if depth == len(keys):
                break
            self.places.setdefault(path, typed)
            if path in self._entries:
                path = (*path, self._entries[path] - 1)
        if is_array:
            self.places.setdefault(path, typed)
            self._entries[path] = self._entries.get(path, 0) + 1
            path = (*path, self._entries[path] - 1)
        self.places[path] = typed
        return path

    def _key(self) -> list[str]:
        """A bare, quoted or dotted key, in its parts."""
        parts: list[str] = []
        while not parts or self._sees("."):
            self._skip_blank()
            quoted = _STRING.match(self.text, self.here)
            match = quoted or _BARE_KEY.match(self.text, self.here)
            if match is None:
                raise ValueError(f"no key at position {self.here}")
            parts.append(_unquoted(match[0]) if quoted else match[0])
            self.here = match.end()
            self._skip_blank()
        return parts

    def _key_and_value(self, table: Path) -> None:
        line = self._line_at(self.here)
        start, keys = self.here, self._key()
        path = table
        for key in keys[:-1]:
            path = (*path, key)
            self.places.setdefault(path, Typed(line, self.text[start : self.here].strip()))
        self._sees("=")
        self._value((*path, keys[-1]))

    def _value(self, path: Path) -> None:
        self._skip_blank()
        start, line = self.here, self._line_at(self.here)
        self.places[path] = Typed(line, "")  # keeps the order of the text: a table before what it holds
        if self._sees("["):
            self._list(path)
        elif self._sees("{"):
            self._inline_table(path)
        else:
            match = _STRING.match(self.text, self.here) or _BARE_VALUE.match(self.text, self.here)
            if match is None:
                raise ValueError(f"no value at position {self.here}")
            self.here = match.end()
        self.places[path] = Typed(line, self.text[start : self.here])

    def _list(self, path: Path) -> None:
        entry = 0
        self._skip_blank()
        while not self._sees("]"):
            self._value((*path, entry))
            entry += 1
            self._skip_blank()
            self._sees(",")
            self._skip_blank()

    def _inline_table(self, path: Path) -> None:
        self._skip_blank()
        while not self._sees("}"):
            self._key_and_value(path)
            self._skip_blank()
            self._sees(",")
            self._skip_blank()


def _unquoted(key: str) -> str:
    """The text that a quoted key stands for; only "..." has escapes."""
    if key[0] == "'":
        return key[1:-1]

    def meant(match: re.Match[str]) -> str:
        number = match[1] or match[2]
        return chr(int(number, 16)) if number else _PLAIN_ESCAPES.get(match[3], match[3])

    return _ESCAPE.sub(meant, key[1:-1])
