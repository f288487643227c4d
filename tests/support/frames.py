"""A measuring frame on a floor, and readings of it with errors that are known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import adjust
from plumbend.measuring.lengths import Height, OffPlane, Tape
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.readings import Amount, Reading
from plumbend.measuring.relations import Coordinate, Drop, Level

TRUE: Mapping[str, FloatArray] = {
    name: np.array(at, dtype=float)
    for name, at in {
        "B1": (0, 0, 0),
        "B2": (1500, 0, 12),
        "B3": (1480, 1210, -8),
        "B4": (-15, 1190, 5),
        "A": (120, 320, 880),
        "B": (540, 290, 1050),
        "C": (980, 350, 1010),
        "D": (1390, 420, 640),
        "E": (1310, 860, 700),
        "F": (820, 900, 1040),
        "G": (150, 830, 860),
    }.items()
}

PLACES = (
    Place("B1", (0.0, 0.0, 0.0), base=True),
    Place("B2", (None, 0.0, None), base=True, hints=("forward",)),
    Place("B3", base=True, hints=("left",)),
    Place("B4", base=True, hints=("left",)),
    *(Place(name) for name in "ABCDEFG"),
)

CENTRE = CentrePlane("centre plane", 600.0, 0.0)


def tape(point: str, start: str, true: Mapping[str, FloatArray] = TRUE, sd: float = 1.2) -> Tape:
    """A tape without error."""
    return Tape(point, start, value=float(np.linalg.norm(true[point] - true[start])), sd=sd)


def tapes(pairs: str, true: Mapping[str, FloatArray] = TRUE) -> list[Reading]:
    """Tapes without error between pairs of places, such as "A-B1 A-B2"."""
    return [tape(one, other, true) for one, _, other in (pair.partition("-") for pair in pairs.split())]


def height(point: str, true: Mapping[str, FloatArray] = TRUE, sd: float = 1.0) -> Height:
    """A height without error."""
    return Height(point, value=float(true[point][2]), sd=sd)


def drop(point: str, true: Mapping[str, FloatArray] = TRUE, sd: float = 1.5) -> Drop:
    """A plumb drop without error."""
    return Drop(point, float(true[point][0]), float(true[point][1]), sd=sd)


def readings_of_frame() -> list[Reading]:
    """Thirty-seven readings of the frame, without error."""
    ties = "B2-B1 B3-B2 B4-B3 B4-B1 B3-B1 B4-B2 A-B1 A-B2 A-B4 B-B1 B-B3 C-B2 C-B4 D-B2 D-B3 D-B1 E-B3 E-B2 F-B3"
    ties += " F-B4 G-B4 G-B2 G-A D-E B-F"
    return [
        *tapes(ties),
        *(height(name) for name in ("B2", "B3", "B4", *"ABCFG")),
        drop("B"),
        drop("E"),
        Level("D", "E", step=float(TRUE["D"][2] - TRUE["E"][2]), sd=1.0),
        OffPlane("C", value=float(TRUE["C"][1]) - 600.0, sd=1.5),
    ]


def read(reading: Reading, rng: np.random.Generator) -> Reading:
    """The reading as it might have been read: with an error of its own accuracy."""
    if isinstance(reading, Amount | Coordinate):
        return replace(reading, value=reading.value + reading.sd * rng.normal())
    if isinstance(reading, Drop):
        forward, left = reading.sd * rng.normal(size=2)
        return replace(reading, forward=reading.forward + forward, left=reading.left + left)
    if isinstance(reading, Level):
        return replace(reading, step=reading.step + reading.sd * rng.normal())
    raise AssertionError(f"{reading.words} has no figure to err in")


def random_frame(rng: np.random.Generator) -> tuple[list[Place], list[Reading], dict[str, FloatArray]]:
    """Six to eight points anywhere over the four bases, readings of them without error, and where all truly is."""
    names = "ABCDEFGH"[: rng.integers(6, 9)]
    true = {place.name: TRUE[place.name] for place in PLACES[:4]}
    true |= {name: rng.uniform([-300, -300, 150], [1900, 1500, 1300]) for name in names}
    readings = tapes("B2-B1 B3-B2 B4-B3 B4-B1 B3-B1 B4-B2", true)
    readings += [height(name, true) for name in ("B2", "B3", "B4")]
    for name in names:
        bases = [f"B{i}" for i in 1 + rng.permutation(4)]
        way = rng.integers(4)
        if way < 2:
            readings.append(drop(name, true))
        if way in (0, 2):
            readings.append(height(name, true))
        readings += [tape(name, base, true) for base in bases[: (1, 2, 3, 4)[way]]]
    pairs = (rng.choice(list(names), 2, replace=False) for _ in range(4))
    readings += [tape(str(one), str(other), true) for one, other in pairs]
    return [*PLACES[:4], *map(Place, names)], readings, true


def squared_errors(count: int, seed: int) -> FloatArray:
    """(count, coordinates) of ``count`` measurings of the frame: errors over doubts, squared, of what is not held."""
    rng = np.random.default_rng(seed)
    true = np.array([TRUE[place.name] for place in PLACES])
    exact = readings_of_frame()
    squares = []
    for _ in range(count):
        found = adjust(PLACES, [read(reading, rng) for reading in exact], [CENTRE])
        assert found.converged
        assert not found.mirrors
        free = found.doubts > 0
        squares.append(((found.at - true)[free] / found.doubts[free]) ** 2)
    return np.array(squares)
