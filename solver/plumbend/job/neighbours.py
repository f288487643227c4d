"""The ``[[neighbour]]`` tables: what is there already, for ends of tubes to meet."""

from collections.abc import Collection, Sequence
from typing import Annotated, Any

import numpy as np
from pydantic import Field
from pydantic_core import PydanticCustomError

from plumbend.errors import BadValue
from plumbend.job import evidence_values as e
from plumbend.job import values as v
from plumbend.job.checking import read_table
from plumbend.job.evidence_values import direction, place
from plumbend.job.good_to import GoodTo
from plumbend.job.meetings import Fixture, Typed
from plumbend.job.places import Mistakes, Spot, called
from plumbend.job.tables import Table
from plumbend.job.values import Reading, validator, wrong
from plumbend.records import record
from plumbend.shape.points import SIDES
from plumbend.units import Units, check_tube_size, stated_gap

_FACES = {
    **dict.fromkeys(("up", "top"), SIDES["top"]),
    **dict.fromkeys(("down", "bottom"), SIDES["bottom"]),
    "left": SIDES["left"],
    "right": SIDES["right"],
    **dict.fromkeys(("forward", "fwd", "front"), SIDES["front"]),
    **dict.fromkeys(("aft", "rear"), SIDES["rear"]),
}


def _places(value: Any, reading: Reading) -> tuple[tuple[float, ...] | str, ...]:
    """Places with their figures, or names of places that readings find."""
    if not isinstance(value, list) or not value:
        raise wrong("is not a list of places", "Write each as forward, left and up: [ [0, 0, 0], [0, 0, 40] ].")
    places: list[tuple[float, ...] | str] = []
    for entry, part in enumerate(value):
        if isinstance(part, str) and part.strip():
            places.append(" ".join(part.split()))
            continue
        if not isinstance(part, list) or len(part) != 3:
            mend = 'Write forward, left and up, such as [14, "L 12-1/2", 37], or the name of a place.'
            raise wrong("is not three figures", mend, entry)
        try:
            places.append(place(part, reading))
        except PydanticCustomError as fault:
            told = fault.context or {}
            why = f'has "{part[told["entry"]]}" in it, which {told["why"]}'
            raise wrong(why, told["mend"], entry) from None
    return tuple(places)


def _faces(value: Any, reading: Reading) -> tuple[float, ...]:
    if isinstance(value, str) and value.strip().lower() in _FACES:
        return _FACES[value.strip().lower()]
    mend = "Write up, down, left, right, forward or aft, or a direction such as faces = [1, 0, -1]."
    return direction(value, reading, "is no way for a plate to face", mend)


PLACES = validator(_places)
FACES = validator(_faces)


class NeighbourTable(Table):
    """One thing that is there already: a tube, or a plate."""

    needed = ("name",)

    name: Annotated[str | None, v.TEXT, Field(description='name = "upright"')] = None
    tube: Annotated[tuple[tuple[float, float, float] | str, ...] | None, PLACES] = None
    od: Annotated[float | None, v.SIZE] = None
    clr: Annotated[float | None, v.SIZE] = None
    plate: Annotated[tuple[tuple[float, float, float] | str, ...] | None, PLACES] = None
    faces: Annotated[tuple[float, float, float] | None, FACES] = None
    good_to: Annotated[tuple[float, float, float] | None, e.GOOD_TO] = None
    note: Annotated[str | None, v.TEXT] = None


@record
class Names:
    """Names that a job has: of its own tubes, and of places that readings of the vehicle find; None where mistakes
    hide some."""

    tubes: Collection[str]
    placed: Collection[str] | None


def read_neighbours(
    tables: Sequence[dict[str, Any]],
    top: Spot,
    names: Names,
    good_to: GoodTo,
    reading: Reading,
    mistakes: Mistakes,
) -> tuple[Fixture, ...]:
    """Every neighbour that can be read; mistakes are noted.

    Args:
        tables: as typed.
        top: the top of the file.
        names: those that the job has beside them.
        good_to: accuracies of the job.
        reading: how values are written.
        mistakes: what is wrong is noted here.
    """
    fixtures: list[Fixture] = []
    for index, typed in enumerate(tables):
        spot = top.within(("neighbour", index), called("neighbour", typed.get("name"), index + 1))
        before = len(mistakes)
        table = read_table(NeighbourTable, typed, spot, reading, mistakes)
        if table.name is not None and table.name in names.tubes:
            mistakes.add(spot, ("name",), "a tube of this job has this name as well", "Give one of them another name.")
        if any(other.name == table.name for other in fixtures):
            what = f'there are two neighbours called "{table.name}"'
            mistakes.add(spot, ("name",), what, "Give each its own name.")
        if len(mistakes) == before:
            _check_keys(table, spot, mistakes)
            _check_names(table, names, spot, mistakes)
        if len(mistakes) == before and table.name is not None:
            fixture = _fixture(table, table.name, good_to)
            _check_surface(fixture, spot, reading.units, mistakes)
            fixtures.append(fixture)
    return tuple(fixtures)


