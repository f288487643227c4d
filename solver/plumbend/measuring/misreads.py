"""Misreads: readings that do not go with the rest, left out of the adjustment, and what they may have been.

Each reading and, where one is not enough, each pair is tested at a level for the whole job; after each deletion the
adjustment is begun afresh, for one that goes on from where wrong readings drew it may stay there.
"""

from __future__ import annotations

from collections.abc import Container, Sequence

import numpy as np

from plumbend.estimate.doubt import doubt_of
from plumbend.estimate.normal import Normal
from plumbend.measuring.accused import Accused, Suspect, accuse
from plumbend.measuring.adjustment import Adjusted
from plumbend.measuring.misread_words import disagreeing, kept_as_asked, named
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.rivals import ROUNDING, rivals_of
from plumbend.measuring.suspects import find_suspects
from plumbend.measuring.trials import Out, Trial, Trials, widening
from plumbend.notices import Notice
from plumbend.records import record
from plumbend.units import Units

LEVEL = 0.005
"""Chance that a job without a misread has one named: 0.5 %."""

_UNEXPLAINED = 6.0
"""Twice the logarithm of how many times likelier a misread is one that a usual slip explains (from simulated jobs)."""


@record(eq=False)
class Screened:
    """Readings adjusted without those that are probably wrong.

    Attributes:
        adjusted: of the rest.
        left_out: indices of what it is without, among the readings handed over and then what is given with a doubt.
        suspects: one for each misread.
        scale: what every doubt is to be multiplied by, 1 or more: above 1 where the rest still cannot be as good as
            they are said to be.
        notices: all that, in words.
    """

    adjusted: Adjusted
    left_out: tuple[int, ...]
    suspects: tuple[Suspect, ...]
    scale: float
    notices: tuple[Notice, ...]


def find_misreads(
    places: Sequence[Place],
    readings: Sequence[Reading],
    planes: Sequence[CentrePlane] = (),
    *,
    units: Units,
    typed_in: Units | None = None,
    od: float | None = None,
    keep: Container[str | int] = frozenset(),
    level: float = LEVEL,
) -> Screened:
    """Adjust readings, without those that are probably wrong.

    Args:
        places, readings, planes: as for :func:`plumbend.measuring.adjustment.adjust`.
        units: of the notices.
        typed_in: units of the figures as typed, for those that may have been meant; ``units`` where None.
        od: mm, of the tube wanted, whose outside may have been measured for its centre.
        keep: readings that are never left out: by index, as typed, or by title.
        level: chance that a job without a misread has one named.

    Raises BadValue as ``adjust`` does.
    """
    trials = Trials(places, readings, planes, keep, level)

    def accused(i: int, rest: Adjusted) -> Accused:
        return accuse(i, trials.readings[i], rest, typed_in or units, od, places)

    def judged(i: int, *, wider: bool) -> list[Accused]:
        """The readings one of which is wrong, where ``i`` is taken to be, the likeliest first."""
        rivals = [(rival, accused(rival.index, rival.rest)) for rival in rivals_of(trials, i, wrong, wider=wider)]
        rivals.sort(key=lambda one: round(one[0].behind + (0.0 if one[1].explained else _UNEXPLAINED), ROUNDING))
        return [one for _, one in rivals]

    wrong = find_suspects(trials)
    groups = []
    for i in sorted(wrong):
        group = judged(i, wider=False)
        if not any(one.explained for one in group):
            # most misreads are slips of the usual kinds: that none fits speaks for another reading
            group = judged(i, wider=True)
        wrong = wrong - {i} | {group[0].index}
        groups.append(group)
    left_out = wrong
    for group in groups:
        left_out = _without_all(trials, left_out, frozenset(one.index for one in group))
    suspects = [Suspect(tuple(group), all_out=left_out.issuperset(one.index for one in group)) for group in groups]
    adjusted = trials.without(left_out, thorough=True).adjusted
    scale = widening(adjusted)
    kept = [accused(i, trials.settled(left_out | {i})) for i in _kept_but_wrong(trials, left_out)]
    notices = [
        *(named(suspect, units) for suspect in suspects),
        *(kept_as_asked(one, units) for one in kept),
        *disagreeing(scale),
    ]
    return Screened(adjusted, tuple(sorted(left_out)), tuple(suspects), scale, tuple(notices))


def _without_all(trials: Trials, out: Out, group: Out) -> Out:
    """``out`` with a whole group, where the rest fix every place as well without it; else as it is."""
    if group <= out:
        return out
    trial = trials.without(out)
    now = trial.adjusted
    if _needed(trial, group):
        return out
    then = trials.without(out | group).adjusted
    as_good = then.loose.sum() == now.loose.sum() and len(then.mirrors) <= len(now.mirrors)
    return out | group if as_good else out


def _needed(trial: Trial, group: Out) -> bool:
    """Whether a place would be free to move without the group, by the rows of the places as they are."""
    network = trial.adjusted.network
    left = trial.adjusted.rows[~np.isin(trial.indices[network.owner], list(group))]
    doubt = doubt_of(Normal.from_rows(np.zeros(len(left)), left), np.zeros(network.free.size, dtype=bool))
    of_places = network.free < 3 * len(network.places)
    return bool(doubt.loose[of_places].sum() > trial.adjusted.loose.sum())


def _kept_but_wrong(trials: Trials, out: Out) -> list[int]:
    """The kept reading that goes worst with the rest, where one does not."""
    trial = trials.without(out, thorough=True)
    chances = np.where(trial.kept, trial.snooping.log_chances, 0.0)
    wrong = np.flatnonzero(chances < trials.limit)
    return [int(trial.indices[k]) for k in wrong[np.argsort(chances[wrong])][:1]]
