"""Readings any one of which may be the wrong one."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from plumbend.estimate.chances import log_chance
from plumbend.estimate.doubt import doubt_of
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import ALIKE, Adjusted
from plumbend.measuring.human_errors import turnable
from plumbend.measuring.network import FAR_BEHIND, Network
from plumbend.measuring.snooping import Snooping
from plumbend.measuring.trials import Out, Trials
from plumbend.records import record

_CLOSE = 2 * math.log(20)
"""Two readings are not told apart where one is less than 20 times likelier to be the wrong one."""

_CLOSE_ALIKE = 2 * math.log(1000)
"""The same for readings whose misses go together: there a slight fault of the accuracies weighs more."""

ROUNDING = 3
"""Decimals to which rivals are compared: those that differ by less stand in the order typed."""

_STOOD_OUT = 4
_MOST = 8
"""Rivals that are tried, each by an adjustment of its own."""


@record(eq=False)
class Rival:
    """A reading that may be the wrong one.

    Attributes:
        index: of the reading.
        rest: adjusted without it.
        behind: how far it is behind the likeliest: twice the logarithm of how many times less likely it is.
    """

    index: int
    rest: Adjusted
    behind: float


def rivals_of(trials: Trials, i: int, out: Out, *, wider: bool = False) -> list[Rival]:
    """The readings of which one is wrong where ``i`` among ``out`` is taken to be, the likeliest first.

    Those that are about as likely by the rows of the fit without ``i`` are left out in its stead, and the fit goes on
    from there. A ``wider`` search does not trust those rows: it begins every fit afresh, and tries as well what stood
    out before, and readings of the same places whose sense may have been mistaken, which would put a place on its
    wrong side.
    """
    base = out - {i}
    before, after = trials.without(base), trials.settled(out)
    snooping = seen_from(after, before.adjusted.network)
    own = int(np.flatnonzero(before.indices == i)[0])
    behind = 2 * (snooping.log_chances - snooping.log_chances[own])
    margin = np.where(snooping.alike(own) >= ALIKE, _CLOSE_ALIKE, _CLOSE)
    near = behind < margin
    if wider:
        near[np.argsort(before.log_chances, kind="stable")[:_STOOD_OUT]] = True
        near |= np.isin(before.indices, turnable(trials.readings, trials.readings[i]))
    near &= (snooping.counts > 0) & ~before.kept
    near[own] = False
    tried = [(i, own, after)]
    for k in np.flatnonzero(near)[np.argsort(behind[near], kind="stable")][:_MOST]:
        index = int(before.indices[k])
        instead = base | {index}
        rest = trials.without(instead).adjusted if wider else trials.going_on(instead, after)
        if wider and rest.chi2 < after.chi2 + FAR_BEHIND:
            rest = trials.settled(instead)
        tried.append((index, int(k), rest))
    rivals = [
        Rival(index, rest, 2 * log_chance(before.adjusted.chi2 - rest.chi2, int(snooping.counts[k])))
        for index, k, rest in tried
    ]
    best = min(rival.behind for rival in rivals)
    rivals = [replace(rival, behind=rival.behind - best) for rival in rivals]
    near_enough = [rival for rival, (_, k, _) in zip(rivals, tried, strict=True) if rival.behind < margin[k]]
    return sorted(near_enough, key=lambda rival: (round(rival.behind, ROUNDING), rival.index))


def seen_from(adjusted: Adjusted, network: Network) -> Snooping:
    """How a network's readings stand to each other by their rows at the places found in another adjustment."""
    values, rows = network.rows(adjusted.state)
    whitened: FloatArray = rows[:, network.free] / network.sd[:, None]
    misses = (network.measured - values) / network.sd
    doubt = doubt_of(Normal.from_rows(misses, whitened), np.zeros(network.free.size, dtype=bool))
    return Snooping(misses, np.eye(misses.size) - whitened @ doubt.covariance @ whitened.T, network.owner)
