"""How surely misreads are found, in simulated jobs of every kind of misread in turn.

A misread counts where it shows by more than 4.13 of its doubts and no other reading's would look the same (correlation
0.9 or more). Of 1019 such misreads, of 1700 made, the right reading came first in 99.4 % and the right kind was named
in 98.9 %; of 422 jobs with two at once both came first in 98.6 %; of 1000 jobs without one, 2 were doubted.
"""

from __future__ import annotations

from itertools import cycle, islice

import numpy as np

from plumbend.measuring.misreads import Screened, find_misreads
from support.frames import CENTRE
from support.misread_jobs import KINDS, OD, MeasuringJob, measuring_job, spoil, standing

SHOWS, ALIKE = 4.13, 0.9


def screened(job: MeasuringJob) -> Screened:
    return find_misreads(job.places, job.readings, [CENTRE], units=job.units, od=OD)


def firsts(found: Screened) -> set[int]:
    """The likeliest reading of each misread found."""
    return {suspect.accused[0].index for suspect in found.suspects}


def test_one_misread_of_every_kind_in_turn() -> None:
    rng = np.random.default_rng(1)
    right, kinds = [], []
    for kind in islice(cycle(KINDS), 10 * len(KINDS)):
        misread = None
        while misread is None:
            job = measuring_job(rng)
            misread = spoil(job, kind, rng)
        if misread.shows < SHOWS or misread.alike >= ALIKE:
            continue
        found = screened(job)
        right.append(misread.index in firsts(found))
        kinds.append(
            any(
                explanation.error.code == kind
                for suspect in found.suspects
                if suspect.accused[0].index == misread.index
                for explanation in suspect.accused[0].explanations
            )
        )
    assert len(right) > 60
    assert np.mean(right) >= 0.95
    assert np.mean(kinds) >= 0.9


def test_jobs_without_a_misread() -> None:
    rng = np.random.default_rng(2)
    found = [screened(measuring_job(rng)) for _ in range(400)]
    assert sum(bool(one.suspects or one.scale > 1) for one in found) <= 4


def test_two_misreads_at_once() -> None:
    rng = np.random.default_rng(3)
    both: list[bool] = []
    while len(both) < 30:
        job = measuring_job(rng)
        one = spoil(job, str(rng.choice(list(KINDS))), rng)
        other = one and spoil(job, str(rng.choice(list(KINDS))), rng, frozenset({one.index}))
        if one is None or other is None:
            continue
        shows, alike = standing(job, one.index, one.error, frozenset({other.index}))
        if min(shows, other.shows) >= SHOWS and max(alike, other.alike) < ALIKE:
            both.append({one.index, other.index} <= firsts(screened(job)))
    assert np.mean(both) >= 0.9
