"""How the man at the bender likes to work: which marks he draws, where he measures them from, where he begins."""

from __future__ import annotations

from plumbend.records import record
from plumbend.shop import Begins, Marks, MeasuredFrom, Ways
from plumbend.units import MM_PER_INCH, Units

USUAL_TRIM = MM_PER_INCH
"""mm left on each end to be trimmed where nothing else is asked (common practice, no source)."""


@record
class Habit:
    """A way of working.

    Attributes:
        marks: pen lines at the start of each bend, at its middle, or at both.
        measured: all lines from one hooked end, or each from the end of the bend made before it.
        begins: with the first bend from the start end, from the far end, or with the middle bend and outwards.
        trim: mm to leave on each end for trimming; more is left where clamp, tail or mark need it.
    """

    marks: Marks = "start"
    measured: MeasuredFrom = "end"
    begins: Begins = "start"
    trim: float = USUAL_TRIM


def habit_of(ways: Ways, units: Units) -> Habit:
    """The way of working that was told; the usual one where nothing was, its trim even in the ``units`` of the job."""
    usual_trim = 25.0 if units == "mm" else USUAL_TRIM
    return Habit(
        ways.marks or "start",
        ways.measured or "end",
        ways.begins or "start",
        usual_trim if ways.trim is None else ways.trim,
    )
