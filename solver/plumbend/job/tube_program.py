"""A bend program typed as rows of straight, turn, bend."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from plumbend.job.checking import read_table
from plumbend.job.places import Mistakes, Spot
from plumbend.job.tables import ProgramRow
from plumbend.job.values import MOST_BENDS, Reading
from plumbend.shape.program import Program


def read_program_rows(
    rows: Sequence[tuple[dict[str, Any], Spot]], whole: Spot, reading: Reading, mistakes: Mistakes
) -> Program | None:
    """The program of rows from the start end, the last one a straight alone; None with the mistakes noted."""
    read = [(read_table(ProgramRow, row, spot, reading, mistakes), spot) for row, spot in rows]
    if not read:
        mistakes.add(whole, (), "the program has no rows", "Type a row for each bend and one for the last straight.")
        return None
    if len(read) - 1 > MOST_BENDS:
        mistakes.add(whole, (), f"the program has {len(read) - 1} bends", f"{MOST_BENDS} is the most.")
        return None
    (first, first_spot), (last, last_spot) = read[0], read[-1]
    if first.turn:
        mend = "A tube is not turned before its first bend: leave the turn out."
        mistakes.add(first_spot, ("turn",), "the first row has a turn", mend)
    key = "bend" if last.says("bend") else "turn" if last.turn and last is not first else None
    if key:
        mend = "Add a row for the straight after the last bend, with nothing but its straight."
        mistakes.add(last_spot, (key,), f"the last row has a {key}", mend)
    for row, spot in read[:-1]:
        if not row.says("bend"):
            mistakes.add(spot, (), '"bend" is missing', "Only the last row is a straight alone.")
    straights = [row.straight for row, _ in read if row.straight is not None]
    angles = [row.bend for row, _ in read[:-1] if row.bend is not None]
    if len(straights) < len(read) or len(angles) < len(read) - 1 or first.turn:
        return None
    turns = [row.turn or 0.0 for row, _ in read[:-1]]
    return Program(np.array(straights), np.array(turns), np.array(angles))
