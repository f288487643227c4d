"""What may stand behind the keys of points and of readings of a tube, as :mod:`plumbend.job.values` does it."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from typing import Any, get_args

from plumbend.job.dates import explain_date
from plumbend.job.values import AXES, Reading, figure, length_good_to, three, validator, whole, wrong
from plumbend.shape.points import SIDES, PointKind
from plumbend.tubing import Edges
from plumbend.typed import parse_angle, parse_place
from plumbend.units import Axis

_KINDS: dict[str, str] = {**{kind: kind for kind in get_args(PointKind)}, "center": "centre"}
_KINDS_TO_USE = "Use end, corner, centre, outside, touch or clear."
_SIDES = {
    **SIDES,
    **dict.fromkeys(("fore", "forward"), SIDES["front"]),
    **dict.fromkeys(("back", "aft"), SIDES["rear"]),
}
_SIDES_TO_USE = "Write top, bottom, left, right, front or rear, or a direction such as side = [1, 0, -1]."
_TUBE_IS = {
    **dict.fromkeys(("above", "over"), SIDES["top"]),
    **dict.fromkeys(("below", "under"), SIDES["bottom"]),
    "left": SIDES["left"],
    "right": SIDES["right"],
    **dict.fromkeys(("front", "in front", "ahead"), SIDES["front"]),
    **dict.fromkeys(("rear", "behind"), SIDES["rear"]),
}
_TUBE_IS_TO_USE = (
    "Write where the tube lies seen from the place: above, below, left, right, front or behind, or a direction such as "
    "tube_is = [1, 0, -1]."
)
_EDGES: dict[str, Edges] = {"outside": "outer", "inside": "inner", "both": "both"}
_YES_OR_NO = {"yes": True, "true": True, "no": False, "false": False}
MOST_MITRE = math.radians(75)
"""No saw or notcher cuts within 15 degrees of the tube's own direction."""
_SLOPE = re.compile(r"(?:(?P<before>up|down)\b)?(?P<rest>.*?)(?:\b(?P<after>up|down))?", re.IGNORECASE | re.DOTALL)


def _kind(value: Any, _: Reading) -> str:
    word = value.strip().lower() if isinstance(value, str) else ""
    if word not in _KINDS:
        raise wrong("is no kind of point", _KINDS_TO_USE)
    return _KINDS[word]


def place(value: Any, reading: Reading) -> tuple[float, ...]:
    """Forward, left and up, mm."""
    if not isinstance(value, list) or len(value) != len(AXES):
        mend = 'Write forward, left and up, such as at = [14, "L 12-1/2", 37].'
        if isinstance(value, list) and len(value) > len(AXES):
            mend += " Decimals have a point: 0.5, not 0,5."
        raise wrong("is not three figures", mend)

    def parse(part: Any, axis: Axis) -> float:
        return parse_place(figure(part), reading.units, axis, decimal_comma=reading.decimal_comma)

    return three(value, reading, parse)


def _good_to(value: Any, reading: Reading) -> tuple[float, ...]:
    parts = _three_in_a_cell(value, reading) if reading.from_csv else None
    if parts:
        return tuple(length_good_to(part, reading) for part in parts)
    if not isinstance(value, list):
        return (length_good_to(value, reading),) * 3
    if len(value) != len(AXES):
        mend = 'Write one, such as "1/8", or three for forward, left and up: ["1/8", "1/8", "1/4"].'
        raise wrong("is neither one length nor three", mend)
    return three(value, reading, lambda part, _: length_good_to(part, reading))


def _three_in_a_cell(cell: str, reading: Reading) -> list[str] | None:
    """Three lengths parted by slashes or blanks in one cell; None where it may be one length or a date.

    In inches 2 2 4 may be 2-2/4, and 1 1/2 2 begins with what may be 1-1/2.
    """
    if explain_date(cell):
        return None
    for slash in (" / ", "/"):
        parts = cell.split(slash)
        if len(parts) == len(AXES) and " " not in "".join(parts):
            return parts
    parts = cell.split()
    bare = [part.isdigit() for part in parts]
    mixed = any(whole and "/" in after for whole, after in zip(bare, parts[1:], strict=False))
    if len(parts) != len(AXES) or mixed or (reading.units == "in" and all(bare)):
        return None
    return parts


