"""What may stand behind the keys of benders, notchers and dies, as :mod:`plumbend.job.values` does it."""

from __future__ import annotations

import datetime
import math
from typing import Any

from pydantic_core import PydanticCustomError

from plumbend.job.values import Reading, figure, in_other_unit, one_table, size, tables, validator, wrong
from plumbend.shop import KNOWN_AT, Springback
from plumbend.typed import parse_angle, parse_length
from plumbend.units import MM_PER_INCH, in_both_units

MOST_TRIM = 500.0
"""mm; nobody saws off more of each end. Not from a source."""
LARGEST_STEP = math.radians(10.0)
"""Nobody sets a pointer coarser than this, and no pointer has more play. Not from a source."""
_FARTHEST_POINTER = math.radians(210.0)
_COARSEST_TAPE = MM_PER_INCH
_MOST_SPRINGBACK = math.radians(30.0)
"""Of a bend of 90 degrees; aluminium T6 springs 6 to 10 (common practice, no source)."""
SWINGS_FORM = (
    'swings = "left" or swings = "right" on a level bender, swings = "up" or swings = "down" on an upright one: where '
    "the front end goes, seen from the tail"
)
_SPRINGBACK_FORM = "Write springback = { degrees = 1, percent = 2.5 }: so much at every bend, and so much of its angle."


def _length(value: Any, reading: Reading) -> float:
    """A length of either sign, mm."""
    return parse_length(figure(value), reading.units, decimal_comma=reading.decimal_comma)


def _drive(value: Any, _: Reading) -> str:
    return _word(value, "drive", "manual", "hydraulic")


def _plane(value: Any, _: Reading) -> str:
    return _word(value, "plane", "level", "upright")


def _swings(value: Any, _: Reading) -> str:
    word = _lower(value)
    if word not in ("left", "right", "up", "down"):
        raise wrong("is none of left, right, up and down", f"Write {SWINGS_FORM}.")
    return word


def _begin(value: Any, _: Reading) -> str:
    meaning = ": bend from the start end, from the far end, or from the middle outwards"
    return _one_of(value, "begin", ("start", "far", "middle"), meaning)


def _marks(value: Any, _: Reading) -> str:
    return _one_of(value, "marks", ("start", "middle", "both"), ": of each bend")


def _measure(value: Any, _: Reading) -> str:
    return _word(value, "measure", "end", "last bend", ": what marks are measured from")


def _word(value: Any, key: str, one: str, other: str, meaning: str = "") -> str:
    word = _lower(value)
    if word not in (one, other):
        raise wrong(f"is neither {one} nor {other}", f'Write {key} = "{one}" or {key} = "{other}"{meaning}.')
    return word


def _one_of(value: Any, key: str, words: tuple[str, ...], meaning: str) -> str:
    word = _lower(value)
    if word not in words:
        ways = ", ".join(f'"{known}"' for known in words[:-1])
        raise wrong(f"is none of {', '.join(words)}", f'Write {key} = {ways} or "{words[-1]}"{meaning}.')
    return word


def _lower(value: Any) -> str:
    return " ".join(value.lower().split()) if isinstance(value, str) else ""


def _trim(value: Any, reading: Reading) -> float:
    trim = _length(value, reading)
    if trim < 0:
        raise wrong("would cut into the part", "Write 0 or more.")
    if trim > MOST_TRIM:
        other = in_other_unit(value, reading.units, 0.0, MOST_TRIM)
        mend = f'Write "{other}" if that was meant.' if other else "Check the figure."
        raise wrong(f"is {in_both_units(trim)} off each end", mend)
    return trim


def _dial_step(value: Any, reading: Reading) -> float:
    step = _slack(value, reading)
    if step == 0:
        raise wrong("must be more than nothing", "Write the smallest step that you can set, such as 0.5.")
    return step


def _slack(value: Any, reading: Reading) -> float:
    angle = parse_angle(figure(value), decimal_comma=reading.decimal_comma)
    if not 0 <= angle <= LARGEST_STEP:
        raise wrong("is no size for this", "It is in degrees, from 0 to 10.")
    return angle


