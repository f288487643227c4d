"""What the end points of a tube say of how it is cut there, and whether the whole job bears it out."""

from __future__ import annotations

import difflib
from collections.abc import Sequence
from graphlib import CycleError, TopologicalSorter
from itertools import pairwise

import numpy as np

from plumbend.job.meetings import Fixture, Meeting
from plumbend.job.model import WantedTube
from plumbend.job.places import Mistakes, Spot
from plumbend.job.tables import CUT_KEYS, PointRow
from plumbend.notices import listed
from plumbend.records import record


@record(eq=False)
class MeetingAt:
    """A meeting with where it was typed."""

    meeting: Meeting
    spot: Spot


def read_meeting(row: PointRow, far: bool, spot: Spot, mistakes: Mistakes) -> MeetingAt | None:
    """What the tube is cut to at a point; None where nothing is said, or mistakes, which are noted, hide it.

    Args:
        row: the point as checked.
        far: whether it is the far end.
        spot: where it stands.
        mistakes: what is wrong is noted here.
    """
    said = [key for key in CUT_KEYS if getattr(row, key)]
    misread = any(row.says(key) and getattr(row, key) is None for key in CUT_KEYS)
    if not said or misread or row.name is None or row.what is None:
        return None
    if row.what != "end":
        mend = 'Only an end is cut to something: take it out, or make the point one, what = "end".'
        mistakes.add(spot, (said[0],), f'the point is no end and has no "{said[0]}"', mend)
        return None
    kinds = [key for key in ("on", "square", "mitre") if key in said]
    if len(kinds) > 1:
        what = f"the end is said to be cut in {len(kinds)} ways: {', '.join(kinds)}"
        mistakes.add(spot, (kinds[1],), what, "Keep the one that is meant.")
        return None
    if not kinds:
        mend = 'Say what it meets, such as on = "upright", or square = true, or take it out.'
        mistakes.add(spot, (said[0],), "nothing says what this end is cut to", mend)
        return None
    if row.short_side is not None and row.mitre is None:
        mistakes.add(spot, ("short_side",), "only a mitre has a short side", "Take it out.")
        return None
    if row.mitre is not None and row.short_side is None:
        mend = 'Say on which side of the tube it comes out shorter, such as short_side = "top".'
        mistakes.add(spot, (), "nothing says to which side the mitre slants", mend)
        return None
    if row.edge is not None and row.on is None:
        what = "only an end that is on something has an edge that is to touch"
        mistakes.add(spot, ("edge",), what, "Take it out.")
        return None
    short_side = None if row.short_side is None else np.array(row.short_side)
    cut = Meeting(row.name, far, row.on or (), row.mitre or 0.0, short_side, row.allowance or 0.0, row.edge or "both")
    return MeetingAt(cut, spot)


def check_meetings(
    said: Sequence[tuple[str, MeetingAt]],
    tubes: Sequence[WantedTube],
    fixtures: Sequence[Fixture],
    mistakes: Mistakes,
    *,
    no_wall: bool,
    names_are_sure: bool,
) -> None:
    """Hold what ends say against the whole job: names that nothing has, tubes that wait for each other, no wall.

    Args:
        said: every meeting by the name of its tube.
        tubes: those of the job that could be read.
        fixtures: what is there already.
        mistakes: what is wrong is noted here.
        no_wall: whether the tubing does not say its wall.
        names_are_sure: whether these are all tubes and neighbours: mistakes may hide some.
    """
    by_name = {tube.name: tube for tube in tubes}
    known = [*by_name, *(fixture.name for fixture in fixtures)]
    if no_wall:
        mend = "Write it in [tubing], such as wall = 0.095."
        mistakes.add(said[0][1].spot, (), "the cut of an end depends on the tube's wall, which is not given", mend)
    before = len(mistakes)
    for tube, at in said:
        for entry, name in enumerate(at.meeting.on):
            keys = ("on", entry) if len(at.meeting.on) > 1 else ("on",)
            if name == tube:
                mend = "Name another tube, or a [[neighbour]]."
                mistakes.add(at.spot, keys, "a tube cannot end on itself", mend)
            elif name in by_name:
                _check_place(by_name[name], keys, at.spot, mistakes)
            elif name not in known and names_are_sure:
                mistakes.add(at.spot, keys, f'nothing in this job is called "{name}"', _mend_name(name, known, tube))
    if len(mistakes) == before:
        _check_order(said, tubes, mistakes)


def _mend_name(name: str, known: Sequence[str], tube: str) -> str:
    others = [other for other in known if other != tube]
    near = difflib.get_close_matches(name, others, n=1, cutoff=0.6)
    if near:
        return f'Did you mean "{near[0]}"?'
    if others:
        return f"Name {listed(others, 'or')}, or write a [[neighbour]] of that name."
    return "Write a [[neighbour]] of that name."


def _check_place(other: WantedTube, keys: tuple[str | int, ...], spot: Spot, mistakes: Mistakes) -> None:
    """Note a tube that lies nowhere, so that nothing can be said to meet it."""
    by = "its program" if other.program is not None else "readings of itself"
    if other.names or other.scan is not None:
        return
    what = f'nothing says where the tube "{other.name}" lies: it is given by {by} alone'
    mistakes.add(spot, keys, what, "Measure points of it, or type it as a [[neighbour]].")


def waits_for(tube: WantedTube) -> dict[str, str]:
    """Names of what must be found before a tube, and how it waits for each in words."""
    waits = {beside.tube: f"leg {beside.leg} of {tube.name} is parallel to {beside.tube}" for beside in tube.beside}
    for meeting in tube.meetings:
        waits |= {name: f"{tube.name} ends on {name}" for name in meeting.on}
    return waits


def _check_order(said: Sequence[tuple[str, MeetingAt]], tubes: Sequence[WantedTube], mistakes: Mistakes) -> None:
    waits = {tube.name: waits_for(tube) for tube in tubes}
    try:
        TopologicalSorter(waits).prepare()
    except CycleError as fault:
        # each is waited for by the one after it
        ring: list[str] = fault.args[1]
        words = [waits[after][before] for before, after in pairwise(ring)]
        spot = next(at.spot for tube, at in said if tube in ring and set(at.meeting.on) & set(ring))
        what = f"tubes wait for each other: {listed(words[::-1])}"
        mend = 'Let one of them run through: take out its "on" there, and say with "at" where it stops.'
        mistakes.add(spot, ("on",), what, mend)


def in_solving_order(tubes: Sequence[WantedTube]) -> tuple[WantedTube, ...]:
    """Every tube after those that it waits for, else in the order of the file."""
    by_name = {tube.name: tube for tube in tubes}
    ordered: dict[str, WantedTube] = {}

    def take(tube: WantedTube) -> None:
        for name in waits_for(tube):
            if name in by_name and name not in ordered:
                take(by_name[name])
        ordered[tube.name] = tube

    for tube in tubes:
        if tube.name not in ordered:
            take(tube)
    return tuple(ordered.values())
