"""Points in any order: the shortest way through them, and the order along the tube."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise, permutations

import numpy as np
import pytest

from plumbend.frames import FloatArray
from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.order import put_in_order
from plumbend.shape.points import Point
from plumbend.shape.scan import Scan
from plumbend.shape.shortest import short_ways, ways_turned
from plumbend.shape.structure import fit_counting_bends
from support.tubes import OD, RADIUS, clear_of_itself, leg_points, outside_points, random_tube, scan_places

LIMITS = FormingLimits(RADIUS)


def length(apart: FloatArray, way: tuple[int, ...]) -> float:
    return float(sum(apart[one, other] for one, other in pairwise(way)))


@pytest.mark.parametrize(("first", "last"), [(None, None), (1, None), (None, 2), (2, 0)])
def test_short_ways_are_the_shortest_of_few_places(first: int | None, last: int | None) -> None:
    rng = np.random.default_rng(1)
    for count in (3, 4, 5, 6, 7, 7):
        at = rng.normal(size=(count, 3))
        apart = np.linalg.norm(at[:, None] - at, axis=2)
        ways = [
            way
            for way in permutations(range(count))
            if (first is None or way[0] == first) and (last is None or way[-1] == last)
        ]
        found = tuple(short_ways(apart, first, last)[0].tolist())
        assert found in ways
        assert length(apart, found) == pytest.approx(min(length(apart, way) for way in ways))


def test_short_ways_of_one_place_and_of_none() -> None:
    assert [short_ways(np.zeros((count, count)))[0].tolist() for count in (0, 1)] == [[], [0]]


@pytest.mark.parametrize(("first", "last"), [(None, None), (0, None), (None, 11), (0, 11)])
def test_ways_turned_go_along_a_long_run_backwards(first: int | None, last: int | None) -> None:
    """Twelve places on three sides of a square, its open side no longer than a corner is wide."""
    at = np.array([(0, k) for k in range(4)] + [(k + 1, 4) for k in range(4)] + [(2, 3 - k) for k in range(4)], float)
    apart = np.linalg.norm(at[:, None] - at, axis=2)
    ways = [way.tolist() for way in ways_turned(apart, np.arange(12), first, last)]
    assert ways
    lengths = [length(apart, tuple(way)) for way in ways]
    assert lengths == sorted(lengths)
    longest = max(apart[k, k + 1] for k in range(11))
    for way in ways:
        assert sorted(way) == list(range(12))
        assert first in (None, way[0])
        assert last in (None, way[-1])
        changed = [k for k in range(12) if way[k] != k]
        run = way[changed[0] : changed[-1] + 1]
        assert run == list(range(12))[changed[0] : changed[-1] + 1][::-1]
        assert len(run) >= 4
        joins = [k for k in (changed[0] - 1, changed[-1]) if 0 <= k < 11]
        assert all(apart[way[k], way[k + 1]] <= 1.5 * longest for k in joins)


@pytest.mark.parametrize("kind", ["centre", "outside"])
def test_the_tube_of_points_in_any_order_is_that_of_the_same_in_order(kind: str) -> None:
    rng = np.random.default_rng(2)
    for bends in (1, 2, 4, 6):
        while not clear_of_itself(tube := random_tube(rng, bends, angles=(20, 110), straights=(210, 750)), 2 * OD):
            pass
        points = leg_points(tube, 5, rng, 1.6) if kind == "centre" else outside_points(tube, 9, rng, 1.6)
        in_order = fit_counting_bends(Measured(OD, tuple(points)), LIMITS)
        inner = rng.permutation(np.arange(1, len(points) - 1)).tolist()
        typed = [inner[0], 0, *inner[1:5], len(points) - 1, *inner[5:]]
        ordered = put_in_order(Measured(OD, tuple(points[i] for i in typed)), None, LIMITS)
        found = fit_counting_bends(ordered.measured, LIMITS)
        assert in_order is not None
        assert found is not None
        assert (ordered.measured.points[0], ordered.measured.points[-1]) == (points[0], points[-1])
        assert [ordered.measured.points[k].name for k in np.argsort(ordered.order)] == [points[i].name for i in typed]
        assert not ordered.start_by_first
        assert found.chain.bends == bends
        assert found.chi2 == pytest.approx(in_order.chi2, rel=1e-4)


@pytest.mark.parametrize("seed", [90, 1734])
def test_a_far_end_close_to_the_middle_does_not_lead_the_way_across(seed: int) -> None:
    """The far end lies nearer to the end of a leg than the next leg does, and nothing says that it is one."""
    rng = np.random.default_rng(seed)
    tube = random_tube(rng, 4, angles=(70, 110), straights=(210, 330))
    assert clear_of_itself(tube, 2 * OD)
    points = leg_points(tube, 5, rng, 1.6)
    points[-1] = replace(points[-1], what="centre")
    typed = rng.permutation(len(points)).tolist()
    places = np.array([points[i].at for i in typed])
    shortest = short_ways(np.linalg.norm(places[:, None] - places, axis=2), typed.index(0))[0]
    assert [typed[i] for i in shortest] != list(range(len(points)))
    ordered = put_in_order(Measured(OD, tuple(points[i] for i in typed)), None, LIMITS)
    assert [point.name for point in ordered.measured.points] == [point.name for point in points]


def z_bend(turned: bool = False, **told: int) -> list[Point]:
    """Places on the axis of a tube of two bends, none an end; ``told`` are legs, from the start, of some by name."""
    tube = random_tube(np.random.default_rng(3), 2, angles=(60, 60), straights=(300, 300))
    points = [replace(point, what="centre") for point in leg_points(tube, 4, np.random.default_rng(4), 1.0)]
    points = [replace(point, leg=told.get(point.name.replace(".", "_"))) for point in points]
    return points[::-1] if turned else points


def shuffled(points: list[Point], first: int) -> Measured:
    order = np.random.default_rng(5).permutation(len(points)).tolist()
    order.remove(first)
    return Measured(OD, tuple(points[i] for i in [first, *order]))


def test_without_ends_the_start_is_near_the_point_typed_first() -> None:
    points = z_bend()
    for first, start in ((0, "p0.0"), (3, "p0.0"), (9, "p2.3"), (11, "p2.3")):
        ordered = put_in_order(shuffled(points, first), 2, LIMITS)
        names = [point.name for point in ordered.measured.points]
        assert names in ([point.name for point in points], [point.name for point in points[::-1]])
        assert names[0] == start
        assert ordered.start_by_first


def test_a_told_leg_says_which_end_is_the_start() -> None:
    for first in (0, 11):
        for points, start in ((z_bend(p0_1=1), "p0.0"), (z_bend(p0_1=3), "p2.3")):
            ordered = put_in_order(shuffled(points, first), None, LIMITS)
            assert ordered.measured.points[0].name == start
            assert not ordered.start_by_first


def test_one_end_is_the_start() -> None:
    points = z_bend()
    points[-1] = replace(points[-1], what="end")
    ordered = put_in_order(shuffled(points, 1), 2, LIMITS)
    assert [point.name for point in ordered.measured.points] == [point.name for point in points[::-1]]


def test_what_goes_together_is_put_in_order_with_the_points() -> None:
    points = z_bend()
    spread = np.random.default_rng(6).normal(size=(36, 36))
    joint = spread @ spread.T
    typed = [5, 0, 11, *(i for i in range(12) if i not in (0, 5, 11))]
    rows = np.concatenate([3 * i + np.arange(3) for i in typed])
    measured = Measured(OD, tuple(points[i] for i in typed), joint=joint[np.ix_(rows, rows)])
    back = measured.in_order(np.argsort(typed).tolist())
    assert back.points == tuple(points)
    np.testing.assert_array_equal(back.joint, joint)


def test_a_scan_puts_its_typed_points_in_order() -> None:
    rng = np.random.default_rng(7)
    while not clear_of_itself(tube := random_tube(rng, 3, angles=(30, 90), straights=(250, 500)), 2 * OD):
        pass
    points = leg_points(tube, 2, rng, 1.0)
    scan = Scan(scan_places(tube, 400, rng, 0.5), 0.5)
    typed = [3, 7, 1, 0, 4, 2, 6, 5]
    typed.remove(0)
    typed.insert(0, 0)
    ordered = put_in_order(Measured(OD, tuple(points[i] for i in typed), scan=scan), None, LIMITS)
    assert [point.name for point in ordered.measured.points] == [point.name for point in points]


def test_a_place_to_keep_clear_of_is_neither_first_nor_last() -> None:
    points = z_bend()
    clear = replace(points[5], name="lamp", what="clear", at=points[0].at - 40.0)
    ordered = put_in_order(Measured(OD, (clear, *shuffled(points, 0).points)), 2, LIMITS)
    names = [point.name for point in ordered.measured.points]
    assert (names[0], names[-2:]) == ("p0.0", ["lamp", "p2.3"])
    assert names[:-2] + names[-1:] == [point.name for point in points]
    assert ordered.order[-2] == 0