def _tape_step(value: Any, reading: Reading) -> float:
    step = size(value, reading)
    if step > _COARSEST_TAPE:
        mend = 'Write it as "1/16", or "1 mm".'
        raise wrong(f"is {in_both_units(step)}, and no mark is set that coarsely", mend)
    return step


def _springback(value: Any, _: Reading) -> Springback:
    if not isinstance(value, dict):
        # 3 may be that of a 90, or of every bend
        raise wrong("can be read in more than one way", _SPRINGBACK_FORM)
    if value.keys() != {"degrees", "percent"}:
        raise wrong("does not have the keys degrees and percent", _SPRINGBACK_FORM)
    try:
        degrees, percent = (float(figure(value[key])) for key in ("degrees", "percent"))
    except (ValueError, PydanticCustomError):
        raise wrong("does not hold two numbers", _SPRINGBACK_FORM) from None
    springback = Springback(math.radians(degrees), percent / 100)
    at_square = springback.opens(math.pi / 2)
    if not (0 <= at_square <= _MOST_SPRINGBACK and springback.part > -0.5):
        opens = f"{math.degrees(at_square):z.1f}"
        raise wrong(f"lets a bend of 90 degrees open by {opens}, which no tube does", "Check both figures.")
    return springback


def _pointer(value: Any, reading: Reading) -> float:
    angle = parse_angle(figure(value), decimal_comma=reading.decimal_comma)
    if not 0 < angle <= _FARTHEST_POINTER:
        raise wrong("is no reading of a pointer", "It is in degrees, over 0 and at most 210.")
    return angle


def _off_square(value: Any, reading: Reading) -> float:
    angle = parse_angle(figure(value), decimal_comma=reading.decimal_comma)
    if not 0 < angle < math.pi / 2:
        raise wrong("is no reach of a notcher's scale", "It is in degrees from square on, over 0 and under 90.")
    return angle


def _date(value: Any, _: Reading) -> str:
    """A day, as year, month and day."""
    if isinstance(value, datetime.date) and not isinstance(value, datetime.datetime):
        return value.isoformat()
    try:
        return datetime.date.fromisoformat(value.strip()).isoformat()
    except (AttributeError, ValueError):
        raise wrong("is no day", 'Write it as "2026-05-31".') from None


def _stops_good_to(value: Any, reading: Reading) -> tuple[float, float, float]:
    """19 of 20 springbacks lie within so much, radians, at bends of 30, 90 and 180 degrees; one figure is for all."""
    keys = [f"at_{degrees}" for degrees in KNOWN_AT]
    if not isinstance(value, dict):
        each = [value] * len(keys)
    elif value.keys() == set(keys):
        each = [value[key] for key in keys]
    else:
        raise wrong(f"does not have the keys {', '.join(keys)}", "Write one figure in degrees, or all of these.")
    small, square, u = (_slack(one, reading) for one in each)
    if 0 in (small, square, u):
        raise wrong("must be more than nothing", "Take it out where nothing is known of it.")
    return small, square, u


DRIVE, PLANE, SWINGS = validator(_drive), validator(_plane), validator(_swings)
BEGIN, MARKS, MEASURE, TRIM = validator(_begin), validator(_marks), validator(_measure), validator(_trim)
DIAL_STEP, SLACK, TAPE_STEP = validator(_dial_step), validator(_slack), validator(_tape_step)
OFFSET = validator(_length)
SPRINGBACK = validator(_springback)
DATE = validator(_date)
POINTER = validator(_pointer)
OFF_SQUARE = validator(_off_square)
TEST_BENDS, EARLIER = tables("[[die.test_bends]]"), tables("[[die.earlier]]")
KEPT, FIGURES_GOOD_TO = one_table("[die.calibrated]"), one_table("[die.calibrated.good_to]")
FIGURES = one_table("[die.calibrated.figures]")
STOPS_GOOD_TO = validator(_stops_good_to)
