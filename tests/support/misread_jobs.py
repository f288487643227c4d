"""Measuring jobs with misreads that are known, made without the solver's own list of human errors."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from plumbend.frames import FloatArray, IntArray
from plumbend.measuring.lengths import Height, OffPlane, Tape
from plumbend.measuring.network import Network
from plumbend.measuring.places import Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Coordinate, Drop, Level
from plumbend.measuring.snooping import Snooping
from plumbend.units import Units
from support.frames import CENTRE, PLACES, TRUE, drop, height, tape, tapes

OD = 44.45
STEP: Mapping[Units, float] = {"in": 25.4 / 16, "mm": 1.0}
FIGURES: Mapping[type[Reading], tuple[str, ...]] = {
    Tape: ("value",),
    Height: ("value",),
    OffPlane: ("value",),
    Coordinate: ("value",),
    Drop: ("forward", "left"),
    Level: ("step",),
}


@dataclass(frozen=True, slots=True, eq=False)
class MeasuringJob:
    """A job and its truth: places, readings as read, units, and where all truly is."""

    places: tuple[Place, ...]
    readings: list[Reading]
    units: Units
    true: dict[str, FloatArray]

    def checks(self) -> tuple[FloatArray, IntArray]:
        """Covariance (M, M) of the misses over their accuracies, at the truth, and the reading each belongs to."""
        network = Network(self.places, self.readings, [CENTRE])
        _, rows = network.rows(np.concatenate([*(self.true[place.name] for place in self.places), [0.0, 0.0]]))
        whitened = rows[:, network.free] / network.sd[:, None]
        return np.eye(len(whitened)) - whitened @ np.linalg.pinv(whitened), network.owner


def measuring_job(rng: np.random.Generator) -> MeasuringJob:
    """Four bases, given or found, and six to eight points: 25 to 40 readings, with a mean redundancy of 0.4 or more."""
    while True:
        job = _drawn(rng)
        if 25 <= len(job.readings) <= 40 and np.diagonal(job.checks()[0]).mean() >= 0.4:
            return job


def _drawn(rng: np.random.Generator) -> MeasuringJob:
    names = "ABCDEFGH"[: rng.integers(6, 9)]
    bases = {place.name: TRUE[place.name] for place in PLACES[:4]}
    true = bases | {name: rng.uniform([-300, -300, 150], [1900, 1500, 1300]) for name in names}
    places = PLACES[:4]
    readings: list[Reading] = []
    if rng.random() < 0.5:
        places = tuple(Place(name, tuple(at), base=True) for name, at in bases.items())
    else:
        readings += tapes("B2-B1 B3-B2 B4-B3 B4-B1 B3-B1 B4-B2", true) + [height(n, true) for n in ("B2", "B3", "B4")]
    more: list[Reading] = []
    for name in names:
        single = [drop(name, true), height(name, true), *(tape(name, base, true) for base in bases)]
        offered = [single[i] for i in rng.permutation(len(single))]
        offered.sort(key=lambda reading: isinstance(reading, Tape) and rng.random() < 0.5)
        readings += offered[:3]
        more += offered[3:]
        more.append(OffPlane(name, value=float(true[name][1]) - 600.0, sd=1.5))
        more.append(Coordinate(name, "forward", float(true[name][0]), sd=1.5))
    for _ in range(8):
        one, other = map(str, rng.choice(list(names), 2, replace=False))
        step = float(true[one][2] - true[other][2])
        more.append(tape(one, other, true) if rng.random() < 0.7 else Level(one, other, step=step, sd=1.0))
    count = int(rng.integers(30, 41)) - len(readings)
    readings += [more[i] for i in rng.permutation(len(more))[: max(count, 0)]]
    units: Units = "in" if rng.random() < 0.6 else "mm"
    return MeasuringJob((*places, *map(Place, names)), [read(one, rng, units) for one in readings], units, true)


def read(reading: Reading, rng: np.random.Generator, units: Units) -> Reading:
    """The reading with an error of its accuracy, which rounding to sixteenths or whole mm is part of."""
    step = STEP[units]
    sd = np.sqrt(reading.sd**2 - step**2 / 12)
    return _changed(reading, lambda value, _: step * round((value + sd * rng.normal()) / step))


def _changed(reading: Reading, change: Callable[[float, str], float]) -> Reading:
    changes: dict[str, Any] = {name: change(getattr(reading, name), name) for name in FIGURES[type(reading)]}
    return replace(reading, **changes)


Slip = Callable[[MeasuringJob, int, np.random.Generator], Reading | None]


def by(*steps: float) -> Slip:
    """One figure more or less by one of ``steps`` mm; none is read past nothing."""

    def slip(job: MeasuringJob, i: int, rng: np.random.Generator) -> Reading | None:
        by = rng.choice(steps) * rng.choice([-1, 1])
        return _one_figure(job, i, rng, lambda value: value + by if value * (value + by) > 0 else None)

    return slip


def _one_figure(
    job: MeasuringJob, i: int, rng: np.random.Generator, change: Callable[[float], float | None]
) -> Reading | None:
    reading = job.readings[i]
    name = str(rng.choice(FIGURES[type(reading)]))
    value = getattr(reading, name)
    wrong = change(value)
    if wrong is None or (isinstance(reading, Tape) and wrong <= 0):
        return None
    return _changed(reading, lambda as_read, own: float(wrong) if own == name else as_read)


def past_the_line(job: MeasuringJob, i: int, rng: np.random.Generator) -> Reading | None:
    """The tape held at its 1-inch or 10 cm line, and that not taken off."""
    line = 25.4 if job.units == "in" else 100.0
    if not isinstance(job.readings[i], Tape | Height | OffPlane):
        return None
    return _one_figure(job, i, rng, lambda value: value + np.sign(value) * line)


def digits_swapped(job: MeasuringJob, i: int, rng: np.random.Generator) -> Reading | None:
    """Two neighbouring digits of the whole inches or mm."""
    unit = 25.4 if job.units == "in" else 1.0

    def change(value: float) -> float | None:
        whole = str(int(abs(value) / unit + 1e-9))
        rest = abs(value) / unit - int(whole)
        ways = [whole[:k] + whole[k + 1] + whole[k] + whole[k + 2 :] for k in range(len(whole) - 1)]
        ways = [way for way in ways if way != whole and way[0] != "0"]
        return float(np.sign(value) * (int(rng.choice(ways)) + rest) * unit) if ways else None

    return _one_figure(job, i, rng, change)


def fraction(job: MeasuringJob, i: int, rng: np.random.Generator) -> Reading | None:
    """The fraction read from the wrong side of the inch: 3/8 for 5/8."""

    def change(value: float) -> float | None:
        sixteenths = round(abs(value) / 25.4 * 16)
        whole, rest = divmod(sixteenths, 16)
        return float(np.sign(value) * (whole + 1 - rest / 16) * 25.4) if rest not in (0, 8) else None

    return _one_figure(job, i, rng, change) if job.units == "in" else None


def left_for_right(job: MeasuringJob, i: int, rng: np.random.Generator) -> Reading | None:
    """The sign of an offset, a coordinate, a step or a height."""
    signed = isinstance(job.readings[i], OffPlane | Coordinate | Drop | Level | Height)
    return _one_figure(job, i, rng, lambda value: -value) if signed else None


def coordinates_swapped(job: MeasuringJob, i: int, _: np.random.Generator) -> Reading | None:
    """The two of a drop."""
    reading = job.readings[i]
    return replace(reading, forward=reading.left, left=reading.forward) if isinstance(reading, Drop) else None


def unit(job: MeasuringJob, i: int, rng: np.random.Generator) -> Reading | None:
    """Read in mm and typed as inches, or the other way."""

    def change(value: float) -> float:
        return round(value) * 25.4 if job.units == "in" else round(value / 25.4 * 16) / 16

    return _one_figure(job, i, rng, change)


def other_place(job: MeasuringJob, i: int, rng: np.random.Generator) -> Reading | None:
    """The same reading of another point."""
    reading = job.readings[i]
    names = [place.name for place in job.places if not place.base and place.name not in reading.places]
    point = reading.places[0]
    if point in ("B1", "B2", "B3", "B4"):
        return None
    other = str(rng.choice(names))
    at = {name: job.true[other if name == point else name] for name in reading.places}
    exact = reading.computed(at, {CENTRE.name: np.array([600.0, 0.0])}).values[0]
    wrong: dict[str, Any] = dict(zip(FIGURES[type(reading)], map(float, exact), strict=True))
    return read(replace(reading, **wrong), rng, job.units)


IN, MM = frozenset({"in"}), frozenset({"mm"})
KINDS: Mapping[str, tuple[Slip, frozenset[str]]] = {
    "inch": (by(25.4), IN),
    "ten-inches": (by(254.0), IN),
    "foot": (by(304.8), IN),
    "10-mm": (by(10.0), MM),
    "100-mm": (by(100.0), MM),
    "digits-swapped": (digits_swapped, IN | MM),
    "fraction": (fraction, IN),
    "tape-line": (past_the_line, IN | MM),
    "sign": (left_for_right, IN | MM),
    "coordinates-swapped": (coordinates_swapped, IN | MM),
    "outside": (by(OD / 2, OD), IN | MM),
    "unit": (unit, IN | MM),
    "other-place": (other_place, IN | MM),
}


@dataclass(frozen=True, slots=True, eq=False)
class Spoilt:
    """A misread: its reading, its kind and size, how much of it shows, and how nearly another would look the same."""

    index: int
    kind: str
    error: FloatArray
    shows: float
    alike: float


def spoil(
    job: MeasuringJob, kind: str, rng: np.random.Generator, without: frozenset[int] = frozenset()
) -> Spoilt | None:
    """Put a misread of a kind into a job; None where none of its readings can hold it.

    ``shows`` is |b| sqrt(r) / sd for an error b with redundancy r. Readings in ``without`` are not there at all.
    """
    slip, units = KINDS[kind]
    if job.units not in units:
        return None
    for i in map(int, rng.permutation(len(job.readings))):
        wrong = None if i in without else slip(job, i, rng)
        if wrong is None or wrong.measured() == job.readings[i].measured():
            continue
        job.readings[i], right = wrong, job.readings[i]
        error = np.array(wrong.measured()) - np.array(right.measured())
        return Spoilt(i, kind, error, *standing(job, i, error, without))
    return None


def standing(job: MeasuringJob, i: int, error: FloatArray, without: frozenset[int]) -> tuple[float, float]:
    """How much an ``error`` (c,) mm in a reading shows, and how nearly one in another reading would look the same."""
    indices = [k for k in range(len(job.readings)) if k not in without]
    checks, owner = replace(job, readings=[job.readings[k] for k in indices]).checks()
    at = indices.index(i)
    own = owner == at
    square = float(error @ checks[np.ix_(own, own)] @ error)
    shows = max(square, 0.0) ** 0.5 / job.readings[i].doubt
    alike = Snooping(np.zeros(len(checks)), checks, owner).alike(at)
    return shows, float(np.delete(alike, at).max())
