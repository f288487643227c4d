"""What an adjustment has to say beside its numbers."""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.accuracies import PLUMB_DROP, good_to_from_sd
from plumbend.measuring.adjustment import Adjusted
from plumbend.measuring.loose import Loose, LoosePlace, loose_of, natural_readings, rows_of
from plumbend.measuring.places import AXES
from plumbend.measuring.readings import Reading
from plumbend.notices import Notice, listed
from plumbend.units import Axis, Units, format_place, length_with_unit

WEAK = 3.0
"""A direction is weak where its doubt is this many times that of either direction square to it."""

_EITHER = ("the forward or the aft one", "the left or the right one", "the upper or the lower one")


def remarks_on(adjusted: Adjusted, units: Units) -> list[Notice]:
    """Cautions and notes on how well the readings fix the places and check each other."""
    return [
        *_not_settled(adjusted),
        *_loose(loose_of(adjusted)),
        *_mirrors(adjusted, units),
        *_weak(adjusted, units),
        *_unchecked(adjusted),
        *_alike(adjusted),
    ]


def _not_settled(adjusted: Adjusted) -> list[Notice]:
    if adjusted.converged:
        return []
    said = "The search for the places did not settle. Look for a reading that cannot be right."
    return [Notice("not-settled", "caution", said)]


def _loose(loose: Loose) -> list[Notice]:
    said = []
    if loose.frame:
        said.append(
            f"All places together can still {listed(loose.frame, 'or')}: nothing ties the readings to the vehicle. "
            "Give a base its place, or measure from one that has it."
        )
    said += [_loose_place(place) for place in loose.places]
    return [Notice("not-fixed", "caution", text) for text in said]


def _loose_place(place: LoosePlace) -> str:
    ways = [f"how far {axis}" for axis in place.axes]
    if place.together:
        said = f"{place.name} can still move {listed(place.axes, 'and')} at once"
    else:
        said = f"Nothing fixes {listed(ways, 'and')} {place.name} is"
    if not place.mends:
        return f"{said}, and one reading more is not enough. Measure it from more places."
    return f"{said}. Any one of these would: {listed([reading.words for reading in place.mends], 'or')}."


def _mirrors(adjusted: Adjusted, units: Units) -> list[Notice]:
    notices = []
    for mirror in adjusted.mirrors:
        here, there = adjusted.place(mirror.asked), mirror.at[mirror.asked]
        meant = _EITHER[int(np.argmax(np.abs(there - here)))]
        others = [name for name in mirror.at if name != mirror.asked]
        also = f" {listed(others, 'and')} would move with it." if others else ""
        said = (
            f"{mirror.asked} is either at {_place(here, units)}, or at {_place(there, units)}: the readings fit both. "
            f"Say which is meant, {meant}.{also}"
        )
        notices.append(Notice("mirror-answer", "caution", said))
    return notices


def _weak(adjusted: Adjusted, units: Units) -> list[Notice]:
    """Cautions about points known far worse one way than the others."""
    notices = []
    for i, place in enumerate(adjusted.places):
        if adjusted.loose[i].any():
            continue
        sizes, ways = np.linalg.eigh(adjusted.covariance[3 * i : 3 * i + 3, 3 * i : 3 * i + 3])
        doubts = np.sqrt(np.maximum(sizes, 0.0))
        if doubts[2] < max(WEAK * doubts[1], PLUMB_DROP):
            continue
        weak = ways[:, 2]
        mend = _best_mend(adjusted, place.name, weak)
        size, rest = (length_with_unit(good_to_from_sd(float(sd)), units, 32) for sd in (doubts[2], doubts[1]))
        said = (
            f"{place.name} is good to {size} {_way_words(weak)}, but to {rest} the other ways: all that was read of it "
            f"runs nearly square to that. Measure {mend.words} as well."
        )
        notices.append(Notice("weak-place", "caution", said))
    return notices


def _best_mend(adjusted: Adjusted, name: str, weak: FloatArray) -> Reading:
    """The natural reading that shrinks the doubt along ``weak`` most."""
    column = adjusted.network.column[name]
    across = adjusted.full_covariance[:, column : column + 3] @ weak

    def left_over(reading: Reading) -> float:
        """Variance along ``weak`` that the reading takes away, negative."""
        rows = rows_of(adjusted, reading)
        own = rows @ adjusted.full_covariance @ rows.T + reading.doubt**2 * np.eye(len(rows))
        shared = rows @ across
        return -float(shared @ np.linalg.solve(own, shared))

    return min(natural_readings(adjusted, name), key=left_over)


def _way_words(way: FloatArray) -> str:
    """The axes that a direction mostly runs along: "up", "forward and up"."""
    words: dict[Axis, str] = {"forward": "forward or aft", "left": "left or right", "up": "up or down"}
    return listed([words[axis] for axis, part in zip(AXES, np.abs(way), strict=True) if part > 0.5], "with")


def _unchecked(adjusted: Adjusted) -> list[Notice]:
    unchecked = adjusted.unchecked()
    if not unchecked:
        return []
    names = listed([reading.typed or reading.words for reading in unchecked], "and")
    said = f"No other reading checks {names}. A slip there would not be seen."
    return [Notice("unchecked", "not-checked", said)]


def _alike(adjusted: Adjusted) -> list[Notice]:
    groups = adjusted.not_told_apart()
    if not groups:
        return []
    names = "; ".join(listed([reading.typed or reading.words for reading in group], "and") for group in groups)
    said = (
        f"These are checked only together, so a slip in one of them would be seen, but not in which: {names}. "
        "One reading more of another kind would tell."
    )
    return [Notice("not-told-apart", "note", said)]


def _place(at: FloatArray, units: Units) -> str:
    return ", ".join(format_place(float(part), units, axis) for axis, part in zip(AXES, at, strict=True))
