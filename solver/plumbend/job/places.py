"""Where a mistake is: a table of a TOML file or a row of a CSV file, and the mistakes found so far."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from plumbend.errors import BadFile, Mistake
from plumbend.job.source import Path, Typed, locate


@dataclass
class Document:
    """A TOML text that was read; its lines are looked up when first asked for."""

    name: str
    text: str
    _places: dict[Path, Typed] | None = field(default=None, init=False)

    def typed(self, path: Path) -> Typed | None:
        """Where a path stands and how it was typed; where it is not there, the nearest table above it."""
        if self._places is None:
            self._places = locate(self.text)
        for length in range(len(path), 0, -1):
            if path[:length] in self._places:
                return self._places[path[:length]]
        return None


@dataclass(frozen=True)
class Spot:
    """A table or row that is being checked.

    Attributes:
        file: as the user named it.
        words: the table or row in words, such as 'tube "left rail", point "c1"'.
        line: finds the line of what ``keys`` lead to from here.
        as_typed: the text of what ``keys`` lead to, given its value.
        called: what ``keys`` lead to, in words.
    """

    file: str
    words: str
    line: Callable[[Path], int | None]
    as_typed: Callable[[Path, Any], str]
    called: Callable[[Path], str] = lambda keys: str(keys[0]) if keys else ""

    def within(self, keys: Path, words: str) -> Spot:
        """A table or row inside this one; ``words`` are added to the words of this one."""
        return Spot(
            self.file,
            ", ".join(filter(None, (self.words, words))),
            lambda below: self.line((*keys, *below)),
            lambda below, value: self.as_typed((*keys, *below), value),
        )

    def mistake(self, keys: Path, what: str, mend: str) -> Mistake:
        """A mistake in what ``keys`` lead to."""
        place = ", ".join(filter(None, (self.words, self.called(keys))))
        return Mistake(self.file, self.line(keys), place, what, mend)


def toml_spot(document: Document, path: Path = (), words: str = "") -> Spot:
    """The place of a TOML table."""

    def line(keys: Path) -> int | None:
        typed = document.typed((*path, *keys))
        return typed.line if typed else None

    def as_typed(keys: Path, value: Any) -> str:
        if isinstance(value, str):
            return value
        typed = document.typed((*path, *keys))
        return typed.text if typed else str(value)

    return Spot(document.name, words, line, as_typed)


def csv_spot(file: str, line: int, words: str, called: Callable[[Path], str]) -> Spot:
    """The place of a CSV row, whose cells are text already; ``called`` gives the headings of its cells."""
    return Spot(file, words, lambda _: line, lambda _, value: str(value), called)


def called(kind: str, name: Any, number: int) -> str:
    """A table in words: 'tube "left rail"', or by its number where it has no name that can be used."""
    return f'{kind} "{shortened(name)}"' if isinstance(name, str) and name.strip() else f"{kind} {number}"


class Mistakes:
    """Everything wrong that was found so far."""

    def __init__(self) -> None:
        self._found: list[Mistake] = []

    def __len__(self) -> int:
        return len(self._found)

    def add(self, spot: Spot, keys: Path, what: str, mend: str) -> None:
        """Note one mistake."""
        self._found.append(spot.mistake(keys, what, mend))

    def take(self, fault: BadFile) -> None:
        """Note the mistakes of another file."""
        self._found.extend(fault.mistakes)

    def raise_any(self) -> None:
        """Raise ``BadFile`` with every mistake, in the order of the lines of each file, if there are any."""
        if self._found:
            files = list(dict.fromkeys(mistake.file for mistake in self._found))
            raise BadFile(sorted(self._found, key=lambda m: (files.index(m.file), m.line or 0)))


def shortened(text: str) -> str:
    """At most 40 characters of a text, on one line."""
    flat = " ".join(text.split())
    return flat if len(flat) <= 40 else f"{flat[:37]}..."
