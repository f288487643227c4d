"""Shop lengths and angles: text as people type it, to mm and radians.

What is read, after the look-alikes of phones and word processors are made plain::

    length = [sign] feet ["-"] amount [inch mark]      3' 4-1/2   3'-4 1/2"   3ft 4 1/2
           | [sign] feet                               3'   2.5 ft
           | [sign] amount [unit]                      40-5/8   40 5/8   5/16   34.5   16"   1.2 m
    angle  = [sign] amount [degree mark]               31.5   31 1/2 deg   31.5°
    amount = decimal | [whole ("-" | " ")] top "/" bottom
    place  = length with one of L R left right, fwd forward aft rear, up down, before or after it
    turn   = angle with one of cw ccw clockwise counter-clockwise anticlockwise, before or after it

A bare decimal is in the units of its file. A fraction is always inches, must be one that a tape shows (halves
to 64ths) and must be less than one: 11/2 is as likely a 1 1/2 that lost its space as five and a half, so it
is asked back. What can be read in two ways is never guessed at.
"""

from __future__ import annotations

import math
import re
import unicodedata
from typing import Final

from plumbend.errors import BadText
from plumbend.notices import listed
from plumbend.units import MM_PER_INCH, TAPE_PARTS, Axis, Units, mixed_number

Typed = str | int | float

LONGEST: Final = 1e6
"""mm; a longer length is a slip of the hand, and its square would spoil every sum."""

_INCH_MARKS: Final = ('"', "in", "in.", "inch", "inches")
_MM_PER: Final = {"mm": 1.0, "cm": 10.0, "m": 1000.0} | dict.fromkeys(_INCH_MARKS, MM_PER_INCH)
# words for + and for - along each axis; the first of each is the one that messages use
_WAYS: Final[dict[Axis, tuple[list[str], list[str]]]] = {
    "forward": (["forward", "fwd"], ["aft", "rear"]),
    "left": (["left", "l"], ["right", "r"]),
    "up": (["up"], ["down"]),
}
_AXIS_OF: Final = {word: axis for axis, (plus, minus) in _WAYS.items() for word in plus + minus}

_LONGEST_TEXT: Final = 60
"""Characters; no length or angle is longer, and messages repeat what was typed."""

_LENGTH_FORMS: Final = "Write a length like 34.5, 34-3/8, 3' 4-1/2 or 876 mm."
_ANGLE_FORMS: Final = "Write degrees like 31.5 or 31-1/2."
_TURN_FORMS: Final = "Write degrees like 25, -30, 25 cw or 25 ccw."

# twelve digits are beyond any workshop, and keep every number finite
_WHOLE = "[0-9]{1,12}"
_DECIMAL = rf"(?:{_WHOLE}(?:\.[0-9]+)?|\.[0-9]+)"
_FRACTION = rf"(?:(?P<whole>{_WHOLE})(?: ?- ?| ))?(?P<top>{_WHOLE}) ?/ ?(?P<bottom>{_WHOLE})"
_AMOUNT = rf"(?:(?P<decimal>{_DECIMAL})|{_FRACTION})"
_SIGN = "(?P<sign>[+-]?) ?"
_FOOT = r"(?:'|ft\.?|foot|feet)"
_INCH = f"(?:{'|'.join(map(re.escape, _INCH_MARKS))})"
_FEET_INCHES_RE = re.compile(rf"{_SIGN}(?P<feet>{_DECIMAL}) ?{_FOOT}(?P<inches> ?-? ?{_AMOUNT} ?{_INCH}?)?")
_LENGTH_RE = re.compile(rf"{_SIGN}{_AMOUNT} ?(?P<unit>\"|'|[a-z]+\.?)?")
_ANGLE_RE = re.compile(rf"{_SIGN}{_AMOUNT} ?(?:°|deg\.?|degrees?)?")
_THREE_NUMBERS_RE = re.compile(rf"{_SIGN}({_WHOLE}) ?[ .-] ?({_WHOLE}) ?[ ./-] ?({_WHOLE})")
_TWO_NUMBERS_RE = re.compile(rf"{_SIGN}({_WHOLE}) ?[ -] ?({_WHOLE})")


