"""The page of ``plumbend solve``: every tube of a job, in the order in which a fabricator reads."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from plumbend.frames import FloatArray
from plumbend.job.frame_report import FrameReport
from plumbend.job.model import Job, WantedTube
from plumbend.job.results import FitReport, PartRadius, PointMiss, Result, ScanReport, TubeResult
from plumbend.shape.certainty import Certainty
from plumbend.shape.points import SIDES, Point
from plumbend.shape.tube_readings import (
    BendAngle,
    BendRotation,
    CornersApart,
    LegsApart,
    LegSlope,
    OutsideToEnd,
    TubeReading,
)
from plumbend.shop import Die
from plumbend.tubing import Tubing
from plumbend.units import Units, format_angle
from plumbend_cli.known import known_length
from plumbend_cli.notice_blocks import notice_blocks
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table
from plumbend_cli.program_page import (
    COUNTED_IN,
    length_text,
    place_columns,
    place_texts,
    program_blocks,
    size_text,
    turn_text,
)

if TYPE_CHECKING:
    from plumbend.shape.certainty import Certainty

UNMAKEABLE = frozenset(
    {"die-od", "crosses-itself", "folds-back", "no-length", "not-settled"}
)  # refusals that hold for the tube shown as well
CAUTIONS = (
    "This is shape, not strength. plumbend certifies nothing: local codes and licensed practice decide.",
    "No drop-in fit is promised. Leave trim at the ends, offer the tube up, then cut.",
    "Bending: try a test piece. Stay out of the swing, hands off die and follower. A crack or kink is scrap.",
    "Cutting and welding: eyes, ears, air. Clamp the work, strip zinc and paint back, keep a fire watch.",
    "Vehicle: on stands, never a jack alone. Battery off before you weld.",
)


def solve_page(job: Job, result: Result, units: Units) -> Iterator[Block]:
    """The page of a solved job, lengths in ``units``; ``result`` holds the tubes of ``job`` in order."""
    yield Heading(job.title, level=1)
    if result.frame is not None:
        yield Heading("Readings of the vehicle", level=2)
        yield Paragraph(_frame_text(result.frame))
        yield from notice_blocks([n for n in result.frame.notices if n.level in ("refusal", "caution")])
    for wanted, tube in zip(job.tubes, result.tubes, strict=True):
        yield from _tube_blocks(wanted, tube, job.tubing, units)
    if job.assumed:
        yield Heading("Accuracies assumed", level=2)
        yield from (Paragraph(text, lead="- ") for text in job.assumed)
    yield Heading("Before you cut, bend or weld", level=2)
    yield from (Paragraph(text, lead="- ") for text in CAUTIONS)


def _frame_text(frame: FrameReport) -> str:
    count = "1 reading places" if len(frame.readings) == 1 else f"{len(frame.readings)} readings place"
    return f"{count} the bases and points. {frame.words} plumbend check lists them all."


def _tube_blocks(wanted: WantedTube, tube: TubeResult, tubing: Tubing, units: Units) -> Iterator[Block]:
    ends = (f"{tube.ends[0]} end", f"{tube.ends[1]} end")
    yield Heading(tube.name, level=2)
    if tube.dies:
        from plumbend_cli.dies_page import dies_blocks  # only a choice of dies pays for it

        yield Paragraph(f"{_tubing_text(tubing, units)}. From {ends[0]} to {ends[1]}.")
        yield from dies_blocks(tube, tubing, units)
        return
    yield Paragraph(f"{_tubing_text(tubing, units)}. {_die_text(tube.die, units)}. From {ends[0]} to {ends[1]}.")
    if tube.part is not None and not math.isnan(tube.part.radius):
        yield Paragraph(
            f"Copied from a part whose own bends have a centreline radius of {_radius_text(tube.part, units)}; "
            f"the die bends {size_text(tube.die.radius, units)}."
        )
    if not tube.solved:
        yield Paragraph(_refused_text(tube), loud=True)
    if tube.program is not None:
        yield from _program(tube, ends, units)
    yield from notice_blocks(tube.notices)
    if tube.why is not None:
        from plumbend_cli.why_page import why_blocks  # only who asks why pays for it

        yield from why_blocks(tube, tube.why, units)
    if tube.fit is not None:
        yield from _fit_blocks(wanted, tube.points, tube.fit, units)


def _program(tube: TubeResult, ends: tuple[str, str], units: Units) -> Iterator[Block]:
    """The numbers to set, the exact ones, and how to make the tube by those to set."""
    assert tube.program is not None
    start_leads = tube.making is None or tube.making.habit.begins == "start"
    marked = tube.making is not None and bool(tube.making.steps) and bool(tube.making.steps[0].marks)
    if marked:
        # the marks are the numbers to set, and the steps have them
        yield from _steps(tube, units)
    if tube.legible is not None:
        from plumbend_cli.legible_page import EXACT_HEADING, cost_blocks, legible_blocks  # loaded only if needed

        if marked:
            yield from cost_blocks(tube.legible, units)
        else:
            yield from legible_blocks(tube.legible, ends, units, tube.certainty, start_leads=start_leads)
        yield Heading(EXACT_HEADING)
    yield from program_blocks(
        tube.program,
        tube.die.radius,
        ends,
        units,
        tube.certainty,
        is_set=tube.legible is None,
        tangents=not marked,
        start_leads=start_leads,
    )
    if not marked:
        yield from _steps(tube, units)
    if tube.making is None and tube.stops is not None and tube.stops.size:
        yield Heading("Stop the pointer at")
        yield _stops(tube.program.angles, tube.stops, tube.certainty)


def _steps(tube: TubeResult, units: Units) -> Iterator[Block]:
    if tube.making is not None and tube.checks is not None:
        from plumbend_cli.steps_page import steps_blocks  # pages of tubes that cannot be made do not pay for it

        yield from steps_blocks(tube.making, tube.checks, tube.ends, units, tube.met)
        if tube.end_reports:
            from plumbend_cli.cuts_page import cut_blocks  # only a page with such ends pays for it

            yield from cut_blocks(tube.end_reports, len(tube.making.steps), units)
    elif tube.met:
        from plumbend_cli.ends_page import ends_blocks  # only a page with such ends pays for it

        yield from ends_blocks(tube.met, None, units)


def _stops(angles: FloatArray, stops: FloatArray, certainty: Certainty | None) -> Table:
    """Where to stop each bend under load, and what it springs back to."""
    columns = (
        Column("bend"),
        Column("stop at", "degrees", numeric=True, loud=True),
        Column("springs back to", "degrees", numeric=True),
    )
    rows = []
    for k, (angle, stop) in enumerate(zip(angles.tolist(), stops.tolist(), strict=True), 1):
        is_open = certainty is not None and math.isnan(certainty.angles[k - 1]) and f"bend-{k}" not in certainty.held
        rows.append((str(k), "not fixed", "") if is_open else (str(k), format_angle(stop), format_angle(angle)))
    return Table(columns, tuple(rows))


def _fit_blocks(wanted: WantedTube, points: tuple[Point, ...], fit: FitReport, units: Units) -> Iterator[Block]:
    """How far the tube passes from all that was measured."""
    if fit.points:
        yield Heading("Points, and how far the tube passes from them")
        yield _points(points, fit, units)
    if fit.readings:
        yield Heading("Readings of the tube itself, and how far the tube is off them")
        yield _readings(wanted, fit, units)
    if fit.scan is not None:
        yield Heading("Scan")
        yield Paragraph(_scan_text(fit.scan, units))


def _scan_text(scan: ScanReport, units: Units) -> str:
    usual, worst = (length_text(mm, units, parts=32) for mm in (scan.rms, abs(scan.worst)))
    side = "off" if scan.worst > 0 else "inside"
    dropped = f" {scan.dropped:,} more were left out." if scan.dropped else ""
    return (
        f"{scan.count:,} places, usually {usual} {units} from the tube; worst {worst} {units} {side} the tube.{dropped}"
    )


def _radius_text(part: PartRadius, units: Units) -> str:
    if math.isnan(part.doubt):
        return f"about {length_text(part.radius, units)} {units}, which is not well told"
    known = known_length(part.radius, part.doubt, units)
    return f"{known.value} ± {known.within} {units}"


def _refused_text(tube: TubeResult) -> str:
    if tube.program is None:
        return "NO TUBE WAS FOUND: the reasons follow."
    if tube.only_ends_refused:
        return "AN END CANNOT BE CUT as asked: the reasons stand below. What follows is the tube as measured, uncut."
    if UNMAKEABLE.intersection(notice.code for notice in tube.notices):
        shown = "the nearest tube found, and it cannot be made as it stands"
    else:
        shown = "the nearest tube that can be bent, and it may not fit"
    return f"CANNOT BE BENT as asked: the reasons stand below. What follows is {shown}."


def _tubing_text(tubing: Tubing, units: Units) -> str:
    wall = "" if tubing.wall is None else f" x {size_text(tubing.wall, units)} wall"
    metal = "" if tubing.metal is None else f", {tubing.metal}"
    return f"{size_text(tubing.od, units)} OD{wall}{metal}"


def _die_text(die: Die, units: Units) -> str:
    stamped = f"Die {die.name}, centreline radius {size_text(die.clr, units)}"
    return stamped if die.bent_clr is None else f"{stamped}, really bends {size_text(die.bent_clr, units)}"


def _points(points: tuple[Point, ...], fit: FitReport, units: Units) -> Table:
    columns = (
        Column("point"),
        Column("what"),
        *place_columns(units),
        Column("passes it by", COUNTED_IN[units], numeric=True),
        Column(""),
    )
    rows = [
        (
            point.name,
            _what_text(point),
            *place_texts(point.at, units),
            *_miss_texts(missed, index == fit.worst, units),
        )
        for index, (point, missed) in enumerate(zip(points, fit.points, strict=True))
    ]
    return Table(columns, tuple(rows))


def _what_text(point: Point) -> str:
    if point.side is None:
        return point.what
    words = [word for word, side in SIDES.items() if np.allclose(point.side, side)]
    return f"{words[0] if words else 'side'} of tube"


def _miss_texts(missed: PointMiss, is_worst: bool, units: Units) -> tuple[str, str]:
    """How far off, and beside it in words: on which side of a place off the axis, and whether it stands out."""
    size = length_text(abs(missed.miss), units, parts=32)
    nothing = size in ("0", "0.0")
    side = "" if nothing or missed.what not in _SIDE_WORDS else _SIDE_WORDS[missed.what][int(missed.miss < 0)]
    return size, f"{side}  {_mark(missed.suspect, is_worst and not nothing)}".strip()


_SIDE_WORDS = {
    "outside": ("off", "inside"),
    "touch": ("too far off", "too near"),
    "clear": ("to spare", "too near"),
}
"""What a place off the axis is called whose miss is away from the tube, and whose miss is toward it."""


def _mark(suspect: bool, is_worst: bool) -> str:
    return "<- left out" if suspect else "<- worst" if is_worst else ""


def _readings(wanted: WantedTube, fit: FitReport, units: Units) -> Table:
    columns = (Column("reading"), Column("read", numeric=True), Column("off by", numeric=True), Column(""))
    rows = [
        (
            missed.name,
            _read_text(reading, units),
            _size_of(missed.miss, missed.is_angle, units),
            _mark(missed.suspect, index == fit.worst_reading),
        )
        for index, (reading, missed) in enumerate(zip(wanted.readings, fit.readings, strict=True))
    ]
    return Table(columns, tuple(rows))


def _read_text(reading: TubeReading, units: Units) -> str:
    """What a reading said, as it would be said aloud."""
    match reading:
        case BendAngle():
            return _size_of(reading.angle, True, units)
        case BendRotation():
            return turn_text(reading.rotation)
        case LegSlope():
            way = "" if reading.unsigned else " down" if reading.slope < 0 else " up"
            return _size_of(reading.slope, True, units) + way
        case CornersApart() | LegsApart() | OutsideToEnd():
            return _size_of(reading.distance, False, units)
    raise TypeError(reading)


def _size_of(amount: float, is_angle: bool, units: Units) -> str:
    """The size of an angle or a length with its unit."""
    if is_angle:
        return f"{format_angle(abs(amount))} degrees"
    return f"{length_text(abs(amount), units, parts=32)} {units}"
