"""What the readings of a vehicle came to, as data and as JSON."""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from plumbend.frames import FloatArray
from plumbend.notices import Notice
from plumbend.records import record

Verdict = Literal["fits", "left out", "kept", "not checked"]
"""How a reading stands: with the others, left out as probably wrong, kept although it looks wrong, or checked by
no other."""

CHECK_FORMAT = "plumbend-check/1"
"""Keys may be added; none is renamed or dropped without a new number."""


@record(eq=False)
class PlaceFound:
    """A base or point, and how well it is known.

    Attributes:
        name: as painted on the vehicle.
        is_base: other places are measured from it.
        at: (3,) mm: forward, left, up; NaN where no reading fixes a figure.
        doubt: (3,) mm, one standard deviation of each; NaN likewise, 0 where it is held as given.
    """

    name: str
    is_base: bool
    at: FloatArray
    doubt: FloatArray


@record(eq=False)
class ReadingFound:
    """A reading of the vehicle, and how it stands.

    Attributes:
        number: its place in the list as typed, from 1, where those struck out count too.
        typed: the reading as a line.
        off: mm, measured less what the places found say, the larger of two figures.
        doubt: mm, one standard deviation of that; NaN where it was left out.
        verdict: how it stands.
        misread: what it looks like, in words; None where nothing is wrong with it.
        file, line: where it stands; the line is None where it cannot be told.
        alike: numbers of the readings that it is checked with together, so that a slip in one of them would
            be seen, but not in which.
    """

    number: int
    typed: str
    off: float
    doubt: float
    verdict: Verdict
    misread: str | None
    file: str
    line: int | None
    alike: tuple[int, ...] = ()


@record(eq=False)
class Across:
    """The distance between two bases, and its standard deviation, mm."""

    first: str
    second: str
    distance: float
    doubt: float


@record(eq=False)
class Square:
    """Four bases as a shop checks them: the diagonals, and by how much they differ, with its standard deviation."""

    diagonals: tuple[Across, Across]
    difference: float
    doubt: float


@record(eq=False)
class Halves:
    """A left and a right place that should mirror each other.

    Attributes:
        left, right: their names.
        apart: (3,) mm, the left one less the mirror image of the right one: forward, left, up.
        doubt: (3,) mm, one standard deviation of that.
    """

    left: str
    right: str
    apart: FloatArray
    doubt: FloatArray


@record(eq=False)
class FrameReport:
    """All that is said of a vehicle's readings.

    Attributes:
        words: what forward, left and up are counted from.
        places: bases first.
        readings: in the order typed, those that are struck out left aside.
        struck_out: number and line of each of these.
        chi2, dof: weighted sum of squares of the misses, and how many readings check others.
        scale: what every doubt was multiplied by because the readings disagree, 1 or more.
        notices: in the order to be read.
        squares: diagonals of four bases.
        halves: left and right.
        next: what to measure next.
    """

    words: str
    places: tuple[PlaceFound, ...]
    readings: tuple[ReadingFound, ...]
    struck_out: tuple[tuple[int, str], ...]
    chi2: float
    dof: int
    scale: float
    notices: tuple[Notice, ...]
    squares: tuple[Square, ...] = ()
    halves: tuple[Halves, ...] = ()
    next: tuple[Notice, ...] = ()


def frame_to_json(frame: FrameReport | None) -> dict[str, Any] | None:
    """The report as a JSON object in mm; null where nothing fixes a figure."""
    if frame is None:
        return None
    return {
        "counted_from": frame.words,
        "places": [
            {"name": p.name, "base": p.is_base, "at": _known(p.at), "doubt": _known(p.doubt)} for p in frame.places
        ],
        "readings": [
            {
                "number": r.number,
                "reading": r.typed,
                "off": r.off,
                "doubt": None if np.isnan(r.doubt) else r.doubt,
                "verdict": r.verdict,
                "misread": r.misread,
                "file": r.file,
                "line": r.line,
                "checked_only_with": list(r.alike),
            }
            for r in frame.readings
        ],
        "struck_out": len(frame.struck_out),
        "struck_out_readings": [{"number": number, "reading": typed} for number, typed in frame.struck_out],
        "chi2": frame.chi2,
        "dof": frame.dof,
        "scale": frame.scale,
        "diagonals": [
            {
                "bases": [[d.first, d.second] for d in square.diagonals],
                "lengths": [d.distance for d in square.diagonals],
                "difference": square.difference,
                "doubt": square.doubt,
            }
            for square in frame.squares
        ],
        "left_right": [
            {"left": h.left, "right": h.right, "apart": _known(h.apart), "doubt": _known(h.doubt)} for h in frame.halves
        ],
        "notices": [{"code": n.code, "level": n.level, "text": n.text} for n in frame.notices],
        "measure_next": [n.text for n in frame.next],
    }


def check_to_json(title: str, frame: FrameReport) -> dict[str, Any]:
    """The whole answer of ``plumbend check`` as a JSON object."""
    return {"format": CHECK_FORMAT, "units": {"length": "mm"}, "job": title, "frame": frame_to_json(frame)}


def _known(values: FloatArray) -> list[float | None]:
    return [None if np.isnan(value) else float(value) for value in values]
