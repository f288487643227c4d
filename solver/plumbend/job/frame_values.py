"""What may stand behind the keys of bases and of vehicle readings, as :mod:`plumbend.job.values` does it."""

from __future__ import annotations

import math
import re
from typing import Any, get_args

from pydantic import PlainValidator

from plumbend.job.evidence_values import direction, place
from plumbend.job.values import AXES, Reading, figure, three, validator, wrong
from plumbend.measuring.places import WAY_OF_HINT, Hint
from plumbend.measuring.tapes import TAPES
from plumbend.measuring.touched import Side
from plumbend.typed import parse_length, parse_place
from plumbend.units import Axis

Partly = tuple[float | None, float | None, float | None]
"""A place of which some figures may be left to the readings."""

TO_BE_FOUND = "?"
"""Stands for a coordinate that the readings find."""

CENTRE = "centre"
"""What was touched where that was the middle itself."""

_SIDES: dict[str, str] = {
    **{side: side for side in get_args(Side)},
    "near": "near side",
    "far": "far side",
    "left side": "left",
    "right side": "right",
    "rear": "back",
    "centre": CENTRE,
    "center": CENTRE,
}
_AWAY: dict[str, tuple[float, float, float]] = {
    "forward": (1.0, 0.0, 0.0),
    "aft": (-1.0, 0.0, 0.0),
    "left": (0.0, 1.0, 0.0),
    "right": (0.0, -1.0, 0.0),
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
}
_WARMEST = 100.0
_BETWEEN_HINTS = re.compile(r"\s*[/,;\s]\s*")


def _readings(value: Any, _: Reading) -> Any:
    if isinstance(value, str) or (isinstance(value, list) and all(isinstance(row, dict) for row in value)):
        return value
    mend = 'Write readings = [ { to = "A", from = "B1", tape = "41-3/8" }, ... ] or readings = "readings.csv".'
    raise wrong("is neither a list of readings nor the name of a CSV file", mend)


def _name(value: Any, entry: int | None = None) -> str:
    if not isinstance(value, str):
        raise wrong("is no name", "Put it in quotes.", entry)
    if not value.strip():
        raise wrong("is empty", "Type the name.", entry)
    return " ".join(value.split())


def _names(value: list[Any]) -> tuple[str, ...]:
    return tuple(_name(part, entry) for entry, part in enumerate(value))


def _two_names(value: Any, _: Reading) -> tuple[str, ...]:
    if not isinstance(value, list) or len(value) != 2:
        raise wrong("is not two places", 'Name both, such as ["B1", "B2"].')
    return _names(value)


def _string_or_plane(value: Any, _: Reading) -> tuple[str, ...]:
    """Both ends of a string, or the one name of a plane."""
    if not isinstance(value, list):
        return (_name(value),)
    if len(value) != 2:
        raise wrong("is not two places", 'Name both ends of the string, such as ["B1", "B2"], or "centre plane".')
    return _names(value)


def _three_names(value: Any, _: Reading) -> tuple[str, ...]:
    if not isinstance(value, list) or len(value) != 3:
        mend = 'Name the origin, one straight forward of it and one to the left, such as ["B1", "B2", "B3"].'
        raise wrong("is not three bases", mend)
    return _names(value)


def _partly(value: Any, reading: Reading) -> tuple[float | None, ...]:
    """Forward, left and up, each of them mm or to be found."""
    if value == TO_BE_FOUND:
        return (None, None, None)
    if not isinstance(value, list) or len(value) != len(AXES):
        mend = 'Write forward, left and up, such as at = [14, "L 12-1/2", "?"], with "?" for what is to be found.'
        raise wrong("is not three figures", mend)
    found = [part == TO_BE_FOUND for part in value]
    given = ["0" if is_found else part for part, is_found in zip(value, found, strict=True)]
    at = three(given, reading, lambda part, axis: _place(part, reading, axis))
    return tuple(None if is_found else part for part, is_found in zip(at, found, strict=True))


