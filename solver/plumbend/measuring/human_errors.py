"""What a man may have got wrong in one reading: every reading that may have been meant instead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any, Final

from plumbend.errors import BadValue
from plumbend.measuring.lengths import Down, Height, Off, OffPlane, Tape
from plumbend.measuring.places import Place
from plumbend.measuring.readings import Amount, Reading
from plumbend.measuring.relations import Below, Coordinate, Drop, InLine, Level, SymmetricPair
from plumbend.measuring.slips import Figure, slips
from plumbend.records import record
from plumbend.units import Axis, Units

_OPPOSITE: Final[dict[Axis, str]] = {"forward": "forward and aft", "left": "left and right", "up": "above and below"}

_PLACES: Final[dict[type[Reading], tuple[str, ...]]] = {
    Tape: ("point", "start"),
    Level: ("point", "other"),
    Below: ("point", "other"),
    InLine: ("point",),
    SymmetricPair: ("left", "right"),
}
"""Attributes that name a place which may have been mistaken for another; of all other readings it is the point."""


@record
class HumanError:
    """One way in which a reading may be wrong.

    Attributes:
        code: a short stable name of the kind, such as "digits-swapped".
        words: what the reading looks like: "34-3/8 with the digits swapped", "the height of B".
        corrected: the reading as it should have been.
        elsewhere: it is a reading of other places, and says nothing of its own.
    """

    code: str
    words: str
    corrected: Reading
    elsewhere: bool = False


def human_errors(
    reading: Reading, units: Units, od: float | None = None, places: Sequence[Place] = ()
) -> list[HumanError]:
    """Every human error that a reading may hold; those that do not fit its kind are left out.

    Args:
        reading: as it was read.
        units: the job's.
        od: mm, of the tube wanted; None where there is none. What was touched has its own.
        places: bases and points that may have been mistaken for those of the reading.
    """
    return [
        *_in_figures(reading, units, _ods(reading, od)),
        *_coordinates_swapped(reading, units),
        *_elsewhere(reading, places),
    ]


def figures_of(reading: Reading) -> dict[str, Figure]:
    """The figures that were read, by the attribute that holds each; empty where there are none."""
    if isinstance(reading, Drop):
        return {
            "forward": Figure(reading.forward, "forward", _OPPOSITE["forward"]),
            "left": Figure(reading.left, "left", _OPPOSITE["left"]),
        }
    if isinstance(reading, Coordinate):
        return {"value": Figure(reading.value, reading.axis, _OPPOSITE[reading.axis])}
    if isinstance(reading, Level):
        return {"step": Figure(reading.step, "up", "higher and lower")}
    if isinstance(reading, Off | OffPlane):
        return {"value": Figure(reading.value, "left", _OPPOSITE["left"], reading.habits)}
    if isinstance(reading, Height | Down):
        return {"value": Figure(reading.value, None, _OPPOSITE["up"], reading.habits)}
    if isinstance(reading, Amount):
        return {"value": Figure(reading.value, None, "the two sides" if reading.either_way else None, reading.habits)}
    return {}


def shown(reading: Reading, units: Units) -> str:
    """The figures of a reading as a man would write them; "" where it has none."""
    return ", ".join(figure.text(units) for figure in figures_of(reading).values())


def turnable(readings: Sequence[Reading], beside: Reading) -> list[int]:
    """Indices of readings of a place of ``beside`` that may have been read with their sense turned round."""
    return [
        i
        for i, reading in enumerate(readings)
        if not set(reading.places).isdisjoint(beside.places)
        and any(figure.opposite and abs(figure.mm) > 10 * reading.doubt for figure in figures_of(reading).values())
    ]


def _ods(reading: Reading, od: float | None) -> list[float]:
    """OD of what was touched, at either end, else of the tube."""
    touched = [reading.touched]
    if isinstance(reading, Tape):
        touched.append(reading.start_touched)
    if isinstance(reading, Level):
        touched.append(reading.other_touched)
    ods = sorted({one.od for one in touched if one})
    return ods or ([] if od is None else [od])


def _in_figures(reading: Reading, units: Units, ods: Sequence[float]) -> Iterator[HumanError]:
    for name, figure in figures_of(reading).items():
        for slip in slips(figure, units, ods):
            corrected = _with(reading, **{name: slip.mm})
            if corrected is not None:
                # of the two of a drop, that to the side says so itself
                text = f"{slip.text} forward" if name == "forward" else slip.text
                yield HumanError(slip.code, f"{text} {slip.words}", corrected)


def _coordinates_swapped(reading: Reading, units: Units) -> Iterator[HumanError]:
    if isinstance(reading, Drop) and reading.forward != reading.left:
        corrected = replace(reading, forward=reading.left, left=reading.forward)
        yield HumanError("coordinates-swapped", f"{shown(corrected, units)} with the two swapped", corrected)


def _elsewhere(reading: Reading, places: Sequence[Place]) -> Iterator[HumanError]:
    """The same reading of other places: a base for a base, a point for a point."""
    is_base = {place.name: place.base for place in places}
    for attribute in _PLACES.get(type(reading), ("point",)):
        own = getattr(reading, attribute)
        for place in places:
            if place.name not in reading.places and place.base == is_base.get(own):
                corrected = _with(reading, **{attribute: place.name})
                if corrected is not None:
                    yield HumanError("other-place", corrected.words, corrected, elsewhere=True)


def _with(reading: Reading, **changes: Any) -> Reading | None:
    """The reading with other values; None where it could not be read so."""
    try:
        changed = replace(reading, **changes)
        _ = changed.doubt  # a tape may be too short for it
    except BadValue:
        return None
    return changed