def _around(word: str) -> re.Pattern[str]:
    """Pattern that takes one of the words in ``word`` off the front or the back of a text."""
    return re.compile(rf"(?:(?P<before>{word})(?![a-z]) ?)?(?P<rest>.*?)(?: ?(?<![a-z])(?P<after>{word}))?")


_PLACE_RE = _around("|".join(_AXIS_OF))
_TURN_RE = _around("c?cw|(?:(?:counter|anti)[- ]?)?clockwise")

_LOOK_ALIKES = str.maketrans(
    # hyphens, dashes and minus signs; primes and single quotes; double primes and double quotes
    dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212\u207b\ufe63\uff0d", "-")
    | dict.fromkeys("\u2032\u02b9\u02bc\u2018\u2019\u201a\u201b\u00b4\u0060", "'")
    | dict.fromkeys("\u2033\u02ba\u02dd\u3003\u201c\u201d\u201e\u201f", '"')
    # the ordinal mark and the ring beside the degree sign; division and fraction slashes
    | dict.fromkeys("\u00ba\u02da", "°")
    | dict.fromkeys("\u2215\u2044", "/")
    # unseen marks part two numbers as a space does: dropping them would join the digits
    | dict.fromkeys("\u200b\u200c\u200d\u200e\u200f\u2060\ufeff", " ")
)
_SMALL_FIGURES_RE = re.compile("[¼½¾⅐-⅟↉]|[⁰¹²³⁴-⁹]+|[₀-₉]+")
_THOUSANDS_RE = re.compile(r"(?<![0-9.,])[1-9][0-9]{0,2}(?:[.,][0-9]{3})+(?![0-9.,])")


def _plain(typed: str, decimal_comma: bool, forms: str) -> str:
    """The text in small ASCII letters (and °), blanks single, the decimal mark a point."""
    if len(typed.strip()) > _LONGEST_TEXT:
        raise BadText(f"{' '.join(typed.split())[:37]}...", "is too long for one figure", forms)
    # set apart first: NFKC alone would make 34½ into 341/2
    text = _SMALL_FIGURES_RE.sub(r" \g<0> ", typed).translate(_LOOK_ALIKES)
    text = unicodedata.normalize("NFKC", text).translate(_LOOK_ALIKES)
    text = " ".join(text.replace("''", '"').lower().split())
    if not text:
        raise BadText(typed, "is empty", forms)
    comma, point = "," in text, "." in text
    if comma and point and re.search(r"[0-9][.,][0-9]+[.,][0-9]", text):
        raise BadText(typed, "has both a point and a comma", "Write the number without a thousands mark.")
    thousands = _THOUSANDS_RE.search(text)
    if thousands and (point if decimal_comma else comma):
        joined = text.replace(thousands[0], re.sub("[.,]", "", thousands[0]))
        split = text.replace(thousands[0], re.sub("[.,]", "," if decimal_comma else ".", thousands[0]))
        raise BadText(typed, "can be read in more than one way", f"Write {joined} or {split}.")
    if not comma:
        return text
    if text.count(",") > 1 or not re.search("[0-9],[0-9]", text):
        raise BadText(typed, "has a comma out of place", forms)
    if not decimal_comma:
        raise BadText(typed, "has a decimal comma", f"Write {typed.strip().replace(',', '.')}.")
    return text.replace(",", ".")


def parse_length(typed: Typed, units: Units, *, decimal_comma: bool = False) -> float:
    """Length in mm, either sign, as typed; a bare number is in ``units``.

    ``decimal_comma`` says that the file writes 1016,5 for 1016.5; a point before three digits (1.016) may
    then be a thousands mark and is asked back. Raises BadText for what cannot be read in one way only.
    """
    if not isinstance(typed, str):
        return _sane(_finite(typed, _LENGTH_FORMS) * _MM_PER[units], typed)
    return _length(_plain(typed, decimal_comma, _LENGTH_FORMS), typed, units)