def _point_place(value: Any, reading: Reading) -> tuple[float | None, ...]:
    """The same for a point, which is mostly given whole."""
    is_partly = value == TO_BE_FOUND or (isinstance(value, list) and TO_BE_FOUND in value)
    return _partly(value, reading) if is_partly else place(value, reading)


def _place(value: Any, reading: Reading, axis: Axis) -> float:
    return parse_place(figure(value), reading.units, axis, decimal_comma=reading.decimal_comma)


def _coordinate(axis: Axis) -> PlainValidator:
    return validator(lambda value, reading: _place(value, reading, axis))


def _left_or_found(value: Any, reading: Reading) -> float | None:
    return None if value == TO_BE_FOUND else _place(value, reading, "left")


def _drop(value: Any, reading: Reading) -> tuple[float, ...]:
    if not isinstance(value, list) or len(value) != 2:
        raise wrong("is not two figures", 'Write how far forward and how far left, such as drop = [14, "L 12-1/2"].')
    # the height that three() wants beside them is none of the two that it returns
    return three([*value, 0], reading, lambda part, axis: _place(part, reading, axis))[:2]


def _length(value: Any, reading: Reading) -> float:
    return parse_length(figure(value), reading.units, decimal_comma=reading.decimal_comma)


def _hint(value: Any, reading: Reading) -> tuple[Hint, ...]:
    words = [value] if isinstance(value, str) else value
    if reading.from_csv and isinstance(value, str):
        words = _BETWEEN_HINTS.split(value)
    mend = f"Of two answers, say which is meant: {', '.join(WAY_OF_HINT)}."
    if not isinstance(words, list) or not words:
        raise wrong("is no hint", mend)
    hints: list[Hint] = []
    for word in words:
        hint = next((hint for hint in WAY_OF_HINT if isinstance(word, str) and word.strip().lower() == hint), None)
        if hint is None:
            raise wrong("is no hint", mend)
        hints.append(hint)
    return tuple(hints)


def _touched(value: Any, _: Reading) -> str:
    side = _SIDES.get(" ".join(value.lower().split())) if isinstance(value, str) else None
    if side is None:
        raise wrong("is no side that can be touched", f"Write {', '.join(get_args(Side))}, or leave it out.")
    return side


def _away(value: Any, reading: Reading) -> tuple[float, ...]:
    """A unit vector out of a surface."""
    if isinstance(value, str) and value.strip().lower() in _AWAY:
        return _AWAY[value.strip().lower()]
    parts = value.split() if isinstance(value, str) and not reading.from_csv else value
    mend = f"Write {', '.join(_AWAY)}, or a direction such as away = [1, 0, -1]."
    return direction(parts, reading, "is no way to stand off", mend)


def _tape_class(value: Any, _: Reading) -> str:
    name = value.strip().upper() if isinstance(value, str) else ""
    if name not in TAPES:
        raise wrong("is no class of tape", f"Write {', '.join(TAPES)}, whichever is printed on it.")
    return name


def _degrees(value: Any, _: Reading) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= _WARMEST:
        raise wrong("is no number of degrees", "Write how much warmer than 20 Celsius it was, such as warmer = 15.")
    return float(value)


def _heading(value: Any, _: Reading) -> float | None:
    if value == TO_BE_FOUND:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) <= 45:
        raise wrong("is no heading", "Write the degrees that it is turned to the left, at most 45 either way.")
    return math.radians(value)


READINGS = validator(_readings)
TWO_NAMES = validator(_two_names)
STRING_OR_PLANE = validator(_string_or_plane)
THREE_NAMES = validator(_three_names)
PARTLY = validator(_partly)
POINT_PLACE = validator(_point_place)
FORWARD = _coordinate("forward")
LEFT = _coordinate("left")
UP = _coordinate("up")
LEFT_OR_FOUND = validator(_left_or_found)
DROP = validator(_drop)
LENGTH = validator(_length)
HINT = validator(_hint)
TOUCHED = validator(_touched)
AWAY = validator(_away)
TAPE_CLASS = validator(_tape_class)
DEGREES = validator(_degrees)
HEADING = validator(_heading)
