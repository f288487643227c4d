"""From a vehicle's readings to places with doubt, and to the points of the tubes that they place."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from plumbend.errors import BadText
from plumbend.frames import FloatArray
from plumbend.job.frame_report import Across, FrameReport, Halves, PlaceFound, ReadingFound, Square, Verdict
from plumbend.job.model import Job, VehicleFrame, WantedTube
from plumbend.measuring.adjustment import UNCHECKED
from plumbend.measuring.misreads import Screened, find_misreads
from plumbend.measuring.places import WAY_OF_HINT, Hint, Place
from plumbend.measuring.remarks import remarks_on
from plumbend.notices import Notice, listed
from plumbend.units import Units

NEARLY_MIRRORED = 40.0
"""mm by which places left and right of the middle may fail to mirror each other and still be held for a pair."""

CLEARLY = 2.0
"""A reading that was left out settles a side where it is so many times as far off the other one."""

OFF_MIDDLE = 50.0
"""mm that both places of a pair lie off the middle, at least."""


@dataclass(frozen=True, slots=True, eq=False)
class Survey:
    """A vehicle's readings adjusted.

    Attributes:
        frame: what was measured.
        screened: places adjusted without what is probably wrong.
        notices: all that must be said of the readings.
    """

    frame: VehicleFrame
    screened: Screened
    notices: tuple[Notice, ...]

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
    screened = _screened(job, frame, frame.places, units, kept)
    hints = _sides_by_left_out(frame, screened)
    if hints:
        places = [replace(place, hints=(*place.hints, *hints.get(place.name, ()))) for place in frame.places]
        screened = _screened(job, frame, places, units, kept)
    return Survey(frame, screened, (*screened.notices, *remarks_on(screened.adjusted, units)))


def _screened(
    job: Job, frame: VehicleFrame, places: Sequence[Place], units: Units, kept: frozenset[str | int]
) -> Screened:
    return find_misreads(
        places, frame.readings, frame.planes, units=units, typed_in=job.units, od=job.tubing.od, keep=kept
    )


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
    """Indices of the readings named by number or as typed.

    Raises:
        BadText: for a name that is no reading's, or that of one struck out.
    """
    kept: set[str | int] = set()
    struck = {str(number) for number in frame.struck_numbers} | {one.typed for one in frame.struck_out}
    for name in keep:
        meant = {
            i
            for i, (number, reading) in enumerate(zip(frame.numbers, frame.readings, strict=True))
            if name in (str(number), reading.typed)
        }
        if not meant and name in struck:
            mend = "Take it back in first: in plumbend new, strike and its number."
            raise BadText(name, "is struck out in this job", mend)
        if not meant:
            raise BadText(name, "is no reading of this job", "Give its number or its line as plumbend check lists it.")
        kept |= meant
    return frozenset(kept)


def placed(tube: WantedTube, found: Survey) -> tuple[WantedTube, list[Notice]]:
    """A tube with the points that readings place, or why these cannot be placed."""
    names = [point.name for point in tube.placed]
    adjusted = found.screened.adjusted
    where = {place.name: i for i, place in enumerate(adjusted.places)}
    loose = [name for name in names if adjusted.loose[where[name]].any()]
    if loose:
        return tube, [_not_placed(loose)]
    open_sides = [mirror for mirror in adjusted.mirrors if not mirror.at.keys().isdisjoint(names)]
    if open_sides:
        return tube, [_mirrored(mirror.asked, [name for name in names if name in mirror.at]) for mirror in open_sides]
    at, covariance = adjusted.joint(names)
    return tube.with_places(at, covariance * found.screened.scale**2), []


def _not_placed(names: list[str]) -> Notice:
    which = f"{listed(names)} {'are' if len(names) > 1 else 'is'}"
    return Notice(
        "not-placed",
        "refusal",
        f"The readings do not fix where {which}. Ways out: take the reading that is asked for above, or type where it "
        "is with at.",
    )


def _mirrored(asked: str, names: list[str]) -> Notice:
    return Notice(
        "mirror-answer",
        "refusal",
        f"The readings put {', '.join(names)} in either of two places. Ways out: say by a hint at {asked} which is "
        'meant, such as hint = "above", or take one reading more of it.',
    )


def frame_report(found: Survey) -> FrameReport:
    """All that is to be said of a vehicle's readings."""
    screened, frame = found.screened, found.frame
    adjusted = screened.adjusted
    doubts = adjusted.doubts * screened.scale
    places = tuple(
        PlaceFound(place.name, place.base, np.where(np.isnan(doubt), np.nan, at), doubt)
        for place, at, doubt in zip(adjusted.places, adjusted.at, doubts, strict=True)
    )
    return FrameReport(
        frame.words,
        places,
        tuple(_readings(found)),
        tuple((number, one.typed) for number, one in zip(frame.struck_numbers, frame.struck_out, strict=True)),
        adjusted.chi2,
        adjusted.dof,
        screened.scale,
        found.notices,
        tuple(_squares(found, places)),
        tuple(_halves(found, places)),
    )