def parse_place(typed: Typed, units: Units, axis: Axis, *, decimal_comma: bool = False) -> float:
    """One coordinate along ``axis`` in mm: a length with a sign, or with a word for its direction.

    Raises BadText as parse_length does, and for a word of another axis, two words, or a word with a sign.
    """
    if not isinstance(typed, str):
        return parse_length(typed, units)
    word, rest = _take_word(_PLACE_RE, _plain(typed, decimal_comma, _LENGTH_FORMS), typed, _LENGTH_FORMS)
    if word is None:
        return _length(rest, typed, units)
    if _AXIS_OF[word] != axis:
        ways = _ways(axis)
        why = f"says {_ways(_AXIS_OF[word])} where {ways} is measured"
        raise BadText(typed, why, f"Write {ways}, or a plain number ({axis} is +).")
    along = _length(rest, typed, units)
    return along if word in _WAYS[axis][0] else 0.0 - along


def _ways(axis: Axis) -> str:
    return " or ".join(words[0] for words in _WAYS[axis])


def parse_angle(typed: Typed, *, decimal_comma: bool = False) -> float:
    """Angle in radians from degrees as typed, not wrapped. Raises BadText."""
    if not isinstance(typed, str):
        return math.radians(_finite(typed, _ANGLE_FORMS)) or 0.0
    return math.radians(_degrees(_plain(typed, decimal_comma, _ANGLE_FORMS), typed, _ANGLE_FORMS))


def parse_turn(typed: Typed, *, decimal_comma: bool = False) -> float:
    """Rotation in radians, in (-pi, pi], from degrees as typed.

    Clockwise, seen from the start end toward the far end, is positive. Raises BadText.
    """
    if not isinstance(typed, str):
        degrees = _finite(typed, _TURN_FORMS)
    else:
        text = _plain(typed, decimal_comma, _TURN_FORMS)
        word, rest = _take_word(_TURN_RE, text, typed, _TURN_FORMS)
        degrees = _degrees(rest, typed, _TURN_FORMS)
        if word is not None and word not in ("cw", "clockwise"):
            degrees = -degrees
    # in degrees the remainder is exact; -180 itself is the same turn as 180
    turn = math.radians(math.remainder(degrees, 360.0))
    return math.pi if turn <= -math.pi else turn or 0.0


def _finite(typed: int | float, forms: str) -> float:
    if isinstance(typed, bool):
        raise BadText(str(typed).lower(), "is not a number", forms)
    try:
        value = float(typed)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        raise BadText(str(typed), "is not a number that can be measured", forms)
    return value


def _sane(mm: float, typed: Typed) -> float:
    if abs(mm) > LONGEST:
        raise BadText(str(typed), "is over a kilometre", "Check the figure and its unit.")
    return mm or 0.0  # no -0.0


def _take_word(pattern: re.Pattern[str], text: str, typed: str, forms: str) -> tuple[str | None, str]:
    """The direction word in ``text``, if any, and the text without it, which then bears no sign."""
    found = pattern.fullmatch(text)
    assert found is not None  # rest takes anything
    word, rest = found["before"] or found["after"], found["rest"]
    if found["before"] and found["after"]:
        raise BadText(typed, "has two words for the direction", "Write one of them.")
    if word and not rest:
        raise BadText(typed, "has no number", forms)
    if word and rest[0] in "+-":
        raise BadText(typed, "has both a sign and a word for the direction", "Write one of them.")
    return word, rest


