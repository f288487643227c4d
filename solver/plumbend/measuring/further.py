"""Readings between places that a man could still take."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from itertools import combinations
from statistics import median
from typing import Self

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.accuracies import MEASURED_HEIGHT, PLUMB_DROP, TAPED_LENGTH
from plumbend.measuring.adjustment import Adjusted
from plumbend.measuring.lengths import Down, Height, Tape
from plumbend.measuring.network import Network
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Drop, Level
from plumbend.records import record

_TAPED_APART = 50.0
"""mm; places nearer to each other than this are not taped."""


@record
class Instruments:
    """How good the next reading off each would be: one standard deviation in mm."""

    tape: float = TAPED_LENGTH
    height: float = MEASURED_HEIGHT
    drop: float = PLUMB_DROP
    level: float = MEASURED_HEIGHT

    @classmethod
    def as_used(cls, readings: Sequence[Reading]) -> Self:
        """As good as the readings of the kind taken so far, else as is usual."""

        def sd(kinds: tuple[type[Reading], ...], usual: float) -> float:
            return median([reading.doubt for reading in readings if isinstance(reading, kinds)] or [usual])

        return cls(
            sd((Tape,), TAPED_LENGTH),
            sd((Height, Down), MEASURED_HEIGHT),
            sd((Drop,), PLUMB_DROP),
            sd((Level,), MEASURED_HEIGHT),
        )


def further_readings(
    adjusted: Adjusted, instruments: Instruments, levels: Collection[frozenset[str]] = ()
) -> list[Reading]:
    """Tapes between any two places, heights, plumb drops of points and levels, as far as they were not taken yet.

    Places that nothing fixes take no part. In a job whose readings do not say which way is up, only tapes do. Their
    amounts are what they would show where the places are taken to be now.

    Args:
        adjusted: the places.
        instruments: how good the readings would be.
        levels: pairs of points, by name, between which a level could be held.
    """
    taken = {_subject(reading) for reading in adjusted.network.readings}
    return [reading for reading in _all(adjusted, instruments, levels) if _subject(reading) not in taken]


def _all(adjusted: Adjusted, instruments: Instruments, levels: Collection[frozenset[str]]) -> Iterator[Reading]:
    fast = [place for place, loose in zip(adjusted.places, adjusted.loose, strict=True) if not loose.any()]
    fast.sort(key=lambda place: not place.base)
    at = {place.name: adjusted.place(place.name) for place in fast}
    for one, other in combinations(fast, 2):
        length = float(np.linalg.norm(at[one.name] - at[other.name]))
        if length > _TAPED_APART:
            yield Tape(other.name, one.name, value=length, sd=instruments.tape)
    if not any(reading.plumb for reading in adjusted.network.readings):
        return
    for place in fast:
        forward, left, up = map(float, at[place.name])
        yield Height(place.name, value=up, sd=instruments.height)
        if not place.base:
            yield Drop(place.name, forward, left, sd=instruments.drop)
    for one, other in combinations(fast, 2):
        if {one.name, other.name} in levels:
            step = float(at[other.name][2] - at[one.name][2])
            yield Level(other.name, one.name, step, sd=instruments.level)


def _subject(reading: Reading) -> tuple[type[Reading], frozenset[str]]:
    """What a reading is of: its kind and its places, whichever way round."""
    return Height if isinstance(reading, Down) else type(reading), frozenset(reading.places)


def rows_of_all(adjusted: Adjusted, readings: Sequence[Reading]) -> list[FloatArray]:
    """Derivatives (c, p) of each reading, taken or not, by the whole state of what was adjusted."""
    network = Network(adjusted.places, readings, adjusted.network.planes)
    _, rows = network.rows(adjusted.state)
    return [rows[network.owner == i] for i in range(len(readings))]