def _check_names(table: NeighbourTable, names: Names, spot: Spot, mistakes: Mistakes) -> None:
    if names.placed is None:
        return
    key = "tube" if table.plate is None else "plate"
    for entry, name in enumerate(table.tube or table.plate or ()):
        if isinstance(name, str) and name not in names.placed:
            mend = "Measure it from a base, or write its figures: forward, left and up."
            mistakes.add(spot, (key, entry), f'no reading finds a place called "{name}"', mend)


def _check_keys(table: NeighbourTable, spot: Spot, mistakes: Mistakes) -> None:
    if (table.tube is None) == (table.plate is None):
        what = "it is both a tube and a plate" if table.tube else "it does not say what it is"
        mend = "Write tube = [ two places on its centreline ], or plate = [ three places on its face ]."
        mistakes.add(spot, ("plate",) if table.tube else (), what, mend if not table.tube else "Keep one of them.")
        return
    for key in ("od", "clr") if table.plate is not None else ("faces",):
        if table.says(key):
            kind = "plate" if table.plate is not None else "tube"
            mistakes.add(spot, (key,), f'a {kind} has no "{key}"', "Take it out.")
    if table.tube is not None:
        _check_tube(table, table.tube, spot, mistakes)
    elif table.plate is not None:
        _check_plate(table, table.plate, spot, mistakes)


def _check_tube(table: NeighbourTable, places: Sequence[object], spot: Spot, mistakes: Mistakes) -> None:
    if table.od is None:
        mistakes.add(spot, (), '"od" is missing', 'Write the outside diameter, such as od = "1-3/4".')
        return
    odd = check_tube_size(table.od, None)
    if odd is not None:
        what, _, mend = odd.rpartition(". ")
        mistakes.add(spot, ("od",), what, mend)
    if len(places) < 2:
        mend = "Write two places on its centreline; of a bent tube its ends and the corners of its bends."
        mistakes.add(spot, ("tube",), "one place does not say how it runs", mend)
        return
    if len(places) > 2 and table.clr is None:
        mend = 'Write the centreline radius of its bends, such as clr = "5-1/2".'
        mistakes.add(spot, (), f'"clr" is missing: {len(places)} places are those of a bent tube', mend)
        return
    if len(places) == 2 and table.clr is not None:
        mend = "Write the corners of its bends between its ends, or take it out."
        mistakes.add(spot, ("clr",), "two places are those of a straight tube, which has no radius", mend)
        return


def _check_plate(table: NeighbourTable, places: Sequence[object], spot: Spot, mistakes: Mistakes) -> None:
    if len(places) != (3 if table.faces is None else 1):
        what = f"a plate of {len(places)} place{'s' * (len(places) != 1)}"
        what += " that says how it faces" if table.faces is not None else ""
        mend = 'Write three places on its face, or one and which way it faces, such as faces = "up".'
        mistakes.add(spot, ("plate",), what, mend)
        return


def _check_surface(fixture: Fixture, spot: Spot, units: Units, mistakes: Mistakes) -> None:
    """Note places that cannot be those of such a tube or plate; where readings find them, only these tell."""
    at = [one for one in fixture.places if not isinstance(one, str)]
    if len(at) < len(fixture.places):
        return
    try:
        fixture.surface(np.array(at))
    except BadValue as fault:
        what = fault.told(lambda mm: stated_gap(mm, units)).rstrip(".")
        mistakes.add(spot, ("plate" if fixture.od is None else "tube",), what, "Check the places.")


def _fixture(table: NeighbourTable, name: str, good_to: GoodTo) -> Fixture:
    places: list[Typed] = [one if isinstance(one, str) else np.array(one) for one in table.tube or table.plate or ()]
    typed = any(not isinstance(one, str) for one in places)
    sd = np.array(good_to.sds(table.good_to)) if typed else np.zeros(3)
    faces = None if table.faces is None else np.array(table.faces)
    return Fixture(name, tuple(places), sd, table.od, table.clr, faces)