def _readings(found: Survey) -> list[ReadingFound]:
    screened, frame = found.screened, found.frame
    adjusted = screened.adjusted
    accused = {one.index: one for suspect in screened.suspects for one in suspect.accused}
    in_fit = [i for i in range(len(frame.readings)) if i not in screened.left_out]
    numbers = frame.numbers
    number_of = {id(adjusted.network.readings[k]): numbers[i] for k, i in enumerate(in_fit)}
    groups = [
        tuple(number_of[id(reading)] for reading in group if id(reading) in number_of)
        for group in adjusted.not_told_apart()
    ]
    together = {number: group for group in groups for number in group if len(group) > 1}
    rows = iter(range(len(adjusted.network.readings)))
    listed = []
    for i, (reading, written) in enumerate(zip(frame.readings, frame.written, strict=True)):
        if i in screened.left_out:
            off = accused[i].off if i in accused else np.zeros(1)
            size, doubt = float(off[np.argmax(np.abs(off))]), np.nan
            verdict: Verdict = "left out"
        else:
            mine = np.flatnonzero(adjusted.network.owner == next(rows))
            worst = mine[np.argmax(np.abs(adjusted.residuals[mine]))]
            redundancy = adjusted.redundancy[mine]
            size = float(adjusted.residuals[worst])
            doubt = float(adjusted.network.sd[worst] * np.sqrt(adjusted.redundancy[worst])) * screened.scale
            verdict = "not checked" if (redundancy <= UNCHECKED).all() else "kept" if i in accused else "fits"
        explained = accused[i].explanations if i in accused else ()
        listed.append(
            ReadingFound(
                numbers[i],
                reading.typed or reading.words,
                size,
                doubt,
                verdict,
                ", or ".join(one.error.words for one in explained) or None,
                written.file,
                written.line,
                tuple(number for number in together.get(numbers[i], ()) if number != numbers[i]),
            )
        )
    return listed


def _squares(found: Survey, places: Sequence[PlaceFound]) -> list[Square]:
    """The diagonals of the bases, where there are four that stand round a square of sorts."""
    bases = [i for i, place in enumerate(places) if place.is_base and not np.isnan(place.doubt).any()]
    if len(bases) != 4:
        return []
    at = np.array([places[i].at for i in bases])
    middle = at.mean(axis=0)
    around = np.argsort(np.arctan2(at[:, 1] - middle[1], at[:, 0] - middle[0]), kind="stable")
    a, b, c, d = (bases[k] for k in around)
    pairs = ((a, c), (b, d))
    (one, one_slope), (other, other_slope) = (_distance(found, *pair) for pair in pairs)
    diagonals = tuple(
        Across(places[i].name, places[j].name, length, _spread(found, slope))
        for (i, j), length, slope in zip(pairs, (one, other), (one_slope, other_slope), strict=True)
    )
    return [Square((diagonals[0], diagonals[1]), one - other, _spread(found, one_slope - other_slope))]


def _distance(found: Survey, i: int, j: int) -> tuple[float, FloatArray]:
    """Distance of two places and its derivative (3m,) by all places."""
    at = found.screened.adjusted.at
    apart = at[j] - at[i]
    length = float(np.linalg.norm(apart))
    slope = np.zeros_like(at)
    slope[j], slope[i] = apart / length, -apart / length
    return length, slope.ravel()


def _spread(found: Survey, slope: FloatArray) -> float:
    variance = float(slope @ found.covariance @ slope)
    return math.sqrt(max(variance, 0.0))


def _halves(found: Survey, places: Sequence[PlaceFound]) -> list[Halves]:
    """Places left and right of the middle that nearly mirror each other, each with the one that it mirrors best."""
    planes = found.screened.adjusted.planes
    offset, heading = (float(planes[0, 0]), float(planes[0, 1])) if len(planes) else (0.0, 0.0)
    across = np.array([-np.sin(heading), np.cos(heading), 0.0])
    image = np.eye(3) - 2 * np.outer(across, across)
    known = [i for i, place in enumerate(places) if not np.isnan(place.doubt).any()]
    beside = {i: float(places[i].at @ across - offset) for i in known}
    found_pairs = []
    for i, j in combinations(known, 2):
        left, right = (i, j) if beside[i] > beside[j] else (j, i)
        if beside[left] > OFF_MIDDLE and beside[right] < -OFF_MIDDLE:
            apart = places[left].at - (image @ places[right].at + 2 * offset * across)
            found_pairs.append((float(np.linalg.norm(apart)), left, right, apart))
    halves: list[Halves] = []
    taken: set[int] = set()
    for size, left, right, apart in sorted(found_pairs, key=lambda pair: pair[0]):
        if size > NEARLY_MIRRORED or left in taken or right in taken:
            continue
        taken |= {left, right}
        moves = np.zeros((3, 3 * len(places)))
        moves[:, 3 * left : 3 * left + 3] = np.eye(3)
        moves[:, 3 * right : 3 * right + 3] = -image
        spread: FloatArray = moves @ found.covariance @ moves.T
        doubt: FloatArray = np.sqrt(np.diagonal(spread).clip(min=0.0))
        halves.append(Halves(places[left].name, places[right].name, apart, doubt))
    return halves
