"""The points of one tube: rows to points, and whether they can be points of one tube together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, cast

import numpy as np

from plumbend.job.checking import read_table
from plumbend.job.good_to import GoodTo
from plumbend.job.model import PlacedPoint
from plumbend.job.places import Mistakes, Spot
from plumbend.job.placing import Placing
from plumbend.job.tables import CUT_KEYS, PointRow
from plumbend.job.values import Reading
from plumbend.records import record
from plumbend.shape.points import AT_IT, Point, PointKind, Standoff

if TYPE_CHECKING:  # a tube whose ends meet nothing does not pay for it
    from plumbend.job.end_cuts import MeetingAt

ON_A_LEG = ("centre", "outside", "touch", "clear")
ON_THE_BODY = ("touch", "clear")
_A = {
    "end": "an end",
    "corner": "a corner",
    "centre": "a centre",
    "outside": "an outside point",
    "touch": "a place to touch",
    "clear": "a place to keep clear of",
}

Read = list[tuple[PointRow, Spot]]
"""Checked rows with their places; a key that was missing or wrong is None."""


@record
class PointsTold:
    """What was told of the points together.

    Attributes:
        bends: number of bends; None where it is not told.
        unread: it is told in a way that cannot be read, which was noted already.
        found: a scan or readings of the tube are there to find it from.
        ordered: the points stand in order from the start end.
    """

    bends: int | None
    unread: bool = False
    found: bool = False
    ordered: bool = True


@dataclass
class TubePoints:
    """The points of one tube.

    Attributes:
        typed: those with their own place alone, in the order typed.
        placed: those that readings of the vehicle place, in the order typed.
        bends: number of bends as told, else counted from the corners, else None: to be found.
        ends: whether it is the far one, by an end's name.
        corners: bend by a corner's name.
        unnumbered: names of corners whose bend is not known, for want of an order.
        meetings: what ends are cut to.
    """

    typed: list[Point] = field(default_factory=list)
    placed: list[PlacedPoint] = field(default_factory=list)
    bends: int | None = None
    ends: dict[str, bool] = field(default_factory=dict)
    corners: dict[str, int] = field(default_factory=dict)
    unnumbered: list[str] = field(default_factory=list)
    meetings: list[MeetingAt] = field(default_factory=list)


def read_points(
    rows: Sequence[tuple[dict[str, Any], Spot]],
    tube: Spot,
    told: PointsTold,
    reading: Reading,
    good_to: GoodTo,
    placing: Placing,
    mistakes: Mistakes,
) -> TubePoints:
    """The points of a tube; rows with mistakes are left out, and the mistakes noted, with those of the points
    together."""
    read = [(read_table(PointRow, row, spot, reading, mistakes), spot) for row, spot in rows]
    if len(read) < 2 and not told.found:
        mistakes.add(tube, ("points",), f"a tube needs at least two points, not {len(read)}", "Measure more.")
    # of points in order, an end stops where it meets what it is on, and need not be measured
    placed = [
        placing.add_point(
            row, row.says("at") or (told.ordered and row.what == "end" and row.says("on")), good_to, spot, mistakes
        )
        for row, spot in read
    ]
    _check_names(read, mistakes)
    _check_ends(read, told.ordered, mistakes)
    _check_keys(read, mistakes)
    count_bends = _count_bends if told.ordered else _count_unordered_bends
    points = TubePoints(bends=count_bends(read, tube, told, mistakes))
    _check_legs(read, points.bends, told.ordered, mistakes)
    corner = 0
    index = 0  # among the points that have a place
    for at, ((row, spot), is_placed) in enumerate(zip(read, placed, strict=True)):
        if row.name is None or row.what is None:
            continue
        if row.what == "corner" and row.bend is None and not told.ordered:
            points.unnumbered.append(row.name)
        elif row.what == "corner":
            corner = row.bend or corner + 1
            points.corners[row.name] = corner
        elif row.what == "end":
            # the far end unless it comes first
            points.ends[row.name] = at > 0 if told.ordered else bool(points.ends)
        if any(map(row.says, CUT_KEYS)):
            from plumbend.job.end_cuts import read_meeting  # only an end that meets something pays for it

            meeting = read_meeting(row, points.ends.get(row.name, False), spot, mistakes)
            points.meetings += [] if meeting is None else [meeting]
        what = cast(PointKind, row.what)
        leg = row.leg if what in ON_A_LEG else None
        bend = row.bend if what == "corner" else None
        side = np.array(row.side) if row.side is not None and what == "centre" else None
        placed_point = PlacedPoint(index, row.name, what, leg, bend, side, _standoff(row))
        if is_placed:
            points.placed.append(placed_point)
            index += 1
        elif row.at is not None and None not in row.at:
            index += 1
            # anywhere within so much is as good: the place's own accuracy is none of it
            cov = np.zeros((3, 3)) if row.within is not None else good_to.covariance(row.good_to)
            points.typed.append(placed_point.at(np.array(row.at), cov))
    return points


def _standoff(row: PointRow) -> Standoff:
    if row.what not in ON_THE_BODY:
        return AT_IT
    side = None if row.tube_is is None else np.array(row.tube_is)
    return Standoff(row.gap or 0.0, bool(row.exact), row.within if row.what == "touch" else None, side, row.note)


def _check_names(read: Read, mistakes: Mistakes) -> None:
    seen: set[str] = set()
    for row, spot in read:
        if row.name in seen:
            mistakes.add(spot, ("name",), f'there are two points called "{row.name}"', "Give each its own name.")
        seen.add(row.name or "")


def _check_ends(read: Read, ordered: bool, mistakes: Mistakes) -> None:
    if not ordered:
        for _, spot in [(row, spot) for row, spot in read if row.what == "end"][2:]:
            mend = "Keep the two where it stops, and make the others corners or centres."
            mistakes.add(spot, ("what",), "a tube has two ends, and there are two before this one", mend)
        clear = [spot for row, spot in read if row.what == "clear"]
        if clear and len(read) - len(clear) < 2:
            mend = "The first and the last point along the tube name its ends: there must be two others."
            mistakes.add(clear[0], ("what",), "a place to keep clear of cannot be an end of the tube", mend)
        return
    for row, spot in read[1:-1]:
        if row.what == "end":
            mend = "Points stand in order from the start end: move it there, or make it a corner or a centre."
            mistakes.add(spot, ("what",), "an end can only be the first or the last point", mend)
    for row, spot in (read[0], read[-1]) if len(read) > 1 else ():
        if row.what == "clear":
            mend = "The first and the last point name the ends of the tube: move it between them."
            mistakes.add(spot, ("what",), "a place to keep clear of cannot be the first or the last point", mend)


def _check_keys(read: Read, mistakes: Mistakes) -> None:
    for row, spot in read:
        if row.what == "corner" and row.leg is not None:
            mend = f"A corner lies between two legs. Say its bend instead, such as bend = {max(1, row.leg - 1)}."
            mistakes.add(spot, ("leg",), "a corner has no leg", mend)
        if row.what is not None and row.what != "corner" and row.bend is not None:
            mend = "Only a corner has one: take it out, or say which leg the point is on."
            mistakes.add(spot, ("bend",), f"{_A[row.what]} has no bend", mend)
        if row.what is not None and row.what != "centre" and row.side is not None:
            mend = "Only a centre has one, touched on that side of the tube: take it out, or make the point a centre."
            if row.what in ON_THE_BODY:
                mend = 'Say on which side of it the tube lies instead, such as tube_is = "above".'
            mistakes.add(spot, ("side",), f"{_A[row.what]} has no side", mend)
        _check_standoff(row, spot, mistakes)


def _check_standoff(row: PointRow, spot: Spot, mistakes: Mistakes) -> None:
    """Hold together the keys that say how the tube stands to a place on the body."""
    if row.what is None:
        return
    for key in ("gap", "tube_is", "exact", "within"):
        if getattr(row, key) is None:
            continue
        if row.what not in ON_THE_BODY:
            mend = 'Only a touch or a clear has it: take it out, or make the point one, such as what = "touch".'
            mistakes.add(spot, (key,), f'{_A[row.what]} has no "{key}"', mend)
        elif row.what == "clear" and key in ("exact", "within"):
            mend = "The tube stays at least the gap away from it: take it out, or make the point a touch."
            mistakes.add(spot, (key,), f'{_A[row.what]} has no "{key}"', mend)
    if row.what == "touch" and row.within is not None and (row.exact or row.good_to is not None):
        other = "exact" if row.exact else "good_to"
        mend = "Keep the one that is meant."
        mistakes.add(spot, (other,), f'a touch that is met within so much has no "{other}"', mend)


def _count_bends(read: Read, tube: Spot, told: PointsTold, mistakes: Mistakes) -> int | None:
    """Number of bends as told, else one for each corner where nothing else lies between the ends; corners are held
    to it. None where it is to be found: beside other places a corner need not be measured at every bend."""
    bends = told.bends
    corners = [(row, spot) for row, spot in read if row.what == "corner"]
    count = 0
    numbers: set[int] = set()
    for row, spot in corners:
        count = row.bend if row.bend is not None else count + 1
        if bends is not None and not 1 <= count <= bends:
            _note_beyond(row, spot, count, bends, mistakes)
        numbers.add(count)
    if bends is not None or told.unread:
        return bends
    if not _tell_bends(read, tube, told, mistakes):
        return None
    if numbers != set(range(1, len(numbers) + 1)):
        what = f"the corners are those of bends {_counted(numbers)}, so others are missing"
        mistakes.add(tube, (), what, "Say how many bends the tube has, such as bends = 3.")
    return len(numbers)


def _count_unordered_bends(read: Read, tube: Spot, told: PointsTold, mistakes: Mistakes) -> int | None:
    """The same for points in any order, among which only a corner's own figure says its bend."""
    corners = [(row, spot) for row, spot in read if row.what == "corner"]
    numbered = {row.bend for row, _ in corners if row.bend is not None}
    count = len(numbered) + sum(row.bend is None for row, _ in corners)
    bends = told.bends
    if bends is None and not told.unread and _tell_bends(read, tube, told, mistakes):
        bends = count
    for row, spot in corners:
        if row.bend is not None and not 1 <= row.bend <= (row.bend if bends is None else bends):
            has = "bends count from 1" if bends is None else f"the tube has {_bends(bends)}"
            mend = "Correct the bend, or leave it out."
            mistakes.add(spot, ("bend",), f"there is no bend {row.bend}: {has}", mend)
    if told.bends is not None and count > told.bends:
        what = f"there are {count} corners, but the tube has {_bends(told.bends)}"
        mistakes.add(tube, ("points",), what, "Correct bends, or take a corner out.")
    return bends


