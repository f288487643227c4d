"""What a page says of the numbers to set: the table to bend by, and what it costs that tape and dial have steps."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from plumbend.making.legible import Legible, PointCost
from plumbend.shape.certainty import Certainty
from plumbend.units import MM_PER_INCH, Units, format_angle, format_length
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table
from plumbend_cli.program_page import COUNTED_IN, length_text, rows_and_turns, straight_alone, turn_text

SET_HEADING = "Numbers to set"
EXACT_HEADING = "Exact numbers, and how well they are known"
_PARTS = (1, 2, 4, 8, 16, 32, 64)
_NO_MORE = 0.4  # mm; half of what the page can show of a miss, in either unit


def legible_blocks(
    legible: Legible,
    ends: tuple[str, str],
    units: Units,
    certainty: Certainty | None = None,
    *,
    start_leads: bool = True,
) -> Iterator[Block]:
    """The numbers to set as rows, how they are read, and what they cost.

    Args:
        legible: the numbers.
        ends: what the start end and the far end are called, such as ("A end", "F end").
        units: what lengths are written in.
        certainty: how well the exact numbers are known; a straight that nothing fixes is not asked for.
        start_leads: whether the start end goes through the die at every bend.
    """
    yield Heading(SET_HEADING)
    yield _rows(legible, ends, units, certainty)
    if legible.marks is not None and legible.program.bends:
        yield Paragraph(
            f"All marks are measured from the {ends[0]} of the straight tube. The last row is where the {ends[1]} "
            "comes to lie on it: no saw length, leave tail and trim beyond it."
        )
    yield from rows_and_turns(legible.program.bends, ends, start_leads=start_leads)
    yield from cost_blocks(legible, units)


def cost_blocks(legible: Legible, units: Units) -> Iterator[Block]:
    """What it costs that tape and dial have steps, at every point where it can be seen."""
    yield Paragraph(_cost_text(legible, units))
    if any(_more(point, miss) > _NO_MORE for point in legible.points for miss in (point.legible, point.plain)):
        yield _costs(legible.points, units)


def _rows(legible: Legible, ends: tuple[str, str], units: Units, certainty: Certainty | None) -> Table:
    step = legible.steps.length
    counted = COUNTED_IN[units] if _is_of(step, units) else ""
    if legible.marks is None or not legible.program.bends:  # a straight tube has nothing to mark
        length = Column("straight", counted, numeric=True, loud=True)
        known = np.zeros(legible.program.bends + 1) if certainty is None else certainty.straights
        free = [
            math.isnan(sd) and (certainty is None or f"straight-{k}" not in certainty.held)
            for k, sd in enumerate(known.tolist(), 1)
        ]
        lengths = [
            "not fixed" if any_will_do else _tape_text(mm, step, units)
            for mm, any_will_do in zip(legible.program.straights.tolist(), free, strict=True)
        ]
        last = "last"
    else:
        length = Column("pen mark", f"{counted} from {ends[0]}".strip(), numeric=True, loud=True)
        assert legible.far_end is not None
        lengths = [_tape_text(mm, step, units) for mm in (*legible.marks.tolist(), legible.far_end)]
        last = ends[1]
    bend = (
        Column("bend", "from straight", numeric=True, loud=True)
        if legible.stops is None
        else Column("stop at", "on the pointer", numeric=True, loud=True)
    )
    columns = (Column("step"), length, Column("turn", "degrees, from the tail", loud=True), bend)
    turns = ["none", *(turn_text(turn, _dial_text(abs(turn), legible.steps.rotation)) for turn in _turns(legible))]
    angles = legible.program.angles if legible.stops is None else legible.stops
    bends = [_dial_text(angle, legible.steps.angle) for angle in angles.tolist()]
    rows = [(str(k), *row) for k, row in enumerate(zip(lengths, turns, bends, strict=False), start=1)]
    table = Table(columns, (*rows, (last, lengths[-1], "", "")))
    return table if legible.program.bends else straight_alone(table, 2)


def _turns(legible: Legible) -> list[float]:
    turns: list[float] = legible.program.rotations[1:].tolist()
    return turns


def _parts_of(step: float) -> int | None:
    """Into how many parts an inch is divided by a tape of a ``step`` in mm; None for a metric one."""
    return next((n for n in _PARTS if abs(step * n / MM_PER_INCH - round(step * n / MM_PER_INCH)) < 1e-6), None)


def _is_of(step: float, units: Units) -> bool:
    """Whether a tape of a ``step`` in mm shows these units."""
    return (_parts_of(step) is None) == (units == "mm")


def _tape_text(mm: float, step: float, units: Units) -> str:
    """A length as the tape shows it; with its unit where the page is in the other."""
    parts = _parts_of(step)
    text = f"{mm:.{_decimals(step)}f}" if parts is None else format_length(mm, "in", parts)
    return text if _is_of(step, units) else f"{text} {'mm' if parts is None else 'in'}"


def _dial_text(angle: float, step: float) -> str:
    """An angle in degrees as a dial of this ``step`` shows it."""
    return format_angle(angle, _decimals(math.degrees(step)))


def _decimals(step: float) -> int:
    """Decimals that multiples of a step have, at most three."""
    return next((n for n in range(3) if abs(step * 10**n - round(step * 10**n)) < 1e-6), 3)


def _cost_text(legible: Legible, units: Units) -> str:
    nearest = "Of all that tape and dial can show, these numbers together fit best what was measured."
    if not legible.points:
        return nearest
    ours = max(_more(point, point.legible) for point in legible.points)
    rounded = max(_more(point, point.plain) for point in legible.points)
    said = f"{nearest} With them the tube passes {_by(ours, units)} than with the exact numbers below."
    if _size(rounded, units) == _size(ours, units) or rounded <= _NO_MORE:
        return said
    return f"{said} Each number rounded by itself would make that {_size(rounded, units)}."


def _by(more: float, units: Units) -> str:
    return "no point farther off" if more <= _NO_MORE else f"no point more than {_size(more, units)} farther off"


def _size(more: float, units: Units) -> str:
    return f"{length_text(more, units, parts=32)} {units}"


def _more(point: PointCost, miss: float) -> float:
    """How much farther than by the exact numbers a point is missed, mm."""
    return abs(miss) - abs(point.exact)


def _costs(points: tuple[PointCost, ...], units: Units) -> Table:
    columns = (
        Column("point"),
        Column("exact", COUNTED_IN[units], numeric=True),
        Column("numbers to set", COUNTED_IN[units], numeric=True),
        Column("each rounded", COUNTED_IN[units], numeric=True),
    )
    rows = [
        (
            point.name,
            *(length_text(abs(miss), units, parts=32) for miss in (point.exact, point.legible, point.plain)),
        )
        for point in points
    ]
    return Table(columns, tuple(rows))
