"""Cells that a spreadsheet turned into dates: 3/8 typed, 8-Mar or 03/08/2026 saved."""

from __future__ import annotations

import re

_MONTHS = (
    ("jan", "gen", "ene"),
    ("feb", "fev", "fév"),
    ("mar", "mär", "mrz", "maa", "mrt"),
    ("apr", "avr", "abr"),
    ("may", "mai", "mag", "mei"),
    ("jun", "juin", "giu"),
    ("jul", "juil", "lug"),
    ("aug", "aoû", "aou", "ago"),
    ("sep", "set"),
    ("oct", "okt", "ott", "out"),
    ("nov",),
    ("dec", "dez", "déc", "dic"),
)
_MONTH_OF = {word: number for number, words in enumerate(_MONTHS, start=1) for word in words}
_WITH_MONTH = re.compile(r"(\d{1,4})?[ .\-/]*([^\W\d_]{3,9})\.?[ .\-/]*(\d{1,4})?")
_IN_FIGURES = re.compile(r"(\d{1,4})([./-])(\d{1,2})\2(\d{2,4})(?: 0?0:00(?::00)?)?")
_TAPE_PARTS = (2, 4, 8, 16, 32, 64)


def explain_date(cell: str) -> str | None:
    """How to mend a cell that holds a date, with the fraction that was likely typed; None for any other cell."""
    typed = _likely_typed(cell.strip().lower())
    if typed is None:
        return None
    return f"Type {typed} again with an apostrophe in front ('{typed.split(' ')[0]}), or make the column text first."


def _likely_typed(cell: str) -> str | None:
    """What a spreadsheet may have turned into this date."""
    if found := _IN_FIGURES.fullmatch(cell):
        first, second, third = int(found[1]), int(found[3]), int(found[4])
        year, one, other = (first, third, second) if len(found[1]) > 2 else (third, first, second)
        return _fraction(one, other, year)
    found = _WITH_MONTH.fullmatch(cell)
    month = next((_MONTH_OF[found[2][:n]] for n in (4, 3) if found[2][:n] in _MONTH_OF), None) if found else None
    if not found or month is None:
        return None
    before, after = (int(part) if part else None for part in found.group(1, 3))
    if before is None and after is None:
        return None
    if before is not None:
        return _fraction(before, month, after)
    return _fraction(after or 0, month, None)


def _fraction(one: int, other: int, year: int | None) -> str:
    """Fractions that day and month, or day, month and year, may have been."""
    small, large = sorted((one, other))
    parts = None if year is None else year % 100
    if parts in _TAPE_PARTS:
        mixed = [f"{a}-{b}/{parts}" for a, b in ((one, other), (other, one)) if b % 2 and b < parts]
        if mixed:
            return " or ".join(dict.fromkeys(mixed))
    if large in _TAPE_PARTS and small % 2 and small < large:
        return f"{small}/{large}"
    return f"{one}/{other} or {other}/{one}" if one != other else f"{one}/{other}"
