"""The page of ``plumbend convert``: a program from corners, or corners from a program."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from plumbend.errors import Refused
from plumbend.frames import FloatArray
from plumbend.making.corners import corners_from_program, program_from_corners
from plumbend.shape.program import Program
from plumbend.units import Units, length_with_unit
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table
from plumbend_cli.program_page import place_columns, place_texts, program_blocks, size_text

ENDS = ("start end", "far end")
_MOST_TOLD = 3
_TOUCHING = 1e-6  # mm; bends that meet without a straight between them still fit


def convert_page(name: str, shape: FloatArray | Program, radius: float, units: Units) -> Iterator[Block]:
    """The page of one converted shape.

    Args:
        name: where the shape comes from.
        shape: corners (n + 2, 3) in mm, or a program.
        radius: centreline radius of the bends, mm.
        units: what lengths are written in.

    Raises:
        Refused: the bends do not fit between the corners.
    """
    if isinstance(shape, Program):
        program, corners = shape, corners_from_program(shape, radius)
    else:
        program, corners = program_from_corners(shape, radius), shape
        _refuse_overlaps(program, units)
    yield Heading(f"{name}, centreline radius {size_text(radius, units)}", level=1)
    yield from program_blocks(program, radius, ENDS, units)
    yield Heading("Corners")
    yield _corners(corners, units)
    if program is shape:
        yield Paragraph("The first leg runs forward, and the first bend turns to the left.")
    yield Paragraph("Arithmetic alone: nothing was checked against a die, a clamp or a bender.")


def _refuse_overlaps(program: Program, units: Units) -> None:
    """Corners too close for their bends give a straight below nothing; how far below is what is missing."""
    short = [(k, -mm) for k, mm in enumerate(program.straights.tolist(), start=1) if mm < -_TOUCHING]
    if short:
        listed = "; ".join(f"straight {k} by {length_with_unit(mm, units, 32, 1)}" for k, mm in short[:_MOST_TOLD])
        if len(short) > _MOST_TOLD:
            listed += f"; and {len(short) - _MOST_TOLD} more"
        raise Refused(
            f"The bends do not fit between the corners: too short is {listed}. "
            "Move those corners apart, or take a die of smaller radius."
        )


def _corners(corners: FloatArray, units: Units) -> Table:
    names = (ENDS[0], *(f"bend {k}" for k in range(1, len(corners) - 1)), ENDS[1])
    rows = [
        (name, *(("too far off", "", "") if np.isnan(corner).any() else place_texts(corner, units)))
        for name, corner in zip(names, corners, strict=True)
    ]
    return Table((Column("corner"), *place_columns(units)), tuple(rows))
