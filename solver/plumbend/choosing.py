"""The question on which of several dies a tube is to be bent, and what each would cost."""

from __future__ import annotations

from collections.abc import Sequence

from plumbend.job.die_choice import DieCost
from plumbend.job.results import TubeResult
from plumbend.notices import Notice, listed
from plumbend.shop import Die


def cost_of(tube: TubeResult) -> DieCost:
    """The cost of a tube solved for one of the dies.

    Thinning is the shop rule (Ro - R) / Ro, with R the bent centreline radius and Ro that of the bend's outside: the
    outside stretches by as much as it is longer than the centreline (common practice, no source).
    """
    die, half = tube.die, tube.od / 2
    fit = tube.fit
    missed = (
        [] if fit is None else [point for point in fit.points if not point.suspect and _is_miss(point.what, point.miss)]
    )
    worst = max(missed, key=lambda point: abs(point.miss), default=None)
    return DieCost(
        die,
        die.clr / tube.od,
        half / (die.radius + half),
        None if tube.program is None else tube.program.bends,
        None if worst is None else abs(worst.miss),
        None if worst is None else worst.name,
        tuple(notice.text for notice in tube.notices if notice.level == "refusal"),
        () if fit is None else tuple(point.name for point in fit.points if point.suspect),
    )


def _is_miss(what: str, miss: float) -> bool:
    """Whether a point is missed: to pass a place to keep clear of with room to spare is no miss."""
    return what != "clear" or miss < 0


def asked_for(tube: str, dies: Sequence[Die]) -> Notice:
    """The question which die it is to be."""
    names = [f'die = "{die.name}"' for die in dies]
    return Notice(
        "which-die",
        "refusal",
        f"Which die? {len(dies)} of the shop take this tube and {tube} names none. Write {listed(names, 'or')} in its "
        "table, below [[tube]].",
    )
