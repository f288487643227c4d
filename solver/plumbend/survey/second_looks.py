"""What is looked at again once misreads are found: what was kept at a price, figures swapped, hints gone against."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from plumbend.job.model import VehicleFrame
from plumbend.measuring.accused import Accused
from plumbend.measuring.adjustment import Adjusted
from plumbend.measuring.lengths import Tape
from plumbend.measuring.misreads import Screened
from plumbend.measuring.places import AXES, WAY_OF_HINT, Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Coordinate
from plumbend.notices import Notice, listed
from plumbend.records import record
from plumbend.units import Axis, Units, length_with_unit

_BEYOND = 3.0
"""A hint is gone against where a place lies so many doubts on the other side of all that it was taped from."""

_WAYS: dict[Axis, tuple[str, str]] = {
    "forward": ("forward of", "aft of"),
    "left": ("to the left of", "to the right of"),
    "up": ("above", "below"),
}


@record(eq=False)
class Kept:
    """Readings that look wrong, were kept as asked, and so put others out.

    Attributes:
        accused: these.
        gone: indices of the readings that had to go for them.
        is_worse: whether more goes together, or goes better, without them.
    """

    accused: tuple[Accused, ...]
    gone: tuple[int, ...]
    is_worse: bool

    def notice(self, frame: VehicleFrame) -> Notice:
        """The caution that says so."""
        kept = listed([f'"{one.reading.typed}"' for one in self.accused])
        gone = listed([f'"{frame.readings[i].typed}"' for i in self.gone])
        one, last = not self.accused[1:], not self.gone[1:]
        it, they = ("it", "it is") if one else ("them", "they are")
        said = (
            f"{kept} {'is' if one else 'are'} kept as you asked, and that alone is why {gone} had to go: "
            f"{'it contradicts' if last else 'they contradict'} {it}."
        )
        if self.is_worse:
            said += f" The readings fit better without {it}."
        looks = [f"{error.error.words}" for kept in self.accused for error in kept.explanations[:1]]
        if looks:
            said += f" {'It looks' if one else 'They look'} like {listed(looks)}."
        return Notice(
            "kept-reading", "caution", f"{said} Unless you have read {it} again, {they} the wrong one to keep."
        )


def kept_at_a_price(frame: VehicleFrame, screened: Screened, free: Screened, kept: frozenset[str | int]) -> Kept | None:
    """The kept readings that a search left ``free`` would leave out, and what went for them; None without such.

    Args:
        frame: what was measured.
        screened: with ``kept`` kept.
        free: with nothing kept.
        kept: indices of readings.
    """
    accused = tuple(one for suspect in free.suspects for one in suspect.accused[:1] if one.index in kept)
    gone = tuple(i for i in screened.left_out if i not in free.left_out and i < len(frame.readings))
    if not accused or not gone:
        return None
    price, other = ((len(one.left_out), one.scale, one.adjusted.chi2) for one in (screened, free))
    return Kept(accused, gone, price > other)


def swaps(readings: Sequence[Reading], screened: Screened) -> Iterator[tuple[tuple[int, int], list[Reading]]]:
    """Pairs of figures of one place that may be each other's, by their indices, and the readings as then meant.

    They are tried where a reading of the place was left out and no slip in a figure of its own explains that.
    """
    doubted = {place for i in screened.left_out if i < len(readings) for place in readings[i].places}
    explained = {one.index for suspect in screened.suspects for one in suspect.accused if one.explained}
    doubted -= {place for i in explained if i < len(readings) for place in readings[i].places}
    figures = [(i, one) for i, one in enumerate(readings) if isinstance(one, Coordinate) and one.point in doubted]
    for (i, one), (j, other) in combinations(figures, 2):
        if one.point == other.point and one.axis != other.axis and one.value != other.value:
            meant = list(readings)
            meant[i], meant[j] = replace(one, value=other.value), replace(other, value=one.value)
            yield (i, j), meant


def swap_notice(readings: Sequence[Reading], pair: tuple[int, int], *, left_out: bool) -> Notice:
    """The caution that two figures look, or where not ``left_out`` may be, swapped."""
    one, other = (readings[i] for i in pair)
    place = one.places[0]
    agree = f"each the other's figure: then all readings of {place} agree."
    if left_out:
        said = f'"{one.typed}" and "{other.typed}" look swapped, {agree} Both are left out. Read them again.'
    else:
        said = f'Or "{one.typed}" and "{other.typed}" are swapped, {agree} Both stay in, for {place} needs them. '
        said += "Read them again."
    return Notice("misread", "caution", said)


def hints_gone_against(places: Sequence[Place], adjusted: Adjusted, units: Units) -> list[Notice]:
    """Cautions about hints that the readings plainly contradict.

    A hint says which of two answers is meant. Where readings put a place wholly to the other side of all that it was
    taped from, they have settled that already, the other way.
    """
    taped: dict[str, set[str]] = {}
    for reading in adjusted.network.readings:
        if isinstance(reading, Tape):
            taped.setdefault(reading.point, set()).add(reading.start)
            taped.setdefault(reading.start, set()).add(reading.point)
    open_ones = {mirror.asked for mirror in adjusted.mirrors}
    index = {place.name: i for i, place in enumerate(adjusted.places)}
    notices = []
    for place in places:
        i, others = index[place.name], sorted(taped.get(place.name, ()), key=index.__getitem__)
        for hint in place.hints if others and place.name not in open_ones else ():
            axis, way = WAY_OF_HINT[hint]
            columns = [3 * i + axis, *(3 * index[name] + axis for name in others)]
            if adjusted.loose[[i, *map(index.__getitem__, others)], axis].any():
                continue
            beyond = way * (adjusted.at[[index[name] for name in others], axis] - adjusted.at[i, axis])
            nearest = int(np.argmin(beyond))
            own = adjusted.covariance[np.ix_(columns, columns)]
            variance = own[0, 0] + own[nearest + 1, nearest + 1] - 2 * own[0, nearest + 1]
            if beyond[nearest] > _BEYOND * max(float(np.sqrt(max(variance, 0.0))), 1.0):
                which = _WAYS[AXES[axis]][way > 0]
                said = (
                    f'{place.name} has the hint "{hint}", but the readings put it '
                    f"{length_with_unit(float(beyond[nearest]), units)} {which} {others[nearest]}"
                    f"{' and further from the others' if others[1:] else ''}. Take the hint out or turn it round; "
                    f"if it is right, a reading of {place.name} is wrong."
                )
                notices.append(Notice("hint-against-readings", "caution", said))
    return notices
