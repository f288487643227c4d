"""Readings typed as lines in a job file, one to a line, such as ``A tape B1 41-3/8  # from the sill``.

What is read, blanks between all parts::

    line   = ["out"] point how names figures [tail] ["#" note]
    tail   = any of: touched SIDE   od LENGTH   from_touched SIDE   from_od LENGTH   away WAY   good_to LENGTH

A name with a blank in it stands in double quotes. Two figures are parted by a comma, or by the word for left or
right that begins the second.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from itertools import pairwise

from plumbend.job.model import StruckOut, Written
from plumbend.job.places import Mistakes, Spot, shortened
from plumbend.job.values import Reading
from plumbend.job.vehicle_entries import OUT, Entries, Entry, known_word, note_unknown_word, row_of
from plumbend.job.vehicle_tables import KINDS, PLANE_NAMES
from plumbend.units import Units

_TAIL = ("touched", "od", "from_touched", "from_od", "away", "good_to")
_PART = re.compile(r'"[^"]*"(?!\S)|\S+')
_FIGURE = re.compile(r"[^\w\s\"]?[\d.½¼¾⅛⅜⅝⅞]")
_WAYS = ("l", "r", "left", "right", "up", "down", "forward", "fwd", "aft", "rear")
_SECOND_FIGURE = re.compile(r"\s(?=(?:l|r|left|right)\b)", re.IGNORECASE)


class Fault(Exception):
    """What is wrong with a line, and how to mend it."""

    def __init__(self, what: str, mend: str) -> None:
        self.what, self.mend = what, mend
        super().__init__(what)


def read_lines(text: str, file: str, first: int, units: Units, mistakes: Mistakes) -> Entries:
    """The readings of lines.

    Args:
        text: the lines.
        file: the job file as the user named it.
        first: the file's line that the first of them is.
        units: of bare numbers.
        mistakes: what is wrong with a line is noted here.
    """
    entries = Entries()
    for index, line in enumerate(text.split("\n")):
        parts = list(_PART.finditer(line))
        mark = next((found for found in parts if found[0].startswith("#")), None)
        note = line[mark.start() :].strip("# \t") or None if mark else None
        words = [found[0] for found in parts if mark is None or found.start() < mark.start()]
        if not words:
            continue
        written = Written(file, first + index, "lines", index, note)
        typed = " ".join(words)
        spot = _spot(file, first + index, f'line "{shortened(typed)}"')
        if words[0].lower() == OUT and len(words) > 1:
            entries.struck_out.append(StruckOut(" ".join(words[1:]), written))
            continue
        entry = _read_line(words, spot, Reading(units), written, mistakes)
        if entry is None:
            entries.is_sure = False
        else:
            entries.counted.append(entry)
    return entries


def read_tail(words: Sequence[str]) -> dict[str, str]:
    """Keys and values of a tail.

    Raises:
        Fault: a key is there twice, or has nothing after it.
    """
    row: dict[str, str] = {}
    keys = [(at, word.lower()) for at, word in enumerate(words) if word.lower() in _TAIL]
    for (at, key), (end, _) in pairwise([*keys, (len(words), "")]):
        if key in row:
            raise Fault(f'"{key}" is said twice', "Keep one of them.")
        if end == at + 1:
            raise Fault(f'nothing stands after "{key}"', "Type it, or take the word out.")
        row[key] = " ".join(words[at + 1 : end])
    return row


def _spot(file: str, line: int, words: str) -> Spot:
    return Spot(file, words, lambda _: line, lambda _, value: str(value))


def _read_line(words: list[str], spot: Spot, reading: Reading, written: Written, mistakes: Mistakes) -> Entry | None:
    point, *rest = words
    if any(word.startswith('"') and _bare(word) == word for word in words):
        mistakes.add(spot, (), "a quotation mark is opened here and not closed", "Close it behind the name.")
        return None
    if not rest:
        mistakes.add(spot, (), "it does not say what was read", f"Write it like {KINDS['tape'].example}.")
        return None
    count = 2 if known_word(" ".join(rest[:2])) else 1
    how, rest = known_word(" ".join(rest[:count])), rest[count:]
    if how is None and len(words) > 2 and known_word(words[2]):
        mend = f'Put the name in quotes: "{words[0]} {words[1]}".'
        mistakes.add(spot, (), "a name with a blank in it stands without quotes", mend)
        return None
    if how is None:
        note_unknown_word(words[1], (), spot, mistakes)
        return None
    rest = _joined_words(rest)
    starts = [at for at, word in enumerate(rest) if word.lower() in _TAIL]
    body, tail = (rest[: starts[0]], rest[starts[0] :]) if starts else (rest, [])
    try:
        names, figure = _names_and_figure(how, body)
        figures = _figures(how, figure)
        row = row_of(how, _bare(point), names, figures) | read_tail(tail)
        if how == "gap" and "away" not in row:
            raise Fault("it does not say which way it stands off", f"Write it like {KINDS[how].example}.")
    except Fault as fault:
        mistakes.add(spot, (), fault.what, fault.mend)
        return None
    return Entry(how, row, spot, reading, written)


def _joined_words(words: list[str]) -> list[str]:
    """The words with "good to" as one."""
    joined: list[str] = []
    for word in words:
        if word.lower() == "to" and joined and joined[-1].lower() == "good":
            joined[-1] = "good_to"
        else:
            joined.append(word)
    return joined


def _names_and_figure(how: str, body: list[str]) -> tuple[list[str], str]:
    """The names that follow the word, and the rest: what was read."""
    least, most = KINDS[how].names
    like = f"Write it like {KINDS[how].example}."
    if how == "off" and body:
        for count in (2, 1):
            if " ".join(body[:count]).strip('"').lower() in PLANE_NAMES:
                return [" ".join(body[:count]).strip('"')], " ".join(body[count:])
    taken = 0
    while taken < min(most, len(body)) and (taken < least or not _is_figure(body[taken])):
        taken += 1
    names, rest = body[:taken], body[taken:]
    if len(names) < least or (KINDS[how].figures[0] and not rest and any(map(_is_figure, names))):
        wanting = "the other place" if least == 1 else "both places"
        raise Fault(f"it does not name {wanting}", like)
    if rest and not KINDS[how].figures[1]:
        raise Fault(f'"{" ".join(rest)}" is too much: nothing is read there', like)
    return [_bare(name) for name in names], " ".join(rest)


def _is_figure(word: str) -> bool:
    return not word.startswith('"') and (bool(_FIGURE.match(word)) or word.lower() in _WAYS)


def _figures(how: str, figure: str) -> list[str]:
    least, most = KINDS[how].figures
    like = f"Write it like {KINDS[how].example}."
    if not figure:
        if least:
            raise Fault("it has no figure", like)
        return []
    if most == 1:
        return [figure]
    figures = figure.split(", ") if ", " in figure else _SECOND_FIGURE.split(figure)
    if len(figures) != most:
        raise Fault(f'"{figure}" is not two figures, how far forward and how far left', like)
    return figures


def _bare(name: str) -> str:
    return name[1:-1] if len(name) > 1 and name[0] == name[-1] == '"' else name
