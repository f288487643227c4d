"""What may stand behind a key: from the value as read to mm and radians, with what is wrong in plain words.

Each validator takes the value as TOML or a CSV cell gives it. ``Reading`` tells how it was written. A fault is a
PydanticCustomError "wrong" with ``why`` (ends a sentence that begins with the text as typed), ``mend`` and, for
one entry of a list, its position ``entry``.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, get_args

from pydantic import PlainValidator, ValidationInfo
from pydantic_core import PydanticCustomError

from plumbend.errors import BadText
from plumbend.job.dates import explain_date
from plumbend.records import record
from plumbend.typed import parse_angle, parse_length, parse_turn
from plumbend.units import MM_PER_INCH, Axis, Units, in_both_units

AXES: tuple[Axis, Axis, Axis] = ("forward", "left", "up")
MOST_BENDS = 40
_LOOSEST = 1.5 * MM_PER_INCH
"""mm; 19 of 20 measurements lie within what they are good to, and tape and plumb line do far better than this."""
_NUMBER_FORMS = 'Write it as 12.5 or "12-1/2".'


@record
class Reading:
    """How values are written: the unit of bare numbers; in CSV every cell is text, maybe with decimal commas."""

    units: Units
    from_csv: bool = False
    decimal_comma: bool = False


Parser = Callable[[Any, Reading], Any]


def wrong(why: str, mend: str, entry: int | None = None) -> PydanticCustomError:
    """The fault of a value that cannot stand where it does."""
    return PydanticCustomError("wrong", "{why}", {"why": why, "mend": mend, "entry": entry})


def validator(parse: Parser) -> PlainValidator:
    """What a key's annotation needs to have its value read by ``parse``."""

    def validate(value: Any, info: ValidationInfo) -> Any:
        reading: Any = info.context
        try:
            return parse(value, reading)
        except BadText as fault:
            raise told(fault, reading) from None

    return PlainValidator(validate)


def told(fault: BadText, reading: Reading, entry: int | None = None) -> PydanticCustomError:
    """The fault of unreadable text; in a CSV it may be a date that was a fraction."""
    mend = explain_date(fault.typed) if reading.from_csv else None
    if mend:
        return wrong("is a date, which the spreadsheet made of a fraction", mend, entry)
    return wrong(fault.why, fault.mend, entry)


def three(value: list[Any], reading: Reading, parse: Callable[[Any, Axis], float]) -> tuple[float, ...]:
    """Three entries, one for each axis; a fault is that of its entry."""
    read = []
    for entry, (part, axis) in enumerate(zip(value, AXES, strict=True)):
        try:
            read.append(parse(part, axis))
        except BadText as fault:
            raise told(fault, reading, entry) from None
        except PydanticCustomError as fault:
            context = fault.context or {}
            raise wrong(context["why"], context["mend"], entry) from None
    return tuple(read)


def figure(value: Any) -> str | int | float:
    """A value that may be read as a figure: a number or text."""
    if isinstance(value, bool) or not isinstance(value, str | int | float):
        raise wrong("is neither a number nor text in quotes", _NUMBER_FORMS)
    return value


def _length(value: Any, reading: Reading) -> float:
    return parse_length(figure(value), reading.units, decimal_comma=reading.decimal_comma)


def size(value: Any, reading: Reading) -> float:
    """A length above nothing, mm."""
    length = _length(value, reading)
    if length <= 0:
        raise wrong("must be more than nothing", "Check the figure.")
    return length


def length_good_to(value: Any, reading: Reading) -> float:
    """What a measurement is good to, mm."""
    length = size(value, reading)
    if length > _LOOSEST:
        other = in_other_unit(value, reading.units, 0.0, _LOOSEST)
        mend = f'Write "{other}" if that was meant.' if other else "Measure it better, or leave the measurement out."
        raise wrong(f"is {in_both_units(length)}, and nothing is measured that loosely", mend)
    return length


