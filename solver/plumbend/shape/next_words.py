"""What to measure next, in words."""

from __future__ import annotations

import math
from collections.abc import Sequence

from plumbend.measuring.accuracies import good_to_from_sd
from plumbend.notices import Notice, listed
from plumbend.shape.next_checks import NextCheck
from plumbend.shape.next_reading import FAR_END, START_END, NextReading, is_angle
from plumbend.units import Units, format_angle, length_with_unit


def next_notices(
    found: Sequence[NextReading], units: Units, asked: str = FAR_END, ends: tuple[str, str] = ("start", "far")
) -> list[Notice]:
    """Notes such as "To know the F end better, measure a tape from B2 to F: ± 3/8 in becomes ± 1/4 in.".

    Args:
        found: what :func:`plumbend.shape.next_reading.next_readings` found, ``asked`` and with ``ends`` as there.
        units: the job's.
        asked, ends: as there.

    Readings that would leave the ± as it is written are left out.
    """
    name = _name(asked, ends)
    notices: list[Notice] = []
    for one in found:
        then = _within(one.then, units, asked)
        if math.isinf(one.now):
            said = f"Nothing fixes {name} yet. Measure {one.words}: it is then known to ± {then}."
        elif _within(one.now, units, asked) == then:
            continue
        else:
            now = _within(one.now, units, asked)
            said = f"To know {name} better, measure {one.words}: ± {now} becomes ± {then}."
        notices.append(Notice(f"measure-next-{len(notices) + 1}", "note", said))
    return notices


def check_notices(found: Sequence[NextCheck]) -> list[Notice]:
    """Notes such as "Nothing checks A tape B1 41-3/8 yet. Measure the height of A."."""
    return [
        Notice(f"check-next-{i}", "note", f"Nothing checks {listed(one.checks)} yet. Measure {one.words}.")
        for i, one in enumerate(found, 1)
    ]


def _name(asked: str, ends: tuple[str, str]) -> str:
    """What is asked for, as the man calls it."""
    if asked in (FAR_END, START_END):
        return f"the {ends[asked == FAR_END]} end"
    kind, _, number = asked.partition("-")
    return f"the turn before bend {number}" if kind == "turn" else f"{kind} {number}"


def _within(sd: float, units: Units, asked: str) -> str:
    """A ± with its unit, in steps fine enough to show what one reading does."""
    if is_angle(asked):
        return f"{format_angle(good_to_from_sd(sd))} degrees"
    return length_with_unit(good_to_from_sd(sd), units, parts=32, decimals=1)
