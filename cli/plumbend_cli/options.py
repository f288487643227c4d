"""What is said behind the options of a command, read and refused in the user's words."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

import typer

from plumbend.errors import BadText
from plumbend.typed import parse_length
from plumbend.units import Units

if TYPE_CHECKING:
    from plumbend.asking import Why


def units_said(word: str) -> Units:
    """What is said behind --units; typer's own refusal of other words speaks of values and errors."""
    match word.strip().lower():
        case "in" | "mm" as units:
            return units
    raise typer.BadParameter(f'"{word}" is not a unit to work in. Say in or mm.')


def one_of(*words: str) -> Callable[[str], str]:
    """A reader of a word that must be one of a few."""

    def read(word: str) -> str:
        if (said := word.strip().lower()) in words:
            return said
        raise typer.BadParameter(f'"{word}" is {"none of" if len(words) > 1 else "not"} {", ".join(words)}.')

    return read


def why_asked(gap: str | None, units: Units) -> Why:
    """What --why asks for, with the gap said behind --gap."""
    from plumbend.asking import Why

    if gap is None:
        return Why()
    try:
        within = parse_length(gap, units)
    except BadText as mistake:
        raise typer.BadParameter(str(mistake), param_hint="--gap") from None
    if within <= 0:
        raise typer.BadParameter(f'"{gap}" is no gap. Write one above 0.', param_hint="--gap")
    return Why(within)


def trim_left(said: str, units: Units) -> float:
    """What is left on each end, mm: as said behind --trim."""
    try:
        trim = parse_length(said, units)
    except BadText as mistake:
        raise typer.BadParameter(str(mistake), param_hint="--trim") from None
    if trim < 0:
        raise typer.BadParameter(f'"{said}" would cut into the part. Write 0 or more.', param_hint="--trim")
    return trim


def bend_radius(clr: str, units: Units) -> float:
    """What is said behind --clr, mm."""
    try:
        radius = parse_length(clr, units)
    except BadText as mistake:
        raise typer.BadParameter(str(mistake), param_hint="--clr") from None
    if radius <= 0:
        raise typer.BadParameter(f'"{clr}" is no radius. Write one above 0.', param_hint="--clr")
    return radius


def stations_said(word: str) -> int:
    """How many lines an ordinate table has, as said behind --stations."""
    if word.strip() in ("8", "16", "24"):
        return int(word)
    raise typer.BadParameter(f'"{word}" lines are not laid out. Say 8, 16 or 24.')
