"""The table of what each of several dies would cost; only a tube that names none pays for it."""

from __future__ import annotations

from collections.abc import Iterator

from plumbend.job.die_choice import DieCost
from plumbend.job.results import TubeResult
from plumbend.tubing import Tubing
from plumbend.units import MM_PER_INCH, Units
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table
from plumbend_cli.program_page import COUNTED_IN, length_text, size_text


def dies_blocks(tube: TubeResult, tubing: Tubing, units: Units) -> Iterator[Block]:
    """The question, and the table to answer it from; the dies stand in the order of the shop."""
    yield from (Paragraph(notice.text, loud=True) for notice in tube.notices)
    yield Heading("What each die would cost")
    columns = [
        Column("die", loud=True),
        Column("radius", numeric=True),
        Column("radius over OD", numeric=True),
        Column("wall thins to", "outside of bend", numeric=True),
    ]
    measured = any(cost.worst is not None for cost in tube.dies)
    if measured:
        columns += [Column("passes by", COUNTED_IN[units], numeric=True, loud=True), Column("worst at")]
    columns.append(Column("can be bent"))
    yield Table(tuple(columns), tuple(_row(cost, tubing, units, measured=measured) for cost in tube.dies))
    for cost in tube.dies:
        for name in cost.left_out:
            yield Paragraph(f"On die {cost.die.name} {name} would have to be wrong, and is left out.", lead="- ")
        for text in cost.refusals:
            yield Paragraph(f"On die {cost.die.name}: {text}", lead="- ")
    yield Paragraph(
        "The largest miss says how far the tube passes from what was measured. A tighter bend thins the wall on its "
        "outside more, as a shop rule: half the OD over the radius of the bend's outside. A rule book may ask for a "
        "least radius over OD. The choice is yours; none is made for you."
    )


def _row(cost: DieCost, tubing: Tubing, units: Units, *, measured: bool) -> tuple[str, ...]:
    left = 1.0 - cost.thinning
    wall = f"{100 * left:.0f}%" if tubing.wall is None else _wall(tubing.wall * left, units)
    row = [cost.die.name, size_text(cost.die.clr, units), f"{cost.clr_over_od:.1f}", wall]
    if measured:
        row += ["" if cost.worst is None else length_text(cost.worst, units, parts=32), cost.worst_point or ""]
    return (*row, "no" if cost.refusals else "yes")


def _wall(mm: float, units: Units) -> str:
    return f"{mm:.1f} mm" if units == "mm" else f"{mm / MM_PER_INCH:.3f} in"