def _length(text: str, typed: str, units: Units) -> float:
    """Length in mm of a text already made plain."""
    if found := _FEET_INCHES_RE.fullmatch(text):
        return _sane(_signed(found, _feet_and_inches(found, typed)) * MM_PER_INCH, typed)
    found = _LENGTH_RE.fullmatch(text)
    if found is None:
        raise _unreadable_length(text, typed)
    amount, unit = _signed(found, _amount(found, typed)), found["unit"]
    if unit and re.fullmatch(_FOOT, unit):
        unit = "ft"  # a fraction: decimal feet are read above
    elif unit and unit not in _MM_PER:
        raise BadText(typed, f'has a unit "{unit}" that is not known', "Write in, ft, mm, cm or m.")
    if not found["top"]:
        return _sane(amount * _MM_PER[unit or units], typed)
    if unit in ("ft", "mm", "cm", "m"):
        why = f"has a fraction of {unit}, and fractions are inches"
        raise BadText(typed, why, f"Write {amount:.10g} {unit}.")
    return _sane(amount * MM_PER_INCH, typed)


def _degrees(text: str, typed: str, forms: str) -> float:
    """Degrees of a text already made plain."""
    found = _ANGLE_RE.fullmatch(text)
    if found is None:
        raise BadText(typed, "cannot be read as an angle", forms)
    return _signed(found, _amount(found, typed))


def _signed(found: re.Match[str], amount: float) -> float:
    return 0.0 - amount if found["sign"] == "-" else amount  # 0 - 0 bears no sign, -0 would


def _amount(found: re.Match[str], typed: str) -> float:
    """The number in a match of _AMOUNT."""
    if found["decimal"]:
        return float(found["decimal"])
    whole, top, bottom = (int(found[part] or 0) for part in ("whole", "top", "bottom"))
    if bottom not in TAPE_PARTS:
        mend = "Write halves, 4ths, 8ths, 16ths, 32nds or 64ths, or a decimal."
        raise BadText(typed, f"has a fraction in parts of {bottom}, which no tape shows", mend)
    amount = whole + top / bottom
    if top >= bottom:
        whole_first = f"{found['sign']}{mixed_number(amount, bottom)}"
        mend = f"Write {whole_first}, or put the lost dash back (11/2 may be 1-1/2)."
        raise BadText(typed, "has a fraction that is not less than one", mend)
    return amount


def _feet_and_inches(found: re.Match[str], typed: str) -> float:
    """Inches in a match of feet and, perhaps, inches."""
    feet = float(found["feet"])
    if not found["inches"]:
        return 12 * feet
    inches = _amount(found, typed)
    if not feet.is_integer():
        mend = "Write whole feet before the inches, or feet alone."
        raise BadText(typed, "has part of a foot and inches as well", mend)
    if inches >= 12:
        mend = "Write less than 12 inches after the feet, or inches alone."
        raise BadText(typed, "has 12 inches or more after the feet", mend)
    return 12 * feet + inches


def _unreadable_length(text: str, typed: str) -> BadText:
    """The refusal of a text that is no length, with the forms nearest to what was typed."""
    choices: list[str] = []
    if found := _THREE_NUMBERS_RE.fullmatch(text):
        whole, top, bottom = (int(found[k]) for k in (2, 3, 4))
        if bottom in TAPE_PARTS and top < bottom:
            choices = [f"{whole}-{top}/{bottom}", f"{whole + top / bottom:.10g}"]
    elif found := _TWO_NUMBERS_RE.fullmatch(text):
        first, second = found[2], found[3]
        if second in map(str, TAPE_PARTS) and int(first) < int(second):
            choices.append(f"{first}/{second}")
        choices.append(f"{first}.{second}")
        if int(second) < 12:
            choices.append(f"{first}' {second}")
        if len(second) == 3:
            choices.append(first + second)
    if found is None:
        return BadText(typed, "cannot be read as a length", _LENGTH_FORMS)
    mend = f"Write {listed([found['sign'] + choice for choice in choices], 'or')}." if choices else _LENGTH_FORMS
    return BadText(typed, "can be read in more than one way", mend)