def _side(value: Any, reading: Reading) -> tuple[float, ...]:
    """A unit vector out of the tube."""
    if isinstance(value, str) and value.strip().lower() in _SIDES:
        return _SIDES[value.strip().lower()]
    return direction(value, reading, "is no side of a tube", _SIDES_TO_USE)


def _short_side(value: Any, reading: Reading) -> tuple[float, ...]:
    """The same for the side on which a mitre leaves the tube short."""
    if isinstance(value, str) and value.strip().lower() in _SIDES:
        return _SIDES[value.strip().lower()]
    return direction(value, reading, "is no side of a tube", _SIDES_TO_USE.replace("side =", "short_side ="))


def _tube_is(value: Any, reading: Reading) -> tuple[float, ...]:
    """A unit vector from the place to the tube."""
    if isinstance(value, str) and value.strip().lower() in _TUBE_IS:
        return _TUBE_IS[value.strip().lower()]
    return direction(value, reading, "is no side on which a tube may lie", _TUBE_IS_TO_USE)


def _exact(value: Any, reading: Reading) -> bool:
    word = value.strip().lower() if reading.from_csv and isinstance(value, str) else value
    if isinstance(word, str) and word in _YES_OR_NO:
        return _YES_OR_NO[word]
    if not isinstance(value, bool):
        mend = "Write yes or no." if reading.from_csv else "Write true or false, without quotes."
        raise wrong(f"is neither {'yes nor no' if reading.from_csv else 'true nor false'}", mend)
    return value


def direction(value: Any, reading: Reading, why: str, mend: str) -> tuple[float, ...]:
    """The unit vector along three numbers, a list or, in CSV, one cell; ``why`` and ``mend`` of what is none."""
    parts: Sequence[Any] = value if isinstance(value, list) else ()
    if reading.from_csv and isinstance(value, str):
        parts = re.split(r"[\s/]+", value.replace(",", ".") if reading.decimal_comma else value)
    try:
        along = [float(part) for part in parts if not isinstance(part, bool)]
    except (TypeError, ValueError):
        along = []
    if len(along) != len(AXES) or not all(map(math.isfinite, along)):
        raise wrong(why, mend)
    largest = max(map(abs, along))
    if not largest:
        raise wrong("is no direction", mend)
    scaled = [part / largest for part in along]  # their squares stay within what a number can hold
    return tuple(part / math.hypot(*scaled) for part in scaled)


def _on(value: Any, reading: Reading) -> tuple[str, ...]:
    """Names of what an end meets."""
    parts = re.split(r"\s*[;,]\s*", value) if reading.from_csv and isinstance(value, str) else value
    names = [parts] if isinstance(parts, str) else parts
    if not isinstance(names, list) or not names or not all(isinstance(name, str) and name.strip() for name in names):
        mend = 'Write on = "ladder hoop", or the names of several: on = ["upright", "ladder hoop"].'
        raise wrong("is no name of what the end meets", mend)
    plain = [" ".join(name.split()) for name in names]
    for entry, name in enumerate(plain):
        if name in plain[:entry]:
            raise wrong("is named twice", "Name each once.", None if reading.from_csv else entry)
    return tuple(plain)


def _mitre(value: Any, reading: Reading) -> float:
    """Degrees off square, in radians."""
    angle = parse_angle(figure(value), decimal_comma=reading.decimal_comma)
    if angle == 0:
        raise wrong("is a square cut", "Write square = true.")
    if not 0 < angle <= MOST_MITRE:
        most = round(math.degrees(MOST_MITRE))
        raise wrong("is no mitre", f"Write how far off square the cut is, at most {most} degrees, such as mitre = 30.")
    return angle


def _edge(value: Any, _: Reading) -> Edges:
    """Which edge of the wall is to touch."""
    edge = _EDGES.get(value.strip().lower()) if isinstance(value, str) else None
    if edge is None:
        mend = 'Write edge = "outside", "inside" or "both": both are bevelled to fit, as a hole saw leaves them.'
        raise wrong("is no edge of the wall", mend)
    return edge


def _points(value: Any, _: Reading) -> Any:
    if isinstance(value, str) and value.strip():
        return value.strip()
    if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
        mend = 'Write points = [ { name = "A", what = "end", at = [0, 0, 0] }, ... ] or points = "points.csv".'
        raise wrong("is neither a list of points nor the name of a CSV file", mend)
    return value


def _readings(value: Any, _: Reading) -> Any:
    if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
        raise wrong("is not a list of readings", "Write readings = [ { bend = 1, angle = 31.5 }, ... ].")
    return value