def _tell_bends(read: Read, tube: Spot, told: PointsTold, mistakes: Mistakes) -> bool:
    """Whether the corners tell the number of bends: nothing else lies between the ends."""
    if any(row.what == "corner" for row, _ in read):
        return not any(row.what in ON_A_LEG and row.what != "clear" for row, _ in read)
    if not told.found and all(row.leg is None and row.what == "end" for row, _ in read):
        what = "nothing tells how many bends the tube has"
        mistakes.add(tube, (), what, "Say it, such as bends = 3 (0 for a straight tube).")
    return False


def _counted(numbers: set[int]) -> str:
    *others, last = map(str, sorted(numbers))
    return f"{', '.join(others)} and {last}" if others else last


def _note_beyond(row: PointRow, spot: Spot, count: int, bends: int, mistakes: Mistakes) -> None:
    has = f"the tube has {_bends(bends)}"
    if row.bend is not None:
        mistakes.add(spot, ("bend",), f"there is no bend {count}: {has}", "Correct the bend, or leave it out.")
    else:
        mistakes.add(spot, (), f"this is corner {count}, but {has}", "Correct bends, or take the corner out.")


def _bends(count: int) -> str:
    return f"{count} bend{'s' * (count != 1)}"


def _legs(count: int) -> str:
    return "1 leg" if count == 1 else f"legs 1 to {count}"


