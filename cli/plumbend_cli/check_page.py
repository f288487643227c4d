"""The page of ``plumbend check``: where bases and points are, how every reading stands, and what is doubtful."""

from __future__ import annotations

import math
from collections.abc import Iterator

from plumbend.job.frame_report import FrameReport, Halves, PlaceFound, Square
from plumbend.notices import listed
from plumbend.units import Axis, Units, format_place
from plumbend_cli.known import known_length
from plumbend_cli.notice_blocks import notice_blocks
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table
from plumbend_cli.program_page import AXES, COUNTED_IN, WITHIN, length_text

VERDICTS = {"fits": "", "left out": "<- left out", "kept": "<- kept", "not checked": "no other checks it"}
ONLY_WITH = (
    "Readings marked with others are checked only together with these: a slip in one is seen, but not in which. "
    "One more reading of that place, of another kind, would tell."
)
_WAYS: dict[Axis, tuple[str, str]] = {"forward": ("ahead", "behind"), "left": ("out", "in"), "up": ("up", "down")}


def check_page(title: str, frame: FrameReport, units: Units) -> Iterator[Block]:
    """The page of a vehicle's readings, lengths in ``units``."""
    yield Heading(title, level=1)
    yield Paragraph(frame.words)
    # readings that are checked only together are marked in their table
    yield from notice_blocks([notice for notice in frame.notices if notice.code != "not-told-apart"])
    if frame.next:
        yield Heading("What to measure next")
        yield from (Paragraph(notice.text, lead="- ") for notice in frame.next)
    for heading, is_base in (("Bases", True), ("Points", False)):
        places = [place for place in frame.places if place.is_base is is_base]
        if places:
            yield Heading(heading)
            yield _places(places, units)
    yield Paragraph(WITHIN)
    yield from (Paragraph(_diagonals(square, units)) for square in frame.squares)
    if frame.halves:
        yield Heading("Left against right")
        yield _left_right(frame.halves, units)
    yield Heading("Readings, and how far each is off the places found")
    yield _readings(frame, units)
    if any(reading.alike for reading in frame.readings):
        yield Paragraph(ONLY_WITH)


def _places(places: list[PlaceFound], units: Units) -> Table:
    columns = [Column("place")]
    for axis in AXES:
        columns += [Column(axis, COUNTED_IN[units], numeric=True), Column("±", numeric=True)]
    rows = []
    for place in places:
        row = [place.name]
        for axis, at, doubt in zip(AXES, place.at.tolist(), place.doubt.tolist(), strict=True):
            if math.isnan(doubt):
                row += ["not fixed", ""]
            elif doubt == 0:
                row += [format_place(at, units, axis, decimals=1), "given"]
            else:
                row += _known_place(at, doubt, units, axis)
        rows.append(tuple(row))
    return Table(tuple(columns), tuple(rows))


def _known_place(at: float, doubt: float, units: Units, axis: Axis) -> list[str]:
    """A coordinate, with its side in words, and its ±."""
    within = known_length(at, doubt, units).within
    return [format_place(at, units, axis, decimals=1), within]


def _diagonals(square: Square, units: Units) -> str:
    one, other = square.diagonals
    lengths = [known_length(side.distance, side.doubt, units) for side in (one, other)]
    differ = known_length(abs(square.difference), square.doubt, units)
    return (
        f"Diagonals: {one.first} to {one.second} {lengths[0].value} ± {lengths[0].within} {units}, {other.first} to "
        f"{other.second} {lengths[1].value} ± {lengths[1].within} {units}; they differ by {differ.value} ± "
        f"{differ.within} {units}."
    )


def _left_right(halves: tuple[Halves, ...], units: Units) -> Table:
    """How each left place lies to the mirror image of its right one."""
    columns = [Column("left"), Column("right")]
    for ways in _WAYS.values():
        columns += [Column("or ".join(f"{way} " for way in ways).strip(), COUNTED_IN[units]), Column("±", numeric=True)]
    rows = []
    for pair in halves:
        row = [pair.left, pair.right]
        for axis, apart, doubt in zip(AXES, pair.apart.tolist(), pair.doubt.tolist(), strict=True):
            known = known_length(abs(apart), doubt, units)
            nothing = known.value in ("0", "0.0")
            row += [known.value if nothing else f"{known.value} {_WAYS[axis][apart < 0]}", known.within]
        rows.append(tuple(row))
    return Table(tuple(columns), tuple(rows))


def _readings(frame: FrameReport, units: Units) -> Table:
    """Every reading under its number; one that is struck out keeps its own."""
    columns = (
        Column("no.", numeric=True),
        Column("reading"),
        Column("off by", COUNTED_IN[units], numeric=True),
        Column(""),
    )
    rows = {number: (str(number), typed, "", "struck out") for number, typed in frame.struck_out}
    for reading in frame.readings:
        verdict = VERDICTS[reading.verdict]
        if reading.misread:
            verdict = f"{verdict}: {reading.misread}"
        elif reading.alike and not verdict:
            verdict = f"only with {listed([str(number) for number in reading.alike])}"
        off = "" if reading.verdict == "not checked" else _off_text(reading.off, units)
        rows[reading.number] = (str(reading.number), reading.typed, off, verdict)
    return Table(columns, tuple(rows[number] for number in sorted(rows)))


def _off_text(off: float, units: Units) -> str:
    """How much too long or too short, to 1/32 in or 0.1 mm."""
    size = length_text(abs(off), units, parts=32)
    return size if size in ("0", "0.0") else f"{size} {'more' if off > 0 else 'less'}"
