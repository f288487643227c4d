"""Dies read from their tables, and the die that a tube is to be bent on."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from plumbend.errors import BadText
from plumbend.job.checking import read_table
from plumbend.job.places import Mistakes, Spot, called
from plumbend.job.tables import DieTable
from plumbend.job.values import Reading, in_other_unit
from plumbend.shop import Die
from plumbend.typed import parse_length
from plumbend.units import MM_PER_INCH, Units, check_tube_size, format_length, in_both_units, length_with_unit

SAME_SIZE = 0.05
"""mm; two typed sizes nearer than this are one, so that 1.66 in and 42.16 mm are."""
_LARGEST = 1000.0
"""mm; no shop has a die of a larger radius, or clamps more of a tube. Not from a source."""
_FARTHEST_OFFSET = 300.0
"""mm; references of benders lie some 5 to over 100 mm from the tangent (common practice, no source)."""
_MOST_STRETCH = 0.15
"""Of the arc; a bend stretches by a few hundredths (common practice, no source)."""
_TOO_LARGE = {"reference_offset": "over 300 mm", "stock_per_degree": "too much"}
_TIGHTEST = 0.9
"""Of the OD; tubes are bent to a radius of 1 x OD at the tightest, and sizes are typed as they are called."""


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
        if units is not None:
            _ask_back(table, row, spot, units, mistakes)
        if table.test_bends:
            from plumbend.job.test_bends import read_test_bends  # a shop without test bends does not pay for them

            read_test_bends(table.test_bends, spot, table.clr, table.od, reading, mistakes)
        springback, calibrated = table.springback, None
        retyped: tuple[str, ...] = ()
        if table.calibrated is not None or table.earlier:
            from plumbend.job.calibrated import read_calibrated, read_earlier  # few dies carry these

            told = read_calibrated(table, spot, reading, mistakes)
            calibrated, retyped = told.date, told.retyped
            if springback is not None:
                springback = replace(springback, doubts=told.doubts)
            read_earlier(table.earlier or [], spot, reading, mistakes)
        die = Die(
            name=table.name or spot.as_typed(("clr",), row["clr"]),
            clr=table.clr,
            od=table.od,
            bent_clr=table.bent_clr,
            max_wrap=table.max_wrap,
            grip=table.grip,
            tail=table.tail,
            reference_offset=table.reference_offset,
            springback=springback,
            stock_per_radian=None if table.stock_per_degree is None else math.degrees(table.stock_per_degree),
            retyped=retyped,
            calibrated=calibrated,
        )
        if any(other.name == die.name for other in dies):
            mend = "Give each die a name of its own."
            mistakes.add(spot, ("name",), f'there are two dies called "{die.name}"', mend)
        dies.append(die)
    return dies


def _ask_back(table: DieTable, row: Mapping[str, Any], spot: Spot, units: Units, mistakes: Mistakes) -> None:
    """Note sizes that no die has: most likely they were typed in the other unit."""
    assert table.clr is not None
    odd_od = check_tube_size(table.od, None) if table.od is not None else None
    if odd_od:
        what, _, mend = odd_od.rpartition(". ")
        mistakes.add(spot, ("od",), what, mend)
    least = 0.0 if table.od is None or odd_od else _TIGHTEST * table.od
    is_odd = not least <= table.clr <= _LARGEST
    radius = "Is it the radius, to the middle of the tube?"
    ranges: dict[str, tuple[float, float, str, str]] = {
        "clr": (least, _LARGEST, "under the OD", radius),
        "bent_clr": (0.0, _LARGEST, "", "") if is_odd else (table.clr / 2, table.clr * 2, "under half the clr", radius),
        "grip": (0.0, _LARGEST, "", ""),
        "tail": (0.0, _LARGEST, "", ""),
        "reference_offset": (-_FARTHEST_OFFSET, _FARTHEST_OFFSET, "over 300 mm", ""),
    }
    if not is_odd:
        arc = math.radians(table.bent_clr or table.clr)
        low, high = ((1 + sign * _MOST_STRETCH) * arc for sign in (-1, 1))
        ranges["stock_per_degree"] = (low, high, "too little", f"The arc alone takes {in_both_units(arc)} a degree.")
    for key, (low, high, too_small, mend) in ranges.items():
        size = getattr(table, key)
        if size is None or low <= size <= high:
            continue
        too_large = _TOO_LARGE.get(key, "over a metre")
        if key == "bent_clr" and not is_odd:
            too_large = "over twice the clr"
        what = f'"{spot.as_typed((key,), row[key])}" is {in_both_units(size)}, {too_small if size < low else too_large}'
        other = in_other_unit(row[key], units, low, high)
        mistakes.add(
            spot, (key,), what, f'Write "{other}" if that was meant.' if other else mend or "Check the figure."
        )


def choose_die(
    choice: str | float | None,
    dies: Sequence[Die],
    od: float | None,
    spot: Spot,
    units: Units,
    mistakes: Mistakes,
) -> Die | None:
    """The die that a tube names, by name or else by clr; or the only one that fits its OD.

    A die that is named is taken even if it does not fit: whoever solves the tube says so. Of several that fit, where
    none is named, it is the first; :func:`open_dies` tells them, and whoever solves the tube asks. None, with the
    mistake noted, where no die would do. A radius that is under the tube's OD is noted too.
    """
    die = _choose(choice, dies, od, spot, units, mistakes)
    is_untold = die is not None and die.od is None and od is not None and not check_tube_size(od, None)
    if die is not None and od is not None and is_untold and die.clr < _TIGHTEST * od:
        what = f"the radius of {_described(die, units)} is under the OD of the tube, {_size(od, units)}"
        mistakes.add(spot, ("die",) if choice is not None else (), what, "Check both sizes and their units.")
    return die


def _choose(
    choice: str | float | None,
    dies: Sequence[Die],
    od: float | None,
    spot: Spot,
    units: Units,
    mistakes: Mistakes,
) -> Die | None:
    if not dies:
        mend = 'Name the shop file, as in shop = "shop.toml", or write [[die]] and below it clr = "5-1/2".'
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


def open_dies(choice: str | float | None, dies: Sequence[Die], od: float | None) -> tuple[Die, ...]:
    """The dies among which a tube that names none leaves the choice: none where at most one takes it."""
    fitting = [] if choice is not None else _that_fit(dies, od)
    return tuple(fitting) if len(fitting) > 1 else ()


def _that_fit(dies: Sequence[Die], od: float | None) -> list[Die]:
    """Dies for tube of this OD, and those that do not say theirs."""
    return [die for die in dies if die.od is None or od is None or abs(die.od - od) <= SAME_SIZE]


def _only_die(
    fitting: list[Die], dies: Sequence[Die], od: float | None, spot: Spot, units: Units, mistakes: Mistakes
) -> Die | None:
    if fitting:
        return fitting[0]
    if od is not None:
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
