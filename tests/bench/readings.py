"""Speed of adjusting readings and finding a misread among them, beside one general-purpose fit of the same readings.

    python tests/bench/readings.py

40 readings of 15 points from four given bases; of 12 points from four bases that are to be found as well. Prints
times and ratios and asserts nothing. Every library is imported before the clock starts; the fastest of several runs
counts.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

# as the program itself does: for matrices this small a second thread costs more than it brings, and it must be said
# before numpy loads
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.optimize import least_squares

sys.path.insert(0, str(Path(__file__).parents[1]))

from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import Adjusted, adjust
from plumbend.measuring.misreads import Screened, find_misreads
from plumbend.measuring.places import Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.snooping import Snooping
from support.frames import PLACES, TRUE, drop, height, read, tape, tapes
from support.misread_jobs import KINDS, OD, MeasuringJob, spoil

JOBS, READINGS = 40, 40
SHOWS = 4.13
"""A misread shows by so many of its doubts: others leave nothing to search for."""
LIMIT = 50.0
"""ms that the whole should take."""
KINDS_PUT_IN = ("inch", "foot", "digits-swapped", "outside", "tape-line", "fraction")


@dataclass(frozen=True, slots=True, eq=False)
class Spoilt:
    """A job and the same with one misread that shows."""

    job: MeasuringJob
    spoilt: MeasuringJob


def jobs(rng: np.random.Generator, points: int, *, bases_given: bool) -> Iterator[Spoilt]:
    """Jobs in which every place has readings enough, and some have more."""
    names = [chr(ord("A") + i) for i in range(points)]
    bases = {place.name: TRUE[place.name] for place in PLACES[:4]}
    for _ in range(JOBS):
        true = bases | {name: rng.uniform([-300, -300, 150], [1900, 1500, 1300]) for name in names}
        readings: list[Reading] = []
        places = tuple(Place(name, (float(x), float(y), float(z)), base=True) for name, (x, y, z) in bases.items())
        if not bases_given:
            places = PLACES[:4]
            readings += [*tapes("B2-B1 B3-B2 B4-B3 B4-B1 B3-B1 B4-B2", true), *(height(f"B{i}", true) for i in (2, 3))]
            readings.append(height("B4", true))
        more: list[Reading] = []
        for name in names:
            readings += [drop(name, true), height(name, true)]
            more += [tape(name, base, true) for base in bases]
        readings += [more[i] for i in rng.permutation(len(more))[: READINGS - len(readings)]]
        job = MeasuringJob((*places, *map(Place, names)), [read(one, rng) for one in readings], "in", true)
        misread = None
        while misread is None or misread.shows < SHOWS:
            spoilt = MeasuringJob(job.places, list(job.readings), "in", true)
            misread = spoil(spoilt, str(rng.choice(KINDS_PUT_IN)), rng)
        yield Spoilt(job, spoilt)


def best_of(count: int, work: Callable[[], object]) -> float:
    """Milliseconds of the fastest of ``count`` runs."""
    times = []
    for _ in range(count):
        begin = time.perf_counter()
        work()
        times.append(time.perf_counter() - begin)
    return min(times) * 1e3


def snooped(job: MeasuringJob) -> tuple[Adjusted, Snooping]:
    """The adjustment and how each reading stands to the rest."""
    found = adjust(job.places, job.readings)
    return found, Snooping(found.residuals / found.network.sd, found.checks, found.network.owner)


def screened(job: MeasuringJob) -> Screened:
    """The adjustment without what is probably wrong, each of these with what it may have been."""
    return find_misreads(job.places, job.readings, units=job.units, od=OD)


def general_fit(job: MeasuringJob) -> Callable[[], object]:
    """The same readings by scipy's routine, with differences for derivatives, from ten mm off the truth.

    The misses are worked out by the program's own compiled rows; a first guess and what is known of the places
    afterwards are left to whoever uses the routine.
    """
    network = adjust(job.places, job.readings).network
    rng = np.random.default_rng(1)
    true = np.concatenate([job.true[place.name] for place in job.places])
    start = true[network.free] + 10 * rng.normal(size=network.free.size)

    def misses(free: FloatArray) -> FloatArray:
        values, _ = network.rows(network.whole(free))
        missed: FloatArray = (values - network.measured) / network.sd
        return missed

    return lambda: least_squares(misses, start)


def spread(times: list[float]) -> str:
    """Median, nine in ten, and how many of them keep to the limit."""
    within = sum(time <= LIMIT for time in times)
    most = np.quantile(times, 0.9)
    return f"{np.median(times):6.1f} ms (nine of ten {most:.1f}; {within} of {len(times)} within {LIMIT:.0f})"


def compare(points: int, *, bases_given: bool) -> None:
    """Print what each takes, and its ratio to the general fit of the same job in the same run."""
    rows: dict[str, list[float]] = {}
    general = []
    for one in jobs(np.random.default_rng(40), points, bases_given=bases_given):
        job, spoilt = one.job, one.spoilt
        general.append(best_of(3, general_fit(job)))
        for what, work in {
            "adjustment and snooping": lambda job=job: snooped(job),
            "with the search, no misread": lambda job=job: screened(job),
            "with the search, one misread": lambda job=spoilt: screened(job),
        }.items():
            rows.setdefault(what, []).append(best_of(3, work))
    given = "given" if bases_given else "found"
    print(f"{READINGS} readings, {points} points, four bases {given}:")
    print(f"  {'one least_squares, differences':32}{spread(general)}")
    for what, times in rows.items():
        ratio = np.median(np.array(times) / np.array(general))
        print(f"  {what:32}{spread(times)}, {ratio:.2f} of that")


if __name__ == "__main__":
    assert set(KINDS_PUT_IN) <= set(KINDS)
    screened(next(jobs(np.random.default_rng(0), 8, bases_given=True)).spoilt)
    compare(15, bases_given=True)
    compare(12, bases_given=False)
