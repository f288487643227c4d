"""What the readings come to so far: a table of places, and where they lie seen from above."""

from __future__ import annotations

from collections.abc import Sequence

from plumbend.units import Axis, Units, format_place
from plumbend_cli.known import known_length
from plumbend_cli.page import Column, Table
from plumbend_cli.program_page import AXES, COUNTED_IN
from plumbend_cli.session.picture import Dot
from plumbend_cli.session.standing import Standing

OPEN = "?"


def table_of(names: Sequence[str], standing: Standing, units: Units) -> Table:
    """A row for each place: forward, left and up with their ±, "?" for what is still open."""
    columns = (Column("place"), *(Column(axis, COUNTED_IN[units], numeric=True) for axis in AXES))
    rows = []
    for name in names:
        known = {axis: _figure(mm, doubt, units, axis) for axis, mm, doubt in standing.figures(name)}
        rows.append((name, *(known.get(axis, OPEN) for axis in AXES)))
    return Table(columns, tuple(rows))


def _figure(mm: float, doubt: float, units: Units, axis: Axis) -> str:
    text = format_place(mm, units, axis, decimals=1)
    return text if doubt == 0 else f"{text} ± {known_length(mm, doubt, units).within}"


def dots_of(standing: Standing) -> list[Dot]:
    """Every place whose forward and left are known."""
    tube_of = {point.name: point.tube for point in standing.half.points}
    dots = []
    for place in standing.half.places:
        known = {axis: mm for axis, mm, _ in standing.figures(place.name)}
        if "forward" in known and "left" in known:
            dots.append(Dot(place.name, known["forward"], known["left"], place.base, tube_of.get(place.name)))
    return dots
