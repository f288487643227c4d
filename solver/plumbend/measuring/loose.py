"""What the readings leave free, and the one reading more that would fix it.

Directions that nothing fixes are the null space of the rows. Where the whole frame is free to move, that comes first:
nothing else can be told until it is fixed.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbend.estimate.doubt import IN_PART
from plumbend.frames import FloatArray
from plumbend.measuring.accuracies import MEASURED_HEIGHT, PLUMB_DROP, TAPED_LENGTH
from plumbend.measuring.adjustment import Adjusted
from plumbend.measuring.lengths import Height, Tape
from plumbend.measuring.places import AXES
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Coordinate, Drop
from plumbend.records import record
from plumbend.units import Axis

_SURE = 0.05
"""A reading fixes a direction where a mm along it changes the reading by more than this many mm."""

_UNFELT = 1e-7
"""A motion by a mm that readings feel as less than this part of a mm is felt by none."""

_SHIFTS = ("shift forward or aft", "shift left or right", "shift up or down")
_TURNS = ("lean to one side", "tip fore and aft", "turn on the floor")


@record
class LoosePlace:
    """A place that the readings do not fix.

    Attributes:
        name: the place.
        axes: the directions that it can move in.
        together: it moves along these in one, not in each by itself.
        mends: readings each of which alone would fix it, the best first; empty where one is not enough.
    """

    name: str
    axes: tuple[Axis, ...]
    together: bool
    mends: tuple[Reading, ...]


@record
class Loose:
    """What nothing fixes: motions of the whole frame in words, else places."""

    frame: tuple[str, ...] = ()
    places: tuple[LoosePlace, ...] = ()


def loose_of(adjusted: Adjusted, candidates: Sequence[Reading] | None = None) -> Loose:
    """What the readings leave free; ``candidates`` are readings that could be taken, left out: the natural ones."""
    if not len(adjusted.doubt.flat):
        return Loose()
    frame = _frame_motions(adjusted)
    if frame:
        return Loose(frame)
    network = adjusted.network
    flat = np.zeros((len(adjusted.doubt.flat), adjusted.state.size))
    flat[:, network.free] = adjusted.doubt.flat * adjusted.doubt.scale
    free, _ = np.linalg.qr(flat.T)
    found = []
    for place in network.places:
        column = network.column[place.name]
        ways = _ways(free[column : column + 3].T)
        if len(ways):
            offered = natural_readings(adjusted, place.name) if candidates is None else candidates
            mends = tuple(reading for reading in offered if _fixes(adjusted, reading, free.T, column))
            found.append(LoosePlace(place.name, *_axes(ways), mends[:3]))
    return Loose(places=tuple(found))


def natural_readings(adjusted: Adjusted, name: str) -> list[Reading]:
    """Readings of a place that a man could take next: its height, its drop, tapes from places that stand fast,
    how far forward or left it is.

    Their amounts are what they would show where the places are taken to be now.
    """
    forward, left, up = adjusted.place(name)
    readings: list[Reading] = [
        Height(name, value=up, sd=MEASURED_HEIGHT),
        Drop(name, forward, left, sd=PLUMB_DROP),
    ]
    fast = [
        place
        for place, loose in zip(adjusted.places, adjusted.loose, strict=True)
        if place.name != name and not loose.any()
    ]
    for place in sorted(fast, key=lambda place: not place.base):
        length = float(np.linalg.norm(adjusted.place(name) - adjusted.place(place.name)))
        if length > 0:
            readings.append(Tape(name, place.name, value=length, sd=TAPED_LENGTH))
    readings.append(Coordinate(name, "forward", forward, sd=PLUMB_DROP))
    readings.append(Coordinate(name, "left", left, sd=PLUMB_DROP))
    return readings


def rows_of(adjusted: Adjusted, reading: Reading) -> FloatArray:
    """(c, p) derivatives of a reading, taken or not, by the whole state."""
    network = adjusted.network
    at = {place.name: adjusted.place(place.name) for place in network.places}
    planes = {plane.name: adjusted.planes[i] for i, plane in enumerate(network.planes)}
    computed = reading.computed(at, planes)
    rows = np.zeros((reading.components, adjusted.state.size))
    for k, name in enumerate(reading.places):
        rows[:, network.column[name] : network.column[name] + 3] = computed.by_place[0, :, k]
    if reading.plane is not None:
        column = network.plane_column[reading.plane]
        rows[:, column : column + 2] = computed.by_plane[0]
    return rows


def _ways(block: FloatArray) -> FloatArray:
    """Orthonormal directions (d, 3) in which a place moves, from its part (f, 3) of the free directions."""
    _, sizes, ways = np.linalg.svd(block, full_matrices=False)
    moving: FloatArray = ways[sizes > IN_PART]
    return moving


def _axes(ways: FloatArray) -> tuple[tuple[Axis, ...], bool]:
    """The axes along which a place moves, and whether it moves along them only together."""
    part = np.sqrt((ways**2).sum(axis=0))
    named = tuple(axis for axis, size in zip(AXES, part, strict=True) if size > 0.3)
    return named, len(named) > len(ways)


def _fixes(adjusted: Adjusted, reading: Reading, free: FloatArray, column: int) -> bool:
    """Whether with this reading the place at ``column`` could no longer move along the ``free`` (f, p) directions."""
    effect = rows_of(adjusted, reading) @ free.T
    _, sizes, ways = np.linalg.svd(effect)
    fixed = int((sizes > _SURE).sum())
    left = ways[fixed:] @ free
    return not len(_ways(left[:, column : column + 3]))


def _frame_motions(adjusted: Adjusted) -> tuple[str, ...]:
    """Motions of all places as one that no reading and nothing given holds, in words."""
    network = adjusted.network
    motions = _motions(adjusted)
    felt = motions[:, network.free] @ adjusted.rows.T
    strength = float(np.abs(adjusted.rows).max(initial=0.0)) or 1.0
    held = motions[:, network.held] * strength
    _, sizes, ways = np.linalg.svd(np.concatenate([felt, held], axis=1).T, full_matrices=True)
    sizes = np.concatenate([sizes, np.zeros(6 - sizes.size)])
    free = ways[sizes <= _UNFELT * strength]
    if not len(free):
        return ()
    part = np.sqrt((free**2).sum(axis=0))
    if len(free) == 6:
        return ("move and turn every way",)
    # a turn about a place that stands fast shifts the middle as well: it is named first
    named = [word for word, size in zip((*_TURNS, *_SHIFTS), (*part[3:], *part[:3]), strict=True) if size > 0.5]
    return tuple(named[: len(free)])


def _motions(adjusted: Adjusted) -> FloatArray:
    """(6, p) changes of the state when all moves as one, each by about a mm: shifts, then turns about the middle."""
    at = adjusted.at
    middle = at.mean(axis=0)
    away = at - middle
    reach = max(float(np.sqrt((away**2).sum(axis=1).mean())), 1e-9)
    motions = np.zeros((6, adjusted.state.size))
    for axis in range(3):
        motions[axis, axis : 3 * len(at) : 3] = 1.0
        motions[3 + axis, : 3 * len(at)] = np.cross(np.eye(3)[axis], away).ravel() / reach
    for i, (offset, heading) in enumerate(adjusted.planes):
        column = 3 * len(at) + 2 * i
        slope = np.tan(heading)
        motions[0, column], motions[1, column] = -slope, 1.0
        # the point of the plane at forward 0 goes forward and left, and the plane turns about it
        forward, left = -(offset - middle[1]) / reach, -middle[0] / reach
        motions[5, column : column + 2] = left - forward * slope, 1 / reach
    return motions
