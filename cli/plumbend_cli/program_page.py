"""What every page says of a bend program: its rows, where its bends start, its finished length."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from plumbend.frames import FloatArray
from plumbend.shape.program import Program
from plumbend.units import (
    MM_PER_INCH,
    Axis,
    Units,
    format_angle,
    format_length,
    format_place,
    length_with_unit,
)
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table

TANGENT_HEADING = "bend starts here (tangent): not the line for your bender"
VIEWPOINT = "clockwise, looking from the tail to the die, with the bent part beyond the die"
VIEWPOINT_HOLDS = (
    "That holds from either end, and for benders that swing to either side; with the bent part on the tail's "
    "side of the die every turn goes the other way."
)
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


def turn_text(rotation: float) -> str:
    """How far to turn the tube, and which way; the viewpoint stands in the column's head."""
    size = format_angle(abs(rotation))
    if size == format_angle(0.0):
        return size
    if size == format_angle(math.pi):
        return f"{size} either way"
    return f"{size} {'clockwise' if rotation > 0 else 'counter-clockwise'}"


def program_blocks(program: Program, radius: float, ends: tuple[str, str], units: Units) -> Iterator[Block]:
    """The program as rows, where its bends start, and its finished length.

    Args:
        program: straights in mm, rotations and angles in radians.
        radius: centreline radius of the finished bends, mm.
        ends: what the start end and the far end are called, such as ("A end", "F end").
        units: what lengths are written in.
    """
    yield _rows(program, units)
    if program.bends:
        yield Paragraph(f"Rows run from the {ends[0]}, which goes through the die first; the {ends[1]} is the tail.")
    if program.bends > 1:
        yield Paragraph(f"Turn the tube clockwise or counter-{VIEWPOINT}. {VIEWPOINT_HOLDS}")
    if program.bends:
        yield Heading(TANGENT_HEADING)
        yield _tangents(program, radius, ends, units)
        yield Paragraph(
            "Along the straight tube, from each end to the side of the bend that it meets first. "
            "The two places are one bend's length apart."
        )
    length = length_with_unit(program.developed_length(radius), units, decimals=1)
    yield Paragraph(
        f"Finished centreline, end to end: {length}. Not a saw length: nothing is added for grip, tail or trim."
    )


def _rows(program: Program, units: Units) -> Table:
    columns = (
        Column("step"),
        Column("straight", COUNTED_IN[units], numeric=True, loud=True),
        Column("turn", "degrees, seen from the tail", loud=True),
        Column("bend", "degrees from straight", numeric=True, loud=True),
    )
    straights = [length_text(straight, units) for straight in program.straights]
    turns = ["none", *map(turn_text, program.rotations[1:])]
    bends = map(format_angle, program.angles)
    rows = [(str(k), *row) for k, row in enumerate(zip(straights, turns, bends, strict=False), start=1)]
    return Table(columns, (*rows, ("last", straights[-1], "", "")))


def _tangents(program: Program, radius: float, ends: tuple[str, str], units: Units) -> Table:
    arcs = radius * program.angles
    from_start = np.cumsum(program.straights[:-1]) + np.cumsum(arcs) - arcs
    from_far = program.developed_length(radius) - from_start - arcs
    columns = (
        Column("bend"),
        *(Column(f"from {end}", COUNTED_IN[units], numeric=True) for end in ends),
    )
    rows = [
        (str(k), length_text(near, units), length_text(far, units))
        for k, (near, far) in enumerate(zip(from_start, from_far, strict=True), start=1)
    ]
    return Table(columns, tuple(rows))