def _check_legs(read: Read, bends: int | None, ordered: bool, mistakes: Mistakes) -> None:
    far_leg = None if bends is None else bends + 1
    first_end = next((i for i, (row, _) in enumerate(read) if row.what == "end"), 0)
    before = 0
    for index, (row, spot) in enumerate(read):
        leg = row.leg
        if leg is None or row.what == "corner":
            continue
        is_start = index == (0 if ordered else first_end)
        end_leg = 1 if is_start else far_leg
        mend = "Correct the leg, or leave it out."
        if leg < 1 or (far_leg is not None and leg > far_leg):
            has = "legs count from 1" if far_leg is None else f"the tube has {_legs(far_leg)}"
            mistakes.add(spot, ("leg",), f"there is no leg {leg}: {has}", mend)
        elif row.what == "end" and end_leg not in (None, leg):
            where = "start" if is_start else "far"
            if not ordered:
                mend = "Of two ends the start comes first: type the other one before it, or leave the leg out."
            mistakes.add(spot, ("leg",), f"the {where} end is on leg {end_leg}, not {leg}", mend)
        elif leg < before and ordered:
            mend = "Points stand in order from the start end: move the point, or correct its leg."
            mistakes.add(spot, ("leg",), f"leg {leg} comes after a point on leg {before}", mend)
        else:
            before = leg
