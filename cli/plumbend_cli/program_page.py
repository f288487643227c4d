"""What every page says of a bend program: its rows, where its bends start, its finished length."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator

import numpy as np

from plumbend.frames import FloatArray
from plumbend.shape.certainty import Certainty
from plumbend.shape.program import Program
from plumbend.units import MM_PER_INCH, Axis, Units, format_angle, format_length, format_place, length_with_unit
from plumbend_cli.known import Known, known_angle, known_length
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table

TANGENT_HEADING = "bend starts here (tangent): not the line for your bender"
VIEWPOINT = "clockwise, looking from the tail to the die, with the bent part beyond the die"
VIEWPOINT_HOLDS = (
    "That holds from either end, and for benders that swing to either side; with the bent part on the tail's "
    "side of the die every turn goes the other way."
)
WITHIN = "Each ± holds for 19 measurings of 20, if the accuracies given are right."
COUNTED_IN: dict[Units, str] = {"in": "inches", "mm": "mm"}
AXES: tuple[Axis, Axis, Axis] = ("forward", "left", "up")
_SIXTEENTH = MM_PER_INCH / 16
_SAME_SIZE = 0.02  # mm; well below the tolerance of any tube


def length_text(mm: float, units: Units, parts: int = 16) -> str:
    """A length without its unit: inches to the nearest 1/``parts``, or mm to 0.1."""
    return format_length(mm, units, parts=parts, decimals=1)


def size_text(mm: float, units: Units) -> str:
    """A size that is bought, not measured: inches as a fraction only where they are one, else 0.095 in."""
    if units == "in" and abs(mm - round(mm / _SIXTEENTH) * _SIXTEENTH) < _SAME_SIZE:
        return length_with_unit(mm, units)
    value = f"{mm:.2f}" if units == "mm" else f"{mm / MM_PER_INCH:.3f}"
    return f"{value.rstrip('0').rstrip('.')} {units}"


def place_columns(units: Units) -> Iterator[Column]:
    """The three columns of a place in vehicle axes."""
    return (Column(axis, COUNTED_IN[units], numeric=True) for axis in AXES)


def place_texts(place: FloatArray, units: Units) -> Iterator[str]:
    """A place (3,) in mm as text for those columns."""
    return (format_place(mm, units, axis, decimals=1) for axis, mm in zip(AXES, place.tolist(), strict=True))


def turn_text(rotation: float, size: str | None = None) -> str:
    """How far to turn the tube, and which way; the viewpoint stands in the column's head.

    ``size`` is the turn's size as text where its own rounding will not do.
    """
    size = format_angle(abs(rotation)) if size is None else size
    if float(size) == 0:
        return size
    if float(size) == 180:
        return f"{size} either way"
    return f"{size} {'clockwise' if rotation > 0 else 'counter-clockwise'}"


def program_blocks(
    program: Program,
    radius: float,
    ends: tuple[str, str],
    units: Units,
    certainty: Certainty | None = None,
    *,
    is_set: bool = True,
    tangents: bool = True,
    start_leads: bool = True,
) -> Iterator[Block]:
    """The program as rows, where its bends start, and its finished length.

    Args:
        program: straights in mm, rotations and angles in radians.
        radius: centreline radius of the finished bends, mm.
        ends: what the start end and the far end are called, such as ("A end", "F end").
        units: what lengths are written in.
        certainty: how well the numbers are known; None where nothing was measured, and then no ± is shown.
        is_set: these are the numbers to bend by; False where others are, which stand before them.
        tangents: whether to show where bends start; not where pen marks are shown.
        start_leads: whether the start end goes through the die at every bend.
    """
    yield _rows(program, units) if certainty is None else _known_rows(program, units, certainty, loud=is_set)
    if is_set:
        yield from rows_and_turns(program.bends, ends, start_leads=start_leads)
    if certainty is not None:
        yield Paragraph(WITHIN)
    if program.bends and tangents:
        yield Heading(TANGENT_HEADING)
        yield _tangents(program, radius, ends, units, certainty)
        yield Paragraph(
            "Along the straight tube, from each end to the side of the bend that it meets first. "
            "The two places are one bend's length apart."
        )
    yield Paragraph(_finished_text(program.developed_length(radius), units, certainty))


def rows_and_turns(bends: int, ends: tuple[str, str], *, start_leads: bool = True) -> Iterator[Block]:
    """How the rows of a program of so many bends are read: from which end, and seen from where it is turned."""
    if bends and start_leads:
        yield Paragraph(f"Rows run from the {ends[0]}, which goes through the die first; the {ends[1]} is the tail.")
    elif bends:
        yield Paragraph(f"Rows run from the {ends[0]} to the {ends[1]}; the order of bending stands below.")
    if bends > 1:
        yield Paragraph(f"Turn the tube clockwise or counter-{VIEWPOINT}. {VIEWPOINT_HOLDS}")


def _finished_text(mm: float, units: Units, certainty: Certainty | None) -> str:
    if certainty is not None and math.isnan(certainty.developed_length):
        return "The finished length is not fixed, since an end is not: no length is given."
    if certainty is None:
        length = length_with_unit(mm, units, decimals=1)
    else:
        known = known_length(mm, certainty.developed_length, units)
        length = f"{known.value} ± {known.within} {units}"
    return f"Finished centreline, end to end: {length}. Not a saw length: nothing is added for grip, tail or trim."


def straight_alone(table: Table, columns: int) -> Table:
    """The table of a tube without bends: its only row, and the first ``columns``, those of the straight."""
    return Table(table.columns[:columns], (("1", *table.rows[-1][1:columns]),))


def _rows(program: Program, units: Units) -> Table:
    columns = (
        Column("step"),
        Column("straight", COUNTED_IN[units], numeric=True, loud=True),
        Column("turn", "degrees, from the tail", loud=True),
        Column("bend", "from straight", numeric=True, loud=True),
    )
    straights = [length_text(straight, units) for straight in program.straights]
    turns = ["none", *map(turn_text, program.rotations[1:])]
    bends = map(format_angle, program.angles)
    rows = [(str(k), *row) for k, row in enumerate(zip(straights, turns, bends, strict=False), start=1)]
    table = Table(columns, (*rows, ("last", straights[-1], "", "")))
    return table if program.bends else straight_alone(table, 2)


def _known_rows(program: Program, units: Units, certainty: Certainty, *, loud: bool) -> Table:
    held = certainty.held
    columns = (
        Column("step"),
        Column("straight", COUNTED_IN[units], numeric=True, loud=loud),
        Column("±"),
        Column("turn", "degrees, from the tail", loud=loud),
        Column("±"),
        Column("bend", "from straight", numeric=True, loud=loud),
        Column("±"),
    )
    straights = [
        _or_words(f"straight-{k}", sd, held, length_text(mm, units), known_length(mm, _number(sd), units))
        for k, (mm, sd) in enumerate(zip(program.straights.tolist(), certainty.straights.tolist(), strict=True), 1)
    ]
    turns = [("none", "")]
    for k, (turn, sd) in enumerate(zip(program.rotations.tolist(), certainty.rotations.tolist(), strict=True), 1):
        if k > 1:
            known = known_angle(abs(turn), _number(sd))
            turns.append(
                _or_words(f"turn-{k}", sd, held, turn_text(turn), Known(turn_text(turn, known.value), known.within))
            )
    bends = [
        _or_words(f"bend-{k}", sd, held, format_angle(angle), known_angle(angle, _number(sd)))
        for k, (angle, sd) in enumerate(zip(program.angles.tolist(), certainty.angles.tolist(), strict=True), 1)
    ]
    rows = [(str(k), *s, *t, *b) for k, (s, t, b) in enumerate(zip(straights, turns, bends, strict=False), start=1)]
    table = Table(columns, (*rows, ("last", *straights[-1], "", "", "", "")))
    return table if program.bends else straight_alone(table, 3)


def _or_words(name: str, sd: float, held: Collection[str], plain: str, known: Known) -> tuple[str, str]:
    """A number and its ±; in words where a limit holds it or nothing fixes it."""
    if sd == 0:  # told, not measured
        return plain, ""
    if not math.isnan(sd):
        return known
    return (plain, "held") if name in held else ("not fixed", "")


def _number(sd: float) -> float:
    return 0.0 if math.isnan(sd) else sd


def _tangents(
    program: Program, radius: float, ends: tuple[str, str], units: Units, certainty: Certainty | None
) -> Table:
    arcs = radius * program.angles
    from_start = np.cumsum(program.straights[:-1]) + np.cumsum(arcs) - arcs
    from_far = program.developed_length(radius) - from_start - arcs
    columns = [Column("bend")]
    for end in ends:
        columns.append(Column(f"from {end}", COUNTED_IN[units], numeric=True))
        if certainty is not None:
            columns.append(Column("±"))
    rows = []
    for k, places in enumerate(zip(from_start.tolist(), from_far.tolist(), strict=True)):
        row = [str(k + 1)]
        for side, mm in enumerate(places):
            if certainty is None:
                row.append(length_text(mm, units))
            else:
                row.extend(_known_place(mm, float(certainty.tangents[k, side]), units))
        rows.append(tuple(row))
    return Table(tuple(columns), tuple(rows))


def _known_place(mm: float, sd: float, units: Units) -> tuple[str, str]:
    """Where a bend starts and its ±; nothing but straights and bends that a limit holds makes it sure."""
    if math.isnan(sd):
        return "not fixed", ""
    return (length_text(mm, units), "held") if sd == 0 else known_length(mm, sd, units)
