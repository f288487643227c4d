"""Readings of the vehicle as typed, before any name or figure in them is read: one form for lists, lines and CSV."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from plumbend.job.model import StruckOut, Written
from plumbend.job.places import Mistakes, Spot
from plumbend.job.source import Path
from plumbend.job.values import Reading
from plumbend.job.vehicle_tables import KINDS, PLANE_NAMES, SAME_WORDS, Kind
from plumbend.records import record

OUT = "out"
"""Says of a reading that it is struck out: kept in the file, and left out of everything."""


@record
class Entry:
    """One reading as typed.

    Attributes:
        how: the word of its kind.
        row: its keys and values as a table in TOML has them.
        spot: where it stands.
        reading: how its values are written.
        written: where it stands in its file.
    """

    how: str
    row: dict[str, Any]
    spot: Spot
    reading: Reading
    written: Written

    @property
    def kind(self) -> Kind:
        """Its kind."""
        return KINDS[self.how]

    @property
    def named(self) -> list[tuple[Path, str]]:
        """Every place that it names, as far as that can be read, and the keys that lead to it."""
        under = self.kind.names_under
        is_place = (
            under and not self.kind.names_datum and not (self.how == "off" and isinstance(self.row.get(under), str))
        )
        named: list[tuple[Path, str]] = []
        for key in ("to", under) if is_place else ("to",):
            value = self.row.get(key)
            if isinstance(value, list):
                named += [((key, at), _tidy(part)) for at, part in enumerate(value) if isinstance(part, str)]
            elif isinstance(value, str):
                named.append(((key,), _tidy(value)))
        return named

    @property
    def typed(self) -> str:
        """It as a line, whichever way it was typed: "A tape B1 41-3/8". Its values must be of the right kinds."""
        kind = self.kind
        names = " ".join(_quoted(name) for name in self._texts(kind.names_under))
        figures, away = ", ".join(self._texts(kind.figures_under)), " ".join(self._texts("away"))
        parts = (_quoted(self.row["to"]), self.how, names, figures, away and f"away {away}")
        return " ".join(filter(None, map(_tidy, parts)))

    def _texts(self, key: str) -> list[str]:
        """What stands under a key, as typed."""
        value = self.row.get(key, [])
        if not isinstance(value, list):
            return [self.spot.as_typed((key,), value)]
        return [self.spot.as_typed((key, at), part) for at, part in enumerate(value)]


@dataclass
class Entries:
    """The readings of one job: those that count and those struck out.

    Attributes:
        is_sure: whether these are all: mistakes may hide some.
    """

    counted: list[Entry] = field(default_factory=list)
    struck_out: list[StruckOut] = field(default_factory=list)
    is_sure: bool = True


def row_of(how: str, point: str, names: Sequence[str], figures: Sequence[str]) -> dict[str, Any]:
    """The row that a table in TOML would have for a line or a CSV row."""
    kind = KINDS[how]
    row: dict[str, Any] = {"to": point}
    if names:
        row[kind.names_under] = names[0] if len(names) == 1 else list(names)
    if figures:
        row[kind.figures_under] = figures[0] if len(figures) == 1 else list(figures)
    return row


def known_word(typed: str) -> str | None:
    """The word of a kind of reading, or what stands for it."""
    word = " ".join(typed.lower().replace("-", " ").split())
    word = SAME_WORDS.get(word, word)
    return word if word in KINDS else None


def note_unknown_word(typed: str, keys: tuple[str, ...], spot: Spot, mistakes: Mistakes) -> None:
    """Note a word that says no way to measure."""
    near = difflib.get_close_matches(typed.lower(), KINDS, n=1, cutoff=0.6)
    mend = f'Did you mean "{near[0]}"?' if near else f"Write one of {', '.join(KINDS)}."
    mistakes.add(spot, keys, f'"{typed}" is no way to measure', mend)


def _quoted(name: str) -> str:
    """The name as it must stand in a line."""
    return f'"{name}"' if " " in name.strip() and name.lower() not in PLANE_NAMES else name


def _tidy(text: str) -> str:
    """The text with single blanks."""
    return " ".join(text.split())