def in_other_unit(typed: Any, units: Units, low: float, high: float) -> str | None:
    """A bare number with the unit that is not the file's, where that makes it a size of ``low`` to ``high`` mm.

    "140 mm" for a 140 typed where bare numbers are inches; None for text that says its own unit.
    """
    other: Units = "mm" if units == "in" else "in"
    try:
        as_read, as_meant = parse_length(typed, units), parse_length(typed, other)
    except BadText:
        return None
    return f"{typed} {other}" if as_meant != as_read and low <= as_meant <= high else None


def _length_from_zero(value: Any, reading: Reading) -> float:
    length = _length(value, reading)
    if length < 0:
        raise wrong("is less than nothing", "Check the figure.")
    return length


def _bend_angle(value: Any, reading: Reading) -> float:
    angle = parse_angle(figure(value), decimal_comma=reading.decimal_comma)
    if not 0 < angle <= math.pi:
        sense = "; its sense goes into the turn" if angle < 0 else ""
        raise wrong("is no angle of a bend", f"A bend is more than 0 and at most 180 degrees{sense}.")
    return angle


def _turn(value: Any, reading: Reading) -> float:
    return parse_turn(figure(value), decimal_comma=reading.decimal_comma)


def _text(value: Any, _: Reading) -> str:
    if not isinstance(value, str):
        raise wrong("is not text", "Put it in quotes.")
    if not value.strip():
        raise wrong("is empty", "Type the text, or take the key out.")
    return " ".join(value.split())


def _units(value: Any, _: Reading) -> Any:
    if value not in get_args(Units):
        raise wrong("is not a unit to work in", 'Write units = "in" or units = "mm".')
    return value


def _die_choice(value: Any, _: Reading) -> str | int | float:
    choice = figure(value)
    return choice.strip() if isinstance(choice, str) else choice


def whole(value: Any, reading: Reading) -> int:
    """A whole number, such as that of a bend."""
    if reading.from_csv and isinstance(value, str) and value.isascii() and value.isdigit():
        value = int(value[:9])
    if isinstance(value, bool) or not isinstance(value, int):
        raise wrong("is not a whole number", "Count from the start end: 1, 2, 3.")
    return value


def _bend_count(value: Any, reading: Reading) -> int:
    count = whole(value, reading)
    if not 0 <= count <= MOST_BENDS:
        raise wrong("is not a number of bends", f"A tube may have 0 to {MOST_BENDS} bends.")
    return count


def one_table(header: str) -> PlainValidator:
    """A table that is there once, under ``header``."""

    def parse(value: Any, _: Reading) -> Any:
        if not isinstance(value, dict):
            raise wrong("is not one table", f"Write {header} in single brackets, once, and its keys below.")
        return value

    return validator(parse)


def tables(header: str) -> PlainValidator:
    """Any number of tables, each under ``header``."""

    def parse(value: Any, _: Reading) -> Any:
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            raise wrong("can be there several times", f"Write {header} in double brackets above each.")
        if not value:
            raise wrong("is empty", f"Write {header} in its place, and the keys of each below.")
        return value

    return validator(parse)


def _yes_or_no(value: Any, _: Reading) -> Any:
    if not isinstance(value, bool):
        raise wrong("is neither true nor false", "Write true or false, without quotes.")
    return value


def _program(value: Any, _: Reading) -> Any:
    if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
        mend = "Write program = [ { straight = 12, bend = 30 }, ..., { straight = 10 } ]."
        raise wrong("is not a list of rows", mend)
    return value


LENGTH_FROM_ZERO = validator(_length_from_zero)
SIZE = validator(size)
LENGTH_GOOD_TO = validator(length_good_to)
BEND_ANGLE = validator(_bend_angle)
TURN = validator(_turn)
TEXT = validator(_text)
UNITS = validator(_units)
DIE_CHOICE = validator(_die_choice)
WHOLE = validator(whole)
BEND_COUNT = validator(_bend_count)
YES_OR_NO = validator(_yes_or_no)
PROGRAM = validator(_program)