def _demands(value: Any, _: Reading) -> Any:
    if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
        raise wrong("is not a list of demands", "Write demands = [ { leg = 1, level = true }, ... ].")
    return value


def _said(value: Any, _: Reading) -> bool:
    if value is not True:
        raise wrong("is not true", "Write true, without quotes, or take the row out.")
    return True


def _along(value: Any, reading: Reading) -> tuple[str, tuple[float, ...]]:
    """An axis in words, and the unit vector along it."""
    if isinstance(value, str) and value.strip().lower() in AXES:
        word = value.strip().lower()
        return word, tuple(float(axis == word) for axis in AXES)
    mend = 'Write along = "forward", "left" or "up", or a direction such as along = [1, 0, -1].'
    way = direction(value, reading, "is no direction of the vehicle", mend)
    return " ".join(f"{part:g}" for part in value), way


def _parallel_to(value: Any, reading: Reading) -> tuple[str | None, int]:
    """A leg, and the tube that it is of where that is another."""
    if not isinstance(value, dict):
        return None, whole(value, reading)
    if set(value) != {"tube", "leg"} or not isinstance(value["tube"], str):
        raise wrong("is no leg", 'Write parallel_to = 3, or parallel_to = { tube = "left rail", leg = 2 }.')
    return value["tube"].strip(), whole(value["leg"], reading)


def _bends(value: Any, reading: Reading) -> tuple[int, ...]:
    if not isinstance(value, list) or len(value) < 2:
        raise wrong("is not two bends or more", "Write them by number, such as equal_angles = [1, 3].")
    bends = tuple(whole(part, reading) for part in value)
    if len(set(bends)) < len(bends):
        raise wrong("names a bend twice", "Name each once.")
    return bends


def _corners(value: Any, reading: Reading) -> tuple[int | str, ...]:
    """Two corners or ends, each by its number or its name."""
    if not isinstance(value, list) or len(value) != 2:
        mend = "Write them by number or name, such as corners = [1, 2]; 0 is the start end."
        raise wrong("is not two corners", mend)
    return tuple(part.strip() if isinstance(part, str) else whole(part, reading) for part in value)


def _legs(value: Any, reading: Reading) -> tuple[int, ...]:
    if not isinstance(value, list) or len(value) != 2:
        raise wrong("is not two legs", "Write them by number, such as legs = [1, 3].")
    return tuple(whole(part, reading) for part in value)


def _slope(value: Any, reading: Reading) -> tuple[float, bool]:
    """Radians, up positive, and whether the reading leaves open which way the leg slopes."""
    typed = figure(value)
    found = _SLOPE.fullmatch(typed.strip()) if isinstance(typed, str) else None
    word = ((found["before"] or found["after"] or "") if found else "").lower()
    if found and found["before"] and found["after"]:
        raise wrong("has two words for the direction", "Write one of them.")
    if found and word and not found["rest"].strip():
        raise wrong("has no number", 'Write "24.5 up" or "24.5 down", seen toward the far end.')
    slope = parse_angle(found["rest"] if found else typed, decimal_comma=reading.decimal_comma)
    if slope < 0:
        raise wrong("has a sign", 'Write "24.5 up" or "24.5 down", seen toward the far end, or 24.5 alone.')
    if slope > math.pi / 2:
        raise wrong("is over 90 degrees", "A slope is measured from level: 0 is level, 90 plumb.")
    return (-slope if word == "down" else slope), not word


def _angle_good_to(value: Any, reading: Reading) -> float:
    angle = parse_angle(figure(value), decimal_comma=reading.decimal_comma)
    if angle <= 0:
        raise wrong("must be more than nothing", "Check the figure.")
    return angle


KIND = validator(_kind)
PLACE = validator(place)
GOOD_TO = validator(_good_to)
SIDE = validator(_side)
TUBE_IS = validator(_tube_is)
EXACT = validator(_exact)
ON = validator(_on)
EDGE = validator(_edge)
MITRE = validator(_mitre)
SHORT_SIDE = validator(_short_side)
POINTS = validator(_points)
READINGS = validator(_readings)
CORNERS = validator(_corners)
LEGS = validator(_legs)
SLOPE = validator(_slope)
DEMANDS = validator(_demands)
SAID = validator(_said)
ALONG = validator(_along)
PARALLEL_TO = validator(_parallel_to)
BENDS = validator(_bends)
ANGLE_GOOD_TO = validator(_angle_good_to)
