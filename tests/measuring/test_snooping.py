"""Snooping on plain arrays: falls are those of real deletions."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbend.estimate.chances import log_chance
from plumbend.frames import FloatArray, IntArray
from plumbend.measuring.explaining import distances, rank
from plumbend.measuring.snooping import Snooping, log_level_each

OWNER = np.array([0, 1, 1, 2, 3, 3, 3, 4, 5, 6, 6, 7, 8, 9])


def test_levels_of_all_make_the_level_of_the_job() -> None:
    each = math.exp(log_level_each(0.005, 40))
    assert 1 - (1 - each) ** 40 == pytest.approx(0.005)


def system(seed: int) -> tuple[FloatArray, FloatArray]:
    """Misses and rows (14, 4) of ten measurements of one to three numbers, the last number checked by nothing."""
    rng = np.random.default_rng(seed)
    rows = rng.normal(size=(14, 4))
    rows[:-1, 3] = 0.0
    return rng.normal(size=14) * 3, rows


def least(misses: FloatArray, rows: FloatArray, without: tuple[int, ...] = ()) -> float:
    """Least sum of squares without some measurements, by numpy's own routine."""
    left = ~np.isin(OWNER, without)
    solution, *_ = np.linalg.lstsq(rows[left], misses[left])
    return float(np.sum((misses[left] - rows[left] @ solution) ** 2))


def snooping(misses: FloatArray, rows: FloatArray, owner: IntArray = OWNER) -> Snooping:
    return Snooping(misses, np.eye(len(rows)) - rows @ np.linalg.pinv(rows), owner)


def test_falls_are_those_of_deletions() -> None:
    misses, rows = system(1)
    snooped = snooping(misses, rows)
    falls = [least(misses, rows) - least(misses, rows, (i,)) for i in range(10)]
    assert snooped.falls == pytest.approx(falls)
    assert snooped.counts.tolist() == [1, 2, 1, 3, 1, 1, 2, 1, 1, 0]
    assert snooped.log_chances[3] == pytest.approx(log_chance(falls[3], 3))
    assert snooped.log_chances[9] == 0.0


def test_falls_of_pairs_are_those_of_deletions() -> None:
    misses, rows = system(2)
    candidates = np.arange(10) != 4
    pairs = snooping(misses, rows).pairs(candidates, 1000)
    assert len(pairs) == 28  # eight candidates that others check
    for pair in pairs:
        assert 4 not in (pair.first, pair.second)
        fall = least(misses, rows) - least(misses, rows, (pair.first, pair.second))
        assert pair.fall == pytest.approx(fall)
    chances = [pair.log_chance for pair in pairs]
    assert chances == sorted(chances)
    assert snooping(misses, rows).pairs(candidates, 3) == pairs[:3]


def test_two_that_check_only_each_other_are_alike() -> None:
    misses = np.array([0.0, 0.0, 5.0, -5.0, 1.0])
    rows = np.array([[1.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.0, 1.0], [1.0, 0.0]])
    snooped = snooping(misses, rows, np.arange(5))
    assert snooped.alike(2) == pytest.approx([0.0, 0.0, 1.0, 1.0, 0.0])
    # three alike: each is checked by the mean of the other two
    assert snooped.alike(0) == pytest.approx([1.0, 0.5, 0.0, 0.0, 0.5])
    both = next(pair for pair in snooped.pairs(np.ones(5, dtype=bool), 99) if (pair.first, pair.second) == (2, 3))
    assert both.fall == pytest.approx(50.0)
    assert both.log_chance == pytest.approx(log_chance(50.0, 1))


def test_without_measurements_there_is_nothing_to_snoop_on() -> None:
    nothing = Snooping(np.zeros(0), np.zeros((0, 0)), np.zeros(0, dtype=int))
    assert nothing.falls.size == 0
    assert nothing.pairs(np.zeros(0, dtype=bool), 5) == []


def test_causes_that_cannot_be_told_apart_are_named_together() -> None:
    sizes = np.array([[25.4], [22.2], [44.4], [304.8]])
    information = np.array([[1 / 1.6**2]])
    apart = distances(sizes, information)
    assert apart[0, 1] == pytest.approx(2.0)
    left = ((sizes[:, 0] - 23.5) / 1.6) ** 2
    ranking = rank(left, 1, apart, np.ones(4))
    assert ranking.best == (1, 0)
    assert ranking.following == 2
    assert ranking.odds == pytest.approx(math.exp((left[2] - left[1]) / 2))


def test_the_more_variants_the_less_likely_each() -> None:
    ranking = rank(np.array([0.1, 0.2]), 1, np.array([[0.0, 9.0], [9.0, 0.0]]), np.array([10.0, 1.0]))
    assert ranking.best == (1,)
    assert ranking.following == 0
    assert ranking.odds == pytest.approx(10 * math.exp(-0.05))


def test_what_leaves_too_much_explains_nothing() -> None:
    ranking = rank(np.array([11.0, 200.0]), 1, np.array([[0.0, 9.0], [9.0, 0.0]]), np.ones(2))
    assert ranking.best == ()
    assert ranking.following == 0
    # of two numbers chance alone leaves as much now and then
    assert rank(np.array([11.0]), 2, np.zeros((1, 1)), np.ones(1)).best == (0,)
    nothing = rank(np.zeros(0), 1, np.zeros((0, 0)), np.zeros(0))
    assert (nothing.best, nothing.following, nothing.odds) == ((), None, math.inf)
