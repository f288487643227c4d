"""Bends that are not told are found, and none is invented from tape noise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plumbend.estimate.chances import beyond_chance
from plumbend.shape.chain import Chain
from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.program import Program
from plumbend.shape.scan import Scan
from plumbend.shape.structure import fit_counting_bends, fit_measured
from support.tubes import OD, RADIUS, clear_of_itself, leg_points, outside_points, random_tube, scan_places

LIMITS = FormingLimits(RADIUS)


@pytest.mark.parametrize("seed", [1, 2])
def test_bends_of_five_hundred_ordered_tubes(seed: int) -> None:
    rng = np.random.default_rng(seed)
    right = invented = tubes = 0
    while tubes < 500:
        tube = random_tube(rng, tubes % 7)
        if not clear_of_itself(tube):
            continue
        tubes += 1
        points = leg_points(tube, 4, rng, 1.6) if tubes % 2 else outside_points(tube, 8, rng, 1.6)
        counted = fit_counting_bends(Measured(OD, tuple(points)), LIMITS)
        assert counted is not None
        found = counted.chain.bends
        right += found == tube.bends
        invented += found > tube.bends
    print(f"{right} of {tubes} right, {invented} with an invented bend")
    assert right >= 0.99 * tubes
    assert invented == 0


def test_a_slight_bend_is_found_where_the_points_are_good_enough_and_only_there() -> None:
    rng = np.random.default_rng(3)
    tube = random_tube(rng, 1, angles=(4.0, 4.0), straights=(600.0, 600.0))
    for sd, bends in ((0.3, 1), (12.0, 0)):
        counted = fit_counting_bends(Measured(OD, tuple(leg_points(tube, 5, rng, sd))), LIMITS)
        assert counted is not None
        assert counted.chain.bends == bends


def test_measured_corners_and_told_legs_are_never_taken_away() -> None:
    straight = [Point(f"p{i}", "centre", np.array([100.0 * i, 0, 0]), np.eye(3)) for i in range(6)]
    straight[0] = Point("A", "end", straight[0].at, np.eye(3))
    straight[5] = Point("F", "end", straight[5].at, np.eye(3))
    with_corner = [*straight[:3], Point("K", "corner", np.array([250.0, 0, 0]), np.eye(3)), *straight[3:]]
    for points, bends in ((straight, 0), (with_corner, 1)):
        counted = fit_counting_bends(Measured(OD, tuple(points)), LIMITS)
        assert counted is not None
        assert counted.chain.bends == bends


@pytest.mark.parametrize(("slight", "found", "nearly"), [(1.2, 1, None), (1.5, 1, 2), (1.8, 2, 1), (2.2, 2, None)])
def test_a_bend_that_may_be_none_is_told(slight: float, found: int, nearly: int | None) -> None:
    """Exact places on two legs and a third that leaves the second by so many degrees; a bend costs 17.3."""
    program = Program(np.array([500.0, 400.0, 500.0]), np.array([0.0, 1.0]), np.radians([60.0, slight]))
    exact = leg_points(Chain.from_program(program, RADIUS), 5, np.random.default_rng(1), 0.0)
    points = tuple(replace(point, cov=np.eye(3) * 1.6**2) for point in exact)
    counted = fit_counting_bends(Measured(OD, points), LIMITS)
    assert counted is not None
    assert counted.chain.bends == found
    assert (counted.runner_up.chain.bends if counted.runner_up else None) == nearly
    told = fit_measured(Measured(OD, points), found, LIMITS)
    assert told is not None
    assert told.runner_up is None


@pytest.mark.parametrize("sd", [1.6, 0.8])
def test_a_runner_up_is_weighed_by_the_scatter(sd: float) -> None:
    """Places good to what is said, or half as good: then all is impossible, and a bend must gain the more."""
    program = Program(np.array([500.0, 400.0, 500.0]), np.array([0.0, 1.0]), np.radians([60.0, 1.8]))
    measured = leg_points(Chain.from_program(program, RADIUS), 5, np.random.default_rng(2), 1.6)
    points = tuple(replace(point, cov=np.eye(3) * sd**2) for point in measured)
    counted = fit_counting_bends(Measured(OD, points), LIMITS)
    assert counted is not None
    assert beyond_chance(counted.chi2, counted.dof) == (sd < 1)
    assert counted.chain.bends == 2
    assert counted.runner_up is not None
    assert counted.runner_up.chain.bends == 1


def test_bends_of_scans_in_any_order() -> None:
    rng = np.random.default_rng(8)
    for bends in range(5):
        tube = random_tube(rng, bends, angles=(20.0, 100.0))
        if not clear_of_itself(tube, 2 * OD):
            continue
        scan = Scan(scan_places(tube, 60 * (bends + 1), rng, 0.5), 0.5)
        ends = tuple(Point(name, "end", place, np.eye(3)) for name, place in (("A", tube.origin), ("F", tube.far_end)))
        counted = fit_counting_bends(Measured(OD, ends, scan=scan), LIMITS)
        assert counted is not None
        assert counted.chain.bends == bends
        np.testing.assert_allclose(np.degrees(counted.chain.angles), np.degrees(tube.angles), atol=0.5)
