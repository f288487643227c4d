"""Dies read from their tables, and the die that a tube is to be bent on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from plumbend.errors import BadText
from plumbend.job.checking import read_table
from plumbend.job.places import Mistakes, Spot, called
from plumbend.job.tables import DieTable
from plumbend.job.values import Reading
from plumbend.shop import Die
from plumbend.units import MM_PER_INCH, Units, format_length, length_with_unit, parse_length

SAME_SIZE = 0.05
"""mm; two typed sizes nearer than this are one, so that 1.66 in and 42.16 mm are."""


def read_dies(rows: Sequence[Mapping[str, Any]], top: Spot, units: Units | None, mistakes: Mistakes) -> list[Die]:
    """The dies of ``[[die]]`` tables; those without a usable clr are left out, with their mistakes noted.

    ``units`` are None where the file fails to say them: sizes are then not compared.
    """
    dies: list[Die] = []
    reading = Reading(units or "mm")
    for index, row in enumerate(rows):
        spot = top.within(("die", index), called("die", row.get("name"), index + 1))
        table = read_table(DieTable, row, spot, reading, mistakes)
        if table.clr is None:
            continue
        if units is not None and table.od is not None and table.clr < table.od / 2:
            what = f'"{spot.as_typed(("clr",), row["clr"])}" is under half the OD'
            mistakes.add(spot, ("clr",), what, "Is it the radius, to the middle of the tube?")
        die = Die(
            name=table.name or spot.as_typed(("clr",), row["clr"]),
            clr=table.clr,
            od=table.od,
            bent_clr=table.bent_clr,
            max_wrap=table.max_wrap,
            grip=table.grip,
        )
        if any(other.name == die.name for other in dies):
            mend = "Give each die a name of its own."
            mistakes.add(spot, ("name",), f'there are two dies called "{die.name}"', mend)
        dies.append(die)
    return dies


def choose_die(
    choice: str | float | None,
    dies: Sequence[Die],
    od: float | None,
    spot: Spot,
    units: Units,
    mistakes: Mistakes,
) -> Die | None:
    """The die that a tube names, by name or else by clr; or the only one that fits its OD.

    A die that is named is taken even if it does not fit: whoever solves the tube says so. None, with the
    mistake noted, where no die or more than one would do.
    """
    if not dies:
        mend = 'Name the shop file, as in shop = "shop.toml", or write a [[die]] table.'
        mistakes.add(spot, ("die",) if choice is not None else (), "there are no dies to bend it on", mend)
        return None
    if choice is None:
        return _only_die(_that_fit(dies, od), dies, od, spot, units, mistakes)
    for die in dies:
        if die.name == choice:
            return die
    typed = spot.as_typed(("die",), choice)
    try:
        clr = parse_length(choice, units)
    except BadText:
        found = []
    else:
        found = [die for die in dies if abs(die.clr - clr) <= SAME_SIZE]
    if len(found) > 1:
        found = _that_fit(found, od) or found
    if len(found) == 1:
        return found[0]
    if found:
        what = f'"{typed}" is the radius of {len(found)} dies: {_listed(found, units)}'
        mistakes.add(spot, ("die",), what, "Name the one to use.")
    else:
        mend = f"There are: {_listed(dies, units)}."
        mistakes.add(spot, ("die",), f'"{typed}" is neither the name nor the radius of a die', mend)
    return None


def _that_fit(dies: Sequence[Die], od: float | None) -> list[Die]:
    """Dies for tube of this OD, and those that do not say theirs."""
    return [die for die in dies if die.od is None or od is None or abs(die.od - od) <= SAME_SIZE]


def _only_die(
    fitting: list[Die], dies: Sequence[Die], od: float | None, spot: Spot, units: Units, mistakes: Mistakes
) -> Die | None:
    if len(fitting) == 1:
        return fitting[0]
    if fitting:
        what = f"the tube does not name its die, and {len(fitting)} would do: {_listed(fitting, units)}"
        mistakes.add(spot, (), what, f'Name one, such as die = "{fitting[0].name}".')
    elif od is not None:
        what = f"no die takes tube of {_size(od, units)} OD"
        mistakes.add(spot, (), what, f"There are: {_listed(dies, units)}.")
    return None


def _listed(dies: Sequence[Die], units: Units) -> str:
    return "; ".join(_described(die, units) for die in dies)


def _described(die: Die, units: Units) -> str:
    takes = "any tube" if die.od is None else f"{_size(die.od, units)} OD"
    return f'"{die.name}" ({_size(die.clr, units)} clr, {takes})'


def _size(mm: float, units: Units) -> str:
    """A size as stamped: in mm, or in inches where they come out even in 64ths."""
    parts = mm / MM_PER_INCH * 64
    if units == "in" and abs(parts - round(parts)) < 1e-6:
        return length_with_unit(mm, "in", parts=64)
    return f"{format_length(mm, 'mm', decimals=1).removesuffix('.0')} mm"
