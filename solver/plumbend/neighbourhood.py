"""What the ends of a tube are on, as it stands there: neighbours as measured, tubes of the job as they will be made."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from plumbend.ends.neighbours import tube_neighbour
from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.job.meetings import Against, Fixture, Meeting
from plumbend.job.model import WantedTube
from plumbend.job.results import TubeResult
from plumbend.notices import Notice
from plumbend.units import Units, stated_gap

if TYPE_CHECKING:  # a job without readings of the vehicle does not pay for them
    from plumbend.survey.adjusting import Survey


def held_on(
    tube: WantedTube,
    found: Mapping[str, TubeResult],
    fixtures: Sequence[Fixture],
    surveyed: Survey | None,
    units: Units,
) -> WantedTube | Notice:
    """The tube with all that its ends are on in its place, or the refusal of one.

    Args:
        tube: as wanted.
        found: the tubes that it waits for, by name.
        fixtures: what is there already.
        surveyed: the readings of the vehicle, which place what fixtures name.
        units: what refusals are written in.
    """
    there = {fixture.name: fixture for fixture in fixtures}
    meetings: list[Meeting] = []
    for meeting in tube.meetings:
        against: list[Against] = []
        for name in meeting.on:
            one = _fixed(meeting, there[name], surveyed, units) if name in there else _made(meeting, found[name])
            if isinstance(one, Notice):
                return one
            against.append(one)
        meetings.append(replace(meeting, against=tuple(against)))
    return replace(tube, meetings=tuple(meetings))


def _made(meeting: Meeting, other: TubeResult) -> Against | Notice:
    """A tube of the job: where what will be made of it lies."""
    if not other.solved or other.made is None:
        first = next((notice.text for notice in other.notices if notice.level == "refusal"), None)
        why = "" if first is None else f" Of {other.name} is said: {first}"
        fault = "of which an end cannot be cut" if other.only_ends_refused else "which was not found"
        return Notice(
            f"other-tube-not-found-{meeting.end}",
            "refusal",
            f"The {meeting.end} end is on {other.name}, {fault}.{why} Ways out: mend {other.name} first, "
            f'or take out "on" and say with "at" where the {meeting.end} end stops.',
        )
    places = other.made.tangents().reshape(-1, 3)
    sds = np.zeros_like(places)
    if other.certainty is not None:
        sds = other.certainty.stops.reshape(-1, 3)
        known = np.isfinite(sds).all(axis=1)
        places, sds = (places[known], sds[known]) if known.any() else (places[:1], np.zeros((1, 3)))
    return Against(tube_neighbour(other.name, other.made, other.od), places, sds)


def _fixed(meeting: Meeting, fixture: Fixture, surveyed: Survey | None, units: Units) -> Against | Notice:
    """A neighbour, by places that were typed and places that readings find."""
    at, sds = [], []
    for place in fixture.places:
        found = _placed(place, surveyed) if isinstance(place, str) else (place, fixture.sd)
        if found is None:
            return _refused(meeting, fixture, f"the readings do not fix where {place} is", f"measure {place} once more")
        at.append(found[0])
        sds.append(found[1])
    try:
        surface = fixture.surface(np.array(at))
    except BadValue as fault:
        why = fault.told(lambda mm: stated_gap(mm, units)).rstrip(".")
        return _refused(meeting, fixture, why, "check its places")
    return Against(surface, np.array(at), np.array(sds))


def _placed(name: str, surveyed: Survey | None) -> tuple[FloatArray, FloatArray] | None:
    """Where readings put a place (3,) mm, and one standard deviation along each axis; None where they do not fix it."""
    assert surveyed is not None  # a job without readings that names such a place is not read
    adjusted = surveyed.screened.adjusted
    index = [place.name for place in adjusted.places].index(name)
    if adjusted.loose[index].any() or any(name in mirror.at for mirror in adjusted.mirrors):
        return None
    at, covariance = adjusted.joint([name])
    return at[0], np.sqrt(np.diagonal(covariance)) * surveyed.screened.scale


def _refused(meeting: Meeting, fixture: Fixture, why: str, mend: str) -> Notice:
    return Notice(
        f"neighbour-not-placed-{meeting.end}",
        "refusal",
        f'The {meeting.end} end is on {fixture.name}, and {why}. Ways out: {mend}, or take out "on" and say with '
        f'"at" where the {meeting.end} end stops.',
    )
