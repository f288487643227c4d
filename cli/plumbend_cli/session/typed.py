"""What a typed line is: a command, a reading, or a place given by its figures."""

from __future__ import annotations

import difflib
import re

from plumbend.errors import BadText
from plumbend.job.begun_job import begins_with_how
from plumbend.job.vehicle_tables import KINDS
from plumbend.records import record

ALONE = ("undo", "list", "where", "tube", "done", "help")
"""Commands that nothing follows."""

NUMBERED = ("edit", "strike")
"""Commands that the number of a reading follows."""

_NAME = re.compile(r'(?:"([^"]+)"|(\S+))\s*(.*)')
_AT = re.compile(r"at\b\s*(.*)", re.IGNORECASE)


@record
class Command:
    """A command, the number of the reading that it is about, and what follows."""

    name: str
    number: int = 0
    rest: str = ""


@record
class At:
    """A place given by how far forward, left and up it is, as typed."""

    name: str
    figures: tuple[str, ...]


@record
class Line:
    """A reading as one whole line."""

    text: str


def command_of(line: str) -> Command | None:
    """The command that a line is; None where it is none.

    Raises:
        BadText: a command whose number is missing.
    """
    words = line.split(maxsplit=2)
    name = words[0].lower() if words else ""
    if name in ALONE and len(words) == 1:
        return Command(name)
    if name not in NUMBERED:
        return None
    number = words[1].lstrip("#") if len(words) > 1 else ""
    if not number.isdecimal() or not number.isascii():
        if len(words) > 1:
            return None  # a point may be called so
        raise BadText(line, "does not say which reading", f"Write {name} and its number, such as {name} 5.")
    return Command(name, int(number[:9]), words[2] if len(words) > 2 else "")


def measured(line: str, target: str | None) -> At | Line:
    """What was measured, by a line that may leave out the place where ``target`` is asked about.

    Raises:
        BadText: the place is left out and nothing is asked about, or the figures are not three.
    """
    if found := _AT.fullmatch(line):
        if target is None:
            raise BadText(line, "does not say which place", f"Write its name in front, such as A {line}.")
        return At(target, figures(found[1], line))
    if begins_with_how(line.split()):
        if target is None:
            raise BadText(line, "does not say which place", f"Write its name in front, such as A {line}.")
        return Line(f"{quoted(target)} {line}")
    first, *rest = line.split() or [""]
    if target is not None and rest and not begins_with_how(rest) and _looks_like_how(first):
        return Line(f"{quoted(target)} {line}")  # a slip in the word, not the name of a place
    named = _NAME.fullmatch(line)
    if named and (found := _AT.fullmatch(named[3])):
        return At(named[1] or named[2], figures(found[1], line))
    return Line(line)


def _looks_like_how(word: str) -> bool:
    return bool(difflib.get_close_matches(word.lower(), KINDS, n=1, cutoff=0.6))


def is_reading(line: str) -> bool:
    """Whether a line says how something was measured, rather than answers a question."""
    words = line.split()
    if len(words) < 2:
        return False  # left and up alone are answers
    return begins_with_how(words) or begins_with_how(words[1:]) or "at" in (word.lower() for word in words[:2])


def figures(typed: str, line: str) -> tuple[str, ...]:
    """How far forward, left and up.

    Raises:
        BadText: there are not three figures.
    """
    parts = tuple(" ".join(part.split()) for part in typed.split(","))
    if len(parts) != 3 or not all(parts):
        mend = "Write how far forward, left and up, with commas: 14, L 12-1/2, 37-1/4."
        raise BadText(line, "does not give three figures", mend)
    return parts


def quoted(name: str) -> str:
    """A name as it stands in a line."""
    return f'"{name}"' if " " in name else name
