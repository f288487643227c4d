"""What the man at the bender reads: stock, marks, turns and stops, what a level must say, and how to check the part."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from plumbend.job.making_json import side_of
from plumbend.job.results import EndMet
from plumbend.making.checks import MARK_SD, Checks
from plumbend.making.levels import LevelReading
from plumbend.making.machine import machine_of
from plumbend.making.steps import Making, Mark, Step
from plumbend.notices import listed
from plumbend.units import Units, format_angle, length_with_unit
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table
from plumbend_cli.program_page import COUNTED_IN, length_text, turn_text

AS_SEEN = "Clockwise, counter-clockwise, left and right are as seen from the tail, looking to the die"


def steps_blocks(
    making: Making, checks: Checks, ends: tuple[str, str], units: Units, met: Sequence[EndMet] = ()
) -> Iterator[Block]:
    """The steps in the order of the hands: saw, line, marks, bends, check, trim; ``met`` is what ends are cut to."""
    if not making.steps:
        yield from _straight_blocks(making, ends, units, met)
        return
    yield Heading("At the bender, in this order")
    first = making.steps[0]
    yield Paragraph(_saw_text(making, units), lead="- ")
    yield Paragraph(_line_text(making), lead="- ")
    if first.marks:
        yield Paragraph(_marks_text(making), lead="- ")
    else:
        yield Paragraph("No pen marks can be given; what they want stands under Not checked or not made.", lead="- ")
    yield Paragraph(
        f"Bend {first.bend} first, the {first.front} end through the die; you stand at the {first.tail} end, the "
        f"tail. {AS_SEEN}, with the bent part beyond the die.",
        lead="- ",
    )
    yield _steps_table(making, units)
    good_to = _stops_good_to(making.steps)
    if good_to:
        yield Paragraph(f"{good_to}, as test bends told: let off, read and creep up.")
    for step in making.steps:
        if step.swapped:
            yield Paragraph(
                f"Before bend {step.bend}: turn the tube end for end, so that the {step.front} end goes through the "
                f"die and you stand at the {step.tail} end. Lay bend {step.zero} in the plane of bend with its far leg "
                f"on the side to which the bender swings; turn from there.",
                loud=True,
            )
    if len(making.steps) > 1:
        yield Heading("How to know that the turn is right")
        yield _turns_table(making, units)
        new_line = "New line: hold the tube with the last bend's line uppermost and measure round it."
        if any(step.level for step in making.steps):
            yield Paragraph(new_line)
            yield _levels_table(making)
            yield Paragraph(
                "A level reads each leg after the turn, before the bend, with the tail level; a leg points away from "
                f"its bend. Legs count from the {ends[0]} end."
            )
        else:
            yield Paragraph(f"{new_line} {_no_levels(making)}")
    yield from _check_blocks(checks, making, ends, units, met)


def _straight_blocks(making: Making, ends: tuple[str, str], units: Units, met: Sequence[EndMet]) -> Iterator[Block]:
    """A tube without a bend is sawn and cut."""
    yield Heading("Saw, then cut")
    yield Paragraph(f"Saw the tube to {length_with_unit(making.stock, units, decimals=1)}.", lead="- ")
    if met:
        yield Paragraph("Scribe your line along it, end to end: the cuts of both ends are clocked from it.", lead="- ")
    plain = _trims_text(making, ends, units, met)
    if plain:
        yield Paragraph(f"{plain}, once the part has been offered up.", lead="- ")
    from plumbend_cli.ends_page import ends_blocks  # only a page with such ends pays for it

    yield from ends_blocks(met, making, units)


def _trims_text(making: Making, ends: tuple[str, str], units: Units, met: Sequence[EndMet]) -> str:
    """What comes off the ends that are cut to nothing; empty where there is none."""
    cut = {one.end for one in met}
    trims = [
        f"{length_with_unit(trim, units, decimals=1)} off the {end} end"
        for end, trim in zip(ends, making.trims, strict=True)
        if end.removesuffix(" end") not in cut
    ]
    return f"Trim {listed(trims)}" if trims else ""


def _saw_text(making: Making, units: Units) -> str:
    size = length_with_unit(making.stock, units, decimals=1)
    if making.saw_length is None:
        return f"Saw: at least {size}, and more by what your bender must hold behind the last bend."
    return f"Saw the tube to {size}. It is trimmed after bending."


def _line_text(making: Making) -> str:
    first = making.steps[0]
    bender = making.bender
    faces = {"level": "up", "upright": "toward you", None: "up (level bender) or toward you (upright)"}
    laid = ""
    if machine_of(bender) is not None:
        kind = f"a level bender that swings the front end to the {bender.swings}"
        if bender.plane == "upright":
            kind = f"an upright bender that swings the front end {bender.swings}"
        laid = f" This is for {kind}, seen from the tail."
    return (
        f"Scribe a reference line from end to end, on the seam. At bend {first.bend} it faces {faces[bender.plane]}."
        f"{laid}"
    )


def _no_levels(making: Making) -> str:
    bender = making.bender
    if machine_of(bender) is not None:
        return "No leg leans enough for a level to tell the turn."
    if bender.plane == "upright" and bender.swings is not None:
        return (
            "No level readings: an upright bender swings the front end up or down, and the shop file says swings = "
            f'"{bender.swings}".'
        )
    return "Level readings need the bender's plane and swings in the shop file."


def _marks_text(making: Making) -> str:
    first = making.steps[0]
    kind = {
        "start": "Each is the line for the START of its bend: put it on the bender's reference.",
        "middle": "Each is the MIDDLE of its bend: put it as far behind the bender's reference, toward the tail, as "
        "the table says.",
        "both": "The first is the line for the START of its bend: put it on the bender's reference. The second is the "
        "middle of the bend, to look at.",
    }[making.habit.marks]
    if making.habit.measured == "end":
        where = f"Hook the tape on the {making.hooked} end and draw all marks before you bend."
    else:
        where = (
            f"Bend {first.bend}: hook the tape on the {making.hooked} end. Then each mark from where the bend that the "
            "table names ends, on the tail's side: lay a straight-edge along the tail and see where the tube leaves it."
        )
    return f"{where} {kind}"


def _from_text(mark: Mark) -> str:
    """The end that the tape is hooked on, or the bend at whose end it is laid; the table has little room."""
    return f"{mark.end} end" if mark.end is not None else f"end of {mark.after}"


def _steps_table(making: Making, units: Units) -> Table:
    first = making.steps[0]
    columns = [Column("bend", loud=True)]
    if first.marks:
        last = "bend" if making.habit.measured == "last bend" else ""
        columns += [Column("mark at", COUNTED_IN[units], numeric=True, loud=True), Column("from", last)]
        if making.habit.marks == "middle":
            columns.append(Column("behind", "reference", numeric=True, loud=True))
        if making.habit.marks == "both":
            columns.append(Column("middle at", COUNTED_IN[units], numeric=True))
    columns.append(Column("turn", "from the tail", loud=True))
    if first.stop is not None:
        columns.append(Column("stop at", "degrees", numeric=True, loud=True))
    columns.append(Column("finished", "degrees", numeric=True, loud=first.stop is None))
    return Table(tuple(columns), tuple(_step_row(step, making, units) for step in making.steps))


def _step_row(step: Step, making: Making, units: Units) -> tuple[str, ...]:
    row = [str(step.bend)]
    if step.marks:
        mark = step.marks[0]
        row += [length_text(mark.at, units), _from_text(mark)]
        if making.habit.marks == "middle":
            row.append(length_text(mark.behind or 0.0, units))
        if making.habit.marks == "both":
            row.append(length_text(step.marks[1].at, units))
    row.append("none" if step.zero is None else _turn(step.turn))
    if step.stop is not None:
        row.append(_degrees(step.stop))
    row.append(_degrees(step.angle))
    return tuple(row)


def _stops_good_to(steps: Sequence[Step]) -> str:
    """The ± of the stops, bend by bend where it differs; empty where it is not known."""
    known = [(step.bend, format_angle(2 * step.stop_sd)) for step in steps if step.stop_sd is not None]
    if not known:
        return ""
    if len({within for _, within in known}) == 1:
        return f"{'Each' if len(known) > 1 else 'The'} stop is good to ± {known[0][1]} degrees"
    each = listed([f"± {within} degrees at bend {bend}" for bend, within in sorted(known)])
    return f"The stops are good to {each}"


def _degrees(angle: float) -> str:
    """An angle in degrees to be set: whole ones without a decimal."""
    return format_angle(angle).removesuffix(".0")


def _turn(rotation: float) -> str:
    return turn_text(rotation, _degrees(abs(rotation)))


def _turns_table(making: Making, units: Units) -> Table:
    columns = (
        Column("bend"),
        Column("new line", f"{COUNTED_IN[units]}, from the tail"),
        Column("line in all", "from the tail"),
        Column("seam, degrees", "off the side"),
    )
    rows = [(str(step.bend), _line_shift(step, units), _turn(step.running), _seam_text(step)) for step in making.steps]
    return Table(columns, tuple(rows))


def _levels_table(making: Making) -> Table:
    columns = (Column("bend"), Column("level reads", "degrees", loud=True), Column("on leg"), Column("the leg points"))
    rows = [(str(step.bend), *_level_texts(step.level)) for step in making.steps if step.zero is not None]
    return Table(columns, tuple(rows))


def _line_shift(step: Step, units: Units) -> str:
    if step.zero is None:
        return "reference"
    side = side_of(step.line)
    return side if side in ("same line", "opposite") else f"{length_text(step.arc, units)} {side} of bend {step.zero}'s"


def _seam_text(step: Step) -> str:
    degrees = math.degrees(step.seam)
    if degrees < 0.5:
        return "0"
    toward = "" if step.seam_toward is None else f", {step.seam_toward}"
    return f"{degrees:.0f}{toward}"


def _level_texts(level: LevelReading | None) -> tuple[str, str, str]:
    """What a level reads, on which leg, and which way that points."""
    if level is None:
        return "cannot tell", "", ""
    ways = (level.points, "past plumb" if level.past_plumb else None, level.sideways)
    return format_angle(level.reads), str(level.leg), ", ".join(way for way in ways if way)


def _check_blocks(
    checks: Checks, making: Making, ends: tuple[str, str], units: Units, met: Sequence[EndMet]
) -> Iterator[Block]:
    yield Heading("Check, then trim")
    plain = _trims_text(making, ends, units, met)
    apart, longest = (length_with_unit(mm, units, decimals=1) for mm in (checks.end_to_end, checks.longest))
    if met:
        from plumbend_cli.ends_page import ends_blocks  # only a page with such ends pays for it

        if plain:
            yield Paragraph(f"{plain}, once the part has been offered up.", lead="- ")
        yield from ends_blocks(met, making, units)
        yield Paragraph(f"From where the centreline stops to where it stops at the other end: {apart}.", lead="- ")
    else:
        yield Paragraph(
            f"{plain}, once the part has been offered up. The check sizes are for the trimmed part.", lead="- "
        )
        yield Paragraph(f"End to end, middle to middle: {apart}. Longest, outside to outside: {longest}.", lead="- ")
    marks = length_with_unit(2 * MARK_SD, units, parts=64)
    lying = checks.lying
    if lying is None:
        yield Paragraph(
            f"On a table it lies flat, or so nearly that its hand does not show: mark the side that the line is on at "
            f"bend {making.steps[0].bend}, where a hand matters.",
            lead="- ",
        )
    else:
        blocks = f"on three equal blocks of {length_with_unit(lying.blocks, units)} or more" if lying.blocks else "flat"
        over = "the blocks" if lying.blocks else "the table"
        tops = "; ".join(f"{name} {length_with_unit(mm, units, decimals=1)}" for name, mm in lying.tops)
        yield Paragraph(
            f"Lay it {blocks}, on {', '.join(lying.on[:2])} and {lying.on[2]}, with {lying.highest} up. "
            f"Top of the tube over {over}: {tops}.",
            lead="- ",
        )
        yield Paragraph(
            f"The hand: lying so, and looking along the tube from the {ends[0]} end, bend {lying.bend} turns to the "
            f"{lying.turns.upper()}. If it turns the other way, the part is the mirror of the one wanted.",
            lead="- ",
            loud=True,
        )
    yield Paragraph(
        f"Made blind with usual care (marks {marks}, bends 1 degree, turns 2 degrees), the {ends[1]} end comes out "
        f"within {length_with_unit(checks.miss, units)} of its place 19 times of 20. "
        "Measure every bend as you make it.",
        lead="- ",
    )
