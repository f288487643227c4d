"""What a survey came to, as data to be shown: places, readings, diagonals of the bases, left against right."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.job.frame_report import Across, FrameReport, Halves, PlaceFound, ReadingFound, Square, Verdict
from plumbend.measuring.adjustment import UNCHECKED
from plumbend.survey.adjusting import Survey

NEARLY_MIRRORED = 40.0
"""mm by which places left and right of the middle may fail to mirror each other and still be held for a pair."""

OFF_MIDDLE = 50.0
"""mm that both places of a pair lie off the middle, at least."""


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
    accused = found.accused
    at = {place.name: where for place, where in zip(adjusted.places, adjusted.at, strict=True)}
    planes = {plane.name: where for plane, where in zip(frame.planes, adjusted.planes, strict=True)}
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
            off = accused[i].off if i in accused else reading.residual(at, planes)
            size, doubt = float(off[np.argmax(np.abs(off))]), np.nan
            verdict: Verdict = "left out"
        else:
            mine = np.flatnonzero(adjusted.network.owner == next(rows))
            worst = mine[np.argmax(np.abs(adjusted.residuals[mine]))]
            redundancy = adjusted.redundancy[mine]
            size = float(adjusted.residuals[worst])
            doubt = float(adjusted.network.sd[worst] * np.sqrt(adjusted.redundancy[worst])) * screened.scale
            verdict = "kept" if i in accused else "not checked" if (redundancy <= UNCHECKED).all() else "fits"
        if i in found.swapped:
            misread = f"swapped with {', '.join(str(numbers[k]) for k in found.swapped if k != i)}"
        else:
            explained = accused[i].explanations if i in accused else ()
            misread = ", or ".join(one.error.words for one in explained)
        listed.append(
            ReadingFound(
                numbers[i],
                reading.typed or reading.words,
                size,
                doubt,
                verdict,
                misread or None,
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
