"""What drives a tube's numbers: shares against the whole doubt and against points moved, chances against tubes bent."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from plumbend.frames import FloatArray, rotation_about, unit
from plumbend.measuring.readings import Amount
from plumbend.shape.certainty import certainty_of
from plumbend.shape.chain import POSE, Chain
from plumbend.shape.drivers import Drivers, drivers_of
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.landing import landing_of, reach_of
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.scan import Scan
from plumbend.shape.tube_readings import BendAngle
from support.limited import limited_tube
from support.placed_tubes import PlacedTube, placed_tube, solved
from support.tubes import OD, RADIUS, leg_points, random_tube

FREE = FormingLimits(RADIUS)


def shares(drivers: Drivers) -> FloatArray:
    """(3n, q): of straights, rotations without the first, angles, as the covariance orders them."""
    return np.concatenate([drivers.straights, drivers.rotations[1:], drivers.angles])


def variances(fit: Fit) -> FloatArray:
    return np.diagonal(certainty_of(fit).covariance)


def numbers(fit: Fit) -> FloatArray:
    return fit.chain.parameters()[POSE:]


def moved_either_way(points: list[Point], i: int, axis: int, by: float) -> Iterator[list[Point]]:
    for sign in (1, -1):
        at = points[i].at.copy()
        at[axis] += sign * by
        yield [*points[:i], replace(points[i], at=at), *points[i + 1 :]]


def test_shares_are_what_moving_each_point_and_reading_does() -> None:
    rng = np.random.default_rng(11)
    tube = random_tube(rng, 2)
    points = leg_points(tube, 3, rng, 1e-9)
    points = [replace(point, cov=np.diag([1.0, 4.0, 9.0]) * (1 + i)) for i, point in enumerate(points)]
    angle = BendAngle(1, float(tube.angles[0]), 0.01)
    fit = fit_from(tube, Measured(OD, tuple(points), (angle,)).compiled(2), FREE)
    found = drivers_of(fit, certainty_of(fit))

    step = 0.01
    moved = np.zeros((len(points) + 1, 6))
    for i, point in enumerate(points):
        for axis in range(3):
            more, less = (
                numbers(fit_from(tube, Measured(OD, tuple(at), (angle,)).compiled(2), FREE))
                for at in moved_either_way(points, i, axis, step)
            )
            moved[i] += ((more - less) / (2 * step)) ** 2 * point.cov[axis, axis]
    more, less = (
        numbers(
            fit_from(tube, Measured(OD, tuple(points), (replace(angle, angle=angle.angle + by),)).compiled(2), FREE)
        )
        for by in (1e-5, -1e-5)
    )
    moved[-1] = ((more - less) / 2e-5) ** 2 * angle.sd**2

    assert found.measured == (*(points[i].name for i in order_of(fit)), angle.name)
    expected = moved[[*order_of(fit), len(points)]].T / variances(fit)[:, None]
    assert shares(found) == pytest.approx(expected, rel=2e-3, abs=1e-5)
    assert shares(found).sum(axis=1) == pytest.approx(1.0)
    assert found.developed_length.sum() == pytest.approx(1.0)


def order_of(fit: Fit) -> list[int]:
    return [member for group in fit.evidence.groups for member in group.members]


def test_shares_of_placed_points_are_those_of_their_readings() -> None:
    tube = placed_tube(np.random.default_rng(3), 2)
    found = drivers_of(tube.fit, certainty_of(tube.fit), tube.placed_by)
    assert shares(found).sum(axis=1) == pytest.approx(1.0)

    network = tube.adjusted.network
    assert found.measured[: len(network.readings)] == tuple(reading.words for reading in network.readings)
    checked = 0
    for i in np.argsort(-shares(found).max(axis=0))[:5]:
        reading = tube.readings[i]
        if isinstance(reading, Amount):
            more, less = (
                numbers(with_readings(tube, i, replace(reading, value=reading.value + by)).fit) for by in (0.05, -0.05)
            )
            part = ((more - less) / 0.1 * reading.doubt) ** 2 / variances(tube.fit)
            # misses of a few mm bend the sums of squares a little
            assert shares(found)[:, i] == pytest.approx(part, rel=0.1, abs=0.005)
            checked += 1
    assert checked > 2


def with_readings(tube: PlacedTube, i: int, reading: Amount) -> PlacedTube:
    readings = (*tube.readings[:i], reading, *tube.readings[i + 1 :])
    return solved(tube.places, readings, tube.points, tube.of_tube, tube.fit.chain.bends)


def test_shares_add_up_beside_limits_that_hold() -> None:
    rng = np.random.default_rng(5)
    held = 0
    for _ in range(6):
        case = limited_tube(rng)
        fit = fit_from(case.start, case.evidence, case.limits)
        found = shares(drivers_of(fit, certainty_of(fit)))
        known = ~np.isnan(variances(fit))
        assert found[known].sum(axis=1) == pytest.approx(1.0)
        assert np.isnan(found[~known]).all()
        held += int((~known).sum()) + int(fit.held is not None and fit.held.active.any())
    assert held > 2


def test_a_scan_is_one_measurement() -> None:
    rng = np.random.default_rng(6)
    tube = random_tube(rng, 1)
    places, around = [], rng.uniform(0, 2 * np.pi, 200)
    for k, (start, stop) in enumerate(tube.tangents()):
        _, n, a = tube.frames[2 * k].T
        for part, way in zip(rng.random(100), around[100 * k :], strict=False):
            places.append(start + part * (stop - start) + OD / 2 * (np.cos(way) * n + np.sin(way) * a))
    ends = [Point("A", "end", tube.origin, np.eye(3)), Point("F", "end", tube.far_end, np.eye(3))]
    fit = fit_from(tube, Measured(OD, tuple(ends), scan=Scan(np.array(places), 0.5)).compiled(1), FREE)
    found = drivers_of(fit, certainty_of(fit))
    assert found.measured == ("A", "F", "the scan")
    assert shares(found).sum(axis=1) == pytest.approx(1.0, rel=1e-6)
    assert found.angles[0, 2] > 0.9
    assert found.straights[0, 0] > 0.5


def test_no_share_of_what_nothing_fixes() -> None:
    rng = np.random.default_rng(7)
    tube = random_tube(rng, 1)
    points = [replace(point, what="centre") for point in leg_points(tube, 3, rng, 1.0)]
    fit = fit_from(tube, Measured(OD, tuple(points)).compiled(1), FREE)
    found = drivers_of(fit, certainty_of(fit))
    assert np.isnan(found.straights).all()
    assert np.isnan(found.developed_length).all()
    assert found.angles.sum() == pytest.approx(1.0)
    assert np.isnan([landing_of(fit, 5.0).between_ends, landing_of(fit, 5.0).from_start]).all()


def test_reach_is_what_a_longer_straight_and_a_larger_angle_do() -> None:
    tube = random_tube(np.random.default_rng(8), 3)
    reach = reach_of(tube)
    for key, moves in (("straights", reach.straights), ("rotations", reach.rotations), ("angles", reach.angles)):
        for k in range(len(moves)):
            if key == "rotations" and k == 0:
                assert not moves[0].any()
                continue
            step = np.zeros(len(moves))
            step[k] = 1e-4
            more, less = (replace(tube, **{key: getattr(tube, key) + by}).far_end for by in (step, -step))
            assert moves[k] == pytest.approx((more - less) / 2e-4, rel=1e-7, abs=1e-5)


def landed(true: Chain, made: Chain) -> tuple[float, float]:
    """How far the worse end misses: laid between both ends, and laid by the start end and rolled about leg 1."""
    between = abs(np.linalg.norm(true.far_end - true.origin) - np.linalg.norm(made.far_end - made.origin)) / 2
    local_true = true.frame.T @ (true.far_end - true.origin)
    local = made.frame.T @ (made.far_end - made.origin)
    off_line = np.hypot(*local[1:]) - np.hypot(*local_true[1:])
    return float(between), float(np.hypot(local[0] - local_true[0], off_line))


def test_chances_of_landing_are_those_of_tubes_measured_again() -> None:
    rng = np.random.default_rng(9)
    tube = random_tube(rng, 3, angles=(30.0, 80.0))
    clean = leg_points(tube, 4, rng, 1e-9)
    points = [replace(point, cov=np.eye(3) * 1.6**2) for point in clean]
    fit = fit_from(tube, Measured(OD, tuple(points)).compiled(3), FREE)
    missed = []
    for _ in range(250):
        noisy = [replace(point, at=point.at + rng.normal(0, 1.6, 3)) for point in points]
        missed.append(landed(tube, fit_from(tube, Measured(OD, tuple(noisy)).compiled(3), FREE).chain))
    for gap in (1.0, 2.0, 5.0):
        landing = landing_of(fit, gap)
        share = (np.array(missed) <= gap).mean(axis=0)
        assert (landing.between_ends, landing.from_start) == pytest.approx(tuple(share), abs=0.08)  # 2.5 x 0.032


def test_a_part_laid_elsewhere_lands_alike() -> None:
    rng = np.random.default_rng(10)
    tube = random_tube(rng, 2)
    points = leg_points(tube, 3, rng, 1e-9)
    points = [replace(point, cov=np.eye(3)) for point in points]
    turn = rotation_about(unit(np.array([1.0, 2.0, 3.0])), 1.1)
    turned = [replace(point, at=turn @ point.at + 500.0) for point in points]
    moved = replace(tube, origin=turn @ tube.origin + 500.0, frame=turn @ tube.frame)
    one = landing_of(fit_from(tube, Measured(OD, tuple(points)).compiled(2), FREE), 1.0)
    other = landing_of(fit_from(moved, Measured(OD, tuple(turned)).compiled(2), FREE), 1.0)
    assert (one.between_ends, one.from_start) == pytest.approx((other.between_ends, other.from_start), rel=1e-6)
    assert 0 < one.from_start < one.between_ends < 1
