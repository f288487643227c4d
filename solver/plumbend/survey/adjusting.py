"""The readings of a job adjusted, without those that cannot be right."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from plumbend.errors import BadText
from plumbend.frames import FloatArray
from plumbend.job.model import Job, VehicleFrame
from plumbend.job.vehicle_tables import SAME_WORDS
from plumbend.measuring.accused import Accused
from plumbend.measuring.misreads import Screened, find_misreads
from plumbend.measuring.places import WAY_OF_HINT, Hint, Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.remarks import remarks_on
from plumbend.notices import Notice
from plumbend.records import record
from plumbend.survey.second_looks import (
    hints_gone_against,
    kept_at_a_price,
    swap_notice,
    swaps,
)
from plumbend.units import Units

CLEARLY = 2.0
"""A reading that was left out settles a side where it is so many times as far off the other one."""


@record(eq=False)
class Survey:
    """A vehicle's readings adjusted.

    Attributes:
        frame: what was measured.
        screened: places adjusted without what is probably wrong.
        notices: all that must be said of the readings.
        accused: what looks wrong, by its index among the readings, be it left out or kept.
        swapped: indices of two figures that look like each other's; empty without such.
    """

    frame: VehicleFrame
    screened: Screened
    notices: tuple[Notice, ...]
    accused: Mapping[int, Accused]
    swapped: tuple[int, ...] = ()

    @property
    def covariance(self) -> FloatArray:
        """(3m, 3m) mm^2 of all places together, wider where the readings disagree."""
        return self.screened.adjusted.covariance * self.screened.scale**2


def survey(job: Job, frame: VehicleFrame, units: Units, keep: Sequence[str] = ()) -> Survey:
    """The places of a job's bases and points, from its readings.

    Args:
        job: as read by :func:`plumbend.read_job`.
        frame: what was measured on its vehicle.
        units: what the notices are written in.
        keep: readings that are never left out: as typed, or by number, counted as in ``VehicleFrame.numbers``.

    Raises:
        BadText: where ``keep`` names no reading, or one that is struck out.
    """
    kept = kept_readings(frame, keep)
    look = _Look(job, frame, units, kept)
    screened = look.without(())
    hints = _sides_by_left_out(frame, screened)
    if hints:
        look.places = [replace(place, hints=(*place.hints, *hints.get(place.name, ()))) for place in frame.places]
        screened = look.without(())
    screened, pair, of_swaps = _swapped(look, screened)
    price = None
    if kept and screened.left_out:
        free = replace(look, kept=frozenset()).without(pair)
        price = kept_at_a_price(frame, screened, free, kept)
    # a reading that had to go for one kept is named with it, and not as a misread of its own
    gone = frozenset(price.gone if price else ())
    named = zip(screened.suspects, screened.notices, strict=False)
    said_already = [notice for suspect, notice in named if gone.issuperset(one.index for one in suspect.accused)]
    notices = [
        *([price.notice(frame)] if price else ()),
        *(of_swaps if pair else ()),
        *(notice for notice in screened.notices if notice not in said_already),
        *(() if pair else of_swaps),
        *hints_gone_against(frame.places, screened.adjusted, units),
        *remarks_on(screened.adjusted, units),
    ]
    accused = {one.index: one for suspect in screened.suspects for one in suspect.accused if one.index not in gone}
    accused |= {one.index: one for one in (price.accused if price else ())}
    return Survey(frame, screened, tuple(notices), accused, pair)


@dataclass
class _Look:
    """A search for misreads, to be made with some readings taken out beforehand."""

    job: Job
    frame: VehicleFrame
    units: Units
    kept: frozenset[str | int]
    places: Sequence[Place] = ()

    def __post_init__(self) -> None:
        self.places = self.places or self.frame.places

    def without(self, out: Sequence[int], readings: Sequence[Reading] | None = None) -> Screened:
        """Places by the readings, or by others in their stead, that are not ``out``; indices are among all."""
        readings = self.frame.readings if readings is None else readings
        left = [i for i in range(len(readings)) if i not in out]
        screened = find_misreads(
            self.places,
            [readings[i] for i in left],
            self.frame.planes,
            units=self.units,
            typed_in=self.job.units,
            od=self.job.tubing.od,
            keep=frozenset(left.index(int(i)) for i in self.kept if i in left),
        )
        if not out:
            return screened

        def among_all(i: int) -> int:
            return left[i] if i < len(left) else i + len(out)

        suspects = tuple(
            replace(suspect, accused=tuple(replace(one, index=among_all(one.index)) for one in suspect.accused))
            for suspect in screened.suspects
        )
        left_out = tuple(sorted([*map(among_all, screened.left_out), *out]))
        return replace(screened, left_out=left_out, suspects=suspects)


def _swapped(look: _Look, screened: Screened) -> tuple[Screened, tuple[int, ...], list[Notice]]:
    """The search without two figures that look swapped, their indices, and what is said of them; as it was without."""
    readings, adjusted = look.frame.readings, screened.adjusted
    for pair, meant in swaps(readings, screened):
        place = readings[pair[0]].places[0]
        if look.kept.intersection(pair) or _of(place, look.without((), meant), readings):
            continue
        then = look.without(pair)
        fixed = then.adjusted.loose.sum() <= adjusted.loose.sum()
        is_best = (
            fixed
            and len(then.adjusted.mirrors) <= len(adjusted.mirrors)
            and not (set(_of(place, then, readings)) - set(pair))
        )
        notice = swap_notice(readings, pair, left_out=is_best)
        return (then, pair, [notice]) if is_best else (screened, (), [notice])
    return screened, (), []


def _of(place: str, screened: Screened, readings: Sequence[Reading]) -> list[int]:
    """The readings of a place that were left out."""
    return [i for i in screened.left_out if i < len(readings) and place in readings[i].places]


def _sides_by_left_out(frame: VehicleFrame, screened: Screened) -> dict[str, tuple[Hint, ...]]:
    """Hints for places of two answers: a reading that is wrong by inches still says on which side it was taken."""
    adjusted = screened.adjusted
    here = {place.name: at for place, at in zip(adjusted.places, adjusted.at, strict=True)}
    planes = {plane.name: at for plane, at in zip(frame.planes, adjusted.planes, strict=True)}
    hints: dict[str, tuple[Hint, ...]] = {}
    for mirror in adjusted.mirrors:
        there = {**here, **mirror.at}
        off = [0.0, 0.0]
        for i in screened.left_out:
            reading = frame.readings[i] if i < len(frame.readings) else None
            if reading is not None and not mirror.at.keys().isdisjoint(reading.places):
                off[0] += float(np.abs(reading.residual(here, planes)).sum())
                off[1] += float(np.abs(reading.residual(there, planes)).sum())
        if max(off) > CLEARLY * min(off):
            meant, other = (here, there) if off[0] < off[1] else (there, here)
            apart = meant[mirror.asked] - other[mirror.asked]
            axis = int(np.argmax(np.abs(apart)))
            way = next(hint for hint, at in WAY_OF_HINT.items() if at == (axis, float(np.sign(apart[axis]))))
            hints[mirror.asked] = (way,)
    return hints


def kept_readings(frame: VehicleFrame, keep: Sequence[str]) -> frozenset[str | int]:
    """Indices of the readings named by number or by their line, as listed or as it stands in the file.

    Raises:
        BadText: for a name that is no reading's, or that of one struck out.
    """
    kept: set[str | int] = set()
    struck = {str(number) for number in frame.struck_numbers} | {one.typed for one in frame.struck_out}
    for name in keep:
        line = _as_listed(name)
        listed = list(zip(frame.numbers, frame.readings, strict=True))
        meant = {i for i, (number, reading) in enumerate(listed) if line in (str(number), reading.typed)}
        # a list leaves out what may follow: what was touched, and what it is good to
        meant = meant or {i for i, (_, reading) in enumerate(listed) if line.startswith(f"{reading.typed} ")}
        if not meant and line in struck:
            mend = "Take it back in first: in plumbend new, strike and its number."
            raise BadText(name, "is struck out in this job", mend)
        if not meant:
            raise BadText(name, "is no reading of this job", "Give its number or its line as plumbend check lists it.")
        kept |= meant
    return frozenset(kept)


def _as_listed(said: str) -> str:
    """A line as a list of readings writes it: no remark, single spaces, the plain word for its kind."""
    line = " ".join(said.partition("#")[0].split())
    for other, word in SAME_WORDS.items():
        line = line.replace(f" {other} ", f" {word} ")
    return line
