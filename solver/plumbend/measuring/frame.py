"""The frame that places are stated in, where the bases alone or symmetric pairs make it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from plumbend.errors import BadValue
from plumbend.measuring.lengths import Down, Height
from plumbend.measuring.places import AXES, CentrePlane, Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import SymmetricPair
from plumbend.records import record


@record
class Frame:
    """Places and planes with what the frame fixes of them, and the frame in words."""

    places: tuple[Place, ...]
    planes: tuple[CentrePlane, ...]
    words: str


def frame_as_given(places: Sequence[Place], readings: Sequence[Reading], planes: Sequence[CentrePlane] = ()) -> Frame:
    """The frame of what is given, said in words."""
    whole = [place.name for place in places if None not in place.at]
    part = [place.name for place in places if None in place.at and place.at != (None, None, None)]
    said = []
    if whole:
        said.append(f"Forward, left and up are as {_listed(whole)} {_is(whole)} given.")
    if part:
        said.append(f"{_listed(part)} {_is(part)} given in part.")
    datums = dict.fromkeys(reading.datum.name for reading in readings if isinstance(reading, Height | Down))
    if datums:
        said.append(f"Heights are from the {_listed(list(datums))}.")
    said.append("Up is plumb." if any(reading.plumb for reading in readings) else "No reading says which way is plumb.")
    return Frame(tuple(places), tuple(planes), " ".join(said))


def frame_from_bases(
    places: Sequence[Place],
    readings: Sequence[Reading],
    bases: tuple[str, str, str],
    planes: Sequence[CentrePlane] = (),
) -> Frame:
    """The frame of three bases alone: one is the origin, one straight forward of it, one to the left, level with both.

    Raises BadValue where a reading says which way is plumb, or one of the three is given or not there.
    """
    plumb = next((reading for reading in readings if reading.plumb), None)
    if plumb is not None:
        raise BadValue(
            f"{plumb.title} says which way is up, and so do three bases taken as level: they cannot both be right. "
            "Give the bases' own heights, or leave out every height, level and plumb line."
        )
    origin, ahead, left = (_free_place(places, name) for name in bases)
    fixed = {
        origin.name: replace(origin, at=(0.0, 0.0, 0.0)),
        ahead.name: replace(ahead, at=(None, 0.0, 0.0), hints=("forward",)),
        left.name: replace(left, at=(None, None, 0.0), hints=("left",)),
    }
    words = (
        f"{origin.name} is the origin, {ahead.name} lies straight forward of it, and {left.name} to the left, level "
        "with both. No reading says which way is plumb."
    )
    return Frame(tuple(fixed.get(place.name, place) for place in places), tuple(planes), words)


def frame_from_pairs(
    places: Sequence[Place], readings: Sequence[Reading], zero: str, plane: str = "centre plane"
) -> Frame:
    """The frame of symmetric pairs: their centre plane is the middle, ``zero`` is at forward 0, heights from a datum.

    Raises BadValue where there are no two pairs, no height over a datum, or ``zero`` is given or not there.
    """
    pairs = [reading for reading in readings if isinstance(reading, SymmetricPair) and reading.plane == plane]
    if len(pairs) < 2:
        raise BadValue(f"The {plane} needs two symmetric pairs, one well ahead of the other. Measure another pair.")
    datum = next((reading.datum for reading in readings if isinstance(reading, Height | Down)), None)
    if datum is None:
        raise BadValue(f"Pairs say where the {plane} is, but not how high anything is. Measure a height.")
    first = _free_place(places, zero)
    moved = tuple(replace(place, at=(0.0, None, None)) if place is first else place for place in places)
    words = (
        f"The {plane} of {_listed([f'{pair.left} and {pair.right}' for pair in pairs], ', ')} is the middle; forward "
        f"counts from {zero}; heights are from the {datum.name}. Up is plumb."
    )
    return Frame(moved, (CentrePlane(plane, 0.0, 0.0),), words)


def _free_place(places: Sequence[Place], name: str) -> Place:
    """A place of which nothing is given."""
    place = next((place for place in places if place.name == name), None)
    if place is None:
        raise BadValue(f"The frame names {name}, which is neither a base nor a point.")
    if place.at != (None, None, None):
        given = _listed([axis for axis, part in zip(AXES, place.at, strict=True) if part is not None])
        raise BadValue(f"{name} is to make the frame, but its {given} is given. Leave that out, or the frame.")
    return place


def _listed(names: Sequence[str], between: str = " and ") -> str:
    return between.join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _is(names: Sequence[str]) -> str:
    return "are" if len(names) > 1 else "is"
