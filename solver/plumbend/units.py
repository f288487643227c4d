"""Lengths, places and angles as shops write them, and sizes that ask a question.

Inches are written to a fraction that a tape shows, mm with a point. Text is read by :mod:`plumbend.typed`.
"""

from __future__ import annotations

import math
from typing import Final, Literal

from plumbend.errors import BadValue
from plumbend.notices import listed

Units = Literal["in", "mm"]
Axis = Literal["forward", "left", "up"]

MM_PER_INCH: Final = 25.4
TAPE_PARTS: Final = (2, 4, 8, 16, 32, 64)
"""Parts of an inch that a tape shows."""


def format_length(mm: float, units: Units, parts: int = 16, decimals: int = 0) -> str:
    """A length in mm as it is read off a tape, without its unit.

    Inches to the nearest 1/``parts`` (34-3/8, 5/16, -3/16, 12, 0); mm to ``decimals`` places (873 or 873.1).
    Raises BadValue for parts that no tape has or a length that is not a number.
    """
    if not math.isfinite(mm):
        raise BadValue(f"A length of {mm} cannot be written.")
    if parts not in TAPE_PARTS:
        raise BadValue(f"Inches are written in parts of {listed([str(p) for p in TAPE_PARTS], 'or')}, not {parts}.")
    if units == "mm":
        return f"{mm:z.{decimals}f}"
    return mixed_number(mm / MM_PER_INCH, parts)


def format_place(mm: float, units: Units, axis: Axis, parts: int = 16, decimals: int = 0) -> str:
    """One coordinate in mm as text: "L 12-1/2" or "R 3/4" on the left axis, else a number with its sign."""
    text = format_length(mm, units, parts, decimals)
    if axis != "left" or not text.strip("0."):
        return text
    return f"R {text[1:]}" if text.startswith("-") else f"L {text}"


def length_with_unit(mm: float, units: Units, parts: int = 16, decimals: int = 0) -> str:
    """A length in mm as text with its unit: "34-3/8 in" or "873 mm"."""
    return f"{format_length(mm, units, parts, decimals)} {units}"


def stated_length(mm: float, units: Units) -> str:
    """A stated size, or a difference of two, with its unit, to the last digit that anybody states."""
    if units == "mm":
        return f"{_short(mm, 2)} mm"
    return length_with_unit(mm, units, parts=32)


def stated_gap(mm: float, units: Units) -> str:
    """The same of what may be next to nothing, which no tape shows: "a hair"."""
    text = stated_length(mm, units)
    return "a hair" if text == stated_length(0.0, units) else text


def format_angle(rad: float, decimals: int = 1) -> str:
    """An angle in radians as degrees to ``decimals`` places, without a mark: "31.5", never "-0.0".

    Raises:
        BadValue: it is not finite.
    """
    if not math.isfinite(rad):
        raise BadValue(f"An angle of {rad} cannot be written.")
    return f"{math.degrees(rad):z.{decimals}f}"


def mixed_number(amount: float, parts: int) -> str:
    """A number as a whole and a reduced fraction, to the nearest 1/``parts``."""
    steps = round(amount * parts)
    whole, rest = divmod(abs(steps), parts)
    shared = math.gcd(rest, parts)
    fraction = f"{rest // shared}/{parts // shared}" if rest else ""
    text = "-".join(filter(None, [str(whole) if whole else "", fraction])) or "0"
    return f"-{text}" if steps < 0 else text


# sizes that ask a question

_OD_RANGE: Final = (6.0, 150.0)
_THINNEST_WALL: Final = 0.5
_SAME: Final = 1e-9  # relative; a wall of just OD/4 passes whichever unit it was typed in


def check_tube_size(od_mm: float, wall_mm: float | None) -> str | None:
    """What is odd about an implausible size, and how to write the likely slips; None where the size is plausible.

    Asked of an outside diameter under 6 mm or over 150 mm, and of a wall under 0.5 mm or over a quarter of the
    diameter (both in mm).
    """
    low, high = _OD_RANGE
    if od_mm < low or od_mm > high:
        odd = f"OD {in_both_units(od_mm)} is {'small' if od_mm < low else 'large'} for a tube."
        return f"{odd} {_meant(od_mm, low, high)}"
    thickest = od_mm / 4 * (1 + _SAME)
    if wall_mm is None or _THINNEST_WALL * (1 - _SAME) <= wall_mm <= thickest:
        return None
    too_thick = f"over a quarter of the OD, {in_both_units(od_mm)}"
    odd = f"Wall {in_both_units(wall_mm)} is {too_thick if wall_mm > thickest else 'thin for a tube'}."
    return f"{odd} {_meant(wall_mm, _THINNEST_WALL, thickest)}"


def in_both_units(mm: float) -> str:
    """A size as "12.7 mm (0.5 in)"."""
    return f"{_short(mm, 1 if mm >= 10 else 2)} mm ({_short(mm / MM_PER_INCH, 3)} in)"


def _short(value: float, places: int) -> str:
    text = f"{value:z.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _meant(mm: float, low: float, high: float) -> str:
    """How to write what may have been meant: the other unit, or a fraction with a point; sizes low to high."""
    as_mm, as_inches = _short(mm, 4), _short(mm / MM_PER_INCH, 4)
    slips = {f"{as_mm} in": mm * MM_PER_INCH, f"{as_inches} mm": mm / MM_PER_INCH}
    for text in (as_mm, as_inches):
        top, _, bottom = text.partition(".")
        if bottom in map(str, TAPE_PARTS) and 0 < int(top) < int(bottom):
            slips[f"{top}/{bottom} in"] = int(top) / int(bottom) * MM_PER_INCH
    likely = [f'"{name}"' for name, size in slips.items() if low <= size <= high * (1 + _SAME)]
    return f"Write {listed(likely, 'or')} if that was meant." if likely else "Is the figure right?"
