"""Does a tube cross itself: the two places nearest to each other among those apart along it."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.frames import FloatArray, rotation_about, unit
from plumbend.making.crossing import nearest_parts, self_crossing

OD = 44.45
RADIUS = 140.0


def lengths_along(polyline: FloatArray) -> FloatArray:
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(polyline, axis=0), axis=1))])


def walk(steps: list[tuple[float, float]], pieces: int = 60, radius: float = RADIUS) -> FloatArray:
    """Polyline of a flat tube: pairs of straight (mm) and bend after it (radians, + to the left)."""
    at, heading, places = np.zeros(3), 0.0, [np.zeros(3)]
    for straight, bend in steps:
        at = at + straight * np.array([math.cos(heading), math.sin(heading), 0.0])
        places.append(at)
        if bend:
            side = math.copysign(1.0, bend)
            centre = at + radius * side * np.array([-math.sin(heading), math.cos(heading), 0.0])
            arm = at - centre
            parts = np.linspace(0.0, bend, pieces + 1)[1:]
            places += [centre + rotation_about(np.array([0.0, 0.0, 1.0]), part) @ arm for part in parts]
            at, heading = places[-1], heading + bend
    return np.array(places)


def least_by_sampling(polyline: FloatArray, stations: FloatArray, apart: float, count: int) -> float:
    """Brute force: places every so often along the tube, each with each."""
    s = np.unique(np.concatenate([np.linspace(stations[0], stations[-1], count), stations]))
    places = np.column_stack([np.interp(s, stations, axis) for axis in polyline.T])
    distance = np.linalg.norm(places[:, None] - places[None], axis=-1)
    return float(distance[s[None] - s[:, None] >= apart].min())


def place(polyline: FloatArray, stations: FloatArray, station: float) -> FloatArray:
    return np.array([np.interp(station, stations, axis) for axis in polyline.T])


coordinates = st.floats(-300.0, 300.0).map(lambda x: round(x, 3))
polylines = st.lists(st.tuples(coordinates, coordinates, coordinates), min_size=2, max_size=9).map(np.array)


@settings(max_examples=100, deadline=None, derandomize=True)
@given(polyline=polylines, apart=st.floats(5.0, 250.0), slack=st.floats(1.0, 1.3))
def test_agrees_with_brute_force(polyline: FloatArray, apart: float, slack: float) -> None:
    # an arc is longer than the chord that stands for it: stations may run ahead of the polyline
    stations = slack * lengths_along(polyline)
    found = nearest_parts(polyline, stations, apart)
    if stations[-1] < apart:
        assert found == (math.inf, stations[0], stations[-1])
        return
    count = 200
    sampled = least_by_sampling(polyline, stations, apart, count)
    # each place has a sample within a spacing, on the side away from the other
    assert sampled - 2 * stations[-1] / (count - 1) <= found.distance <= sampled + 1e-9
    assert found.second - found.first >= apart * (1 - 1e-9) - 1e-9
    between = place(polyline, stations, found.first) - place(polyline, stations, found.second)
    assert np.linalg.norm(between) == pytest.approx(found.distance, rel=1e-9, abs=1e-9)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(polyline=polylines, apart=st.floats(5.0, 250.0), turn=st.floats(-3.0, 3.0), shift=coordinates)
def test_rigid_motion_and_reversal_change_nothing(
    polyline: FloatArray, apart: float, turn: float, shift: float
) -> None:
    stations = lengths_along(polyline)
    found = nearest_parts(polyline, stations, apart)
    moved = polyline @ rotation_about(unit(np.array([1.0, 2.0, -2.0])), turn).T + shift
    assert nearest_parts(moved, stations, apart).distance == pytest.approx(found.distance, abs=1e-6)
    back = nearest_parts(polyline[::-1], (stations[-1] - stations)[::-1], apart)
    assert back.distance == pytest.approx(found.distance, abs=1e-6)


def test_straight_tube_has_nothing_nearer_than_the_gap_asked_for() -> None:
    straight = np.array([[0.0, 0.0, 0.0], [900.0, 0.0, 0.0]])
    found = nearest_parts(straight, np.array([0.0, 900.0]), 2 * OD)
    assert found.distance == pytest.approx(2 * OD, abs=1e-9)
    assert self_crossing(straight, np.array([0.0, 900.0]), OD) is None


def test_tube_exactly_as_long_as_the_gap() -> None:
    polyline = np.array([[0.0, 0.0, 0.0], [30.0, 0.0, 0.0], [30.0, 40.0, 0.0]])
    assert nearest_parts(polyline, np.array([0.0, 30.0, 70.0]), 70.0) == pytest.approx((50.0, 0.0, 70.0))


def test_straight_of_no_length_between_two_bends() -> None:
    polyline = np.array([[0.0, 0, 0], [100, 0, 0], [100, 0, 0], [100, 100, 0], [0, 100, 0], [0, 10, 0]])
    found = nearest_parts(polyline, lengths_along(polyline), 2 * OD)
    assert found == pytest.approx((10.0, 0.0, 390.0))


@pytest.mark.parametrize("reverse", [False, True])
def test_end_that_stops_short_of_the_middle_of_a_leg(reverse: bool) -> None:
    polyline = np.array([[0.0, 0, 0], [300, 0, 0], [300, 200, 0], [-10, 200, 0], [-10, -150, 0]])
    stations = lengths_along(polyline)
    if reverse:
        polyline, stations = polyline[::-1], (stations[-1] - stations)[::-1]
    expected = (10.0, 150.0, 1160.0) if reverse else (10.0, 0.0, 1010.0)
    assert nearest_parts(polyline, stations, 2 * OD) == pytest.approx(expected)


def test_u_turn_keeps_two_radii_between_its_legs() -> None:
    polyline = walk([(400.0, math.pi), (400.0, 0.0)], pieces=90)
    # the place pairs across the U are all 2 r apart; nearer ones lie 300 mm apart round the bend
    found = nearest_parts(polyline, lengths_along(polyline), math.pi * RADIUS)
    assert found.distance == pytest.approx(2 * RADIUS, abs=0.05)
    assert self_crossing(polyline, lengths_along(polyline), OD) is None


@pytest.mark.parametrize("radius", [1.0, 1.5, 3.0])
def test_no_bend_is_taken_for_a_crossing_however_tight(radius: float) -> None:
    polyline = walk([(300.0, math.pi), (300.0, 0.0)], pieces=200, radius=radius * OD)
    found = nearest_parts(polyline, lengths_along(polyline), 2 * OD)
    assert found.distance == pytest.approx(2 * radius * OD * math.sin(1 / radius), rel=1e-4)
    assert found.distance > 1.68 * OD


def test_pigtail_crosses_where_its_legs_do() -> None:
    # three quarters of a turn to the left: the last leg runs down across the first, r beyond the bend's start
    polyline = walk([(400.0, 1.5 * math.pi), (400.0, 0.0)], pieces=300)
    found = self_crossing(polyline, lengths_along(polyline), OD)
    assert found is not None
    assert found.distance == pytest.approx(0.0, abs=1e-9)
    assert place(polyline, lengths_along(polyline), found.first) == pytest.approx(
        np.array([400.0 - RADIUS, 0.0, 0.0]), abs=1e-9
    )
    assert found.first == pytest.approx(400.0 - RADIUS, abs=1e-9)
    assert found.second == pytest.approx(400.0 + 1.5 * math.pi * RADIUS + RADIUS, abs=0.01)


@pytest.mark.parametrize(("lift", "crosses"), [(0.0, True), (44.0, True), (45.0, False), (60.0, False)])
def test_figure_eight_lifted_clear(lift: float, crosses: bool) -> None:
    polyline = walk([(500.0, 1.5 * math.pi), (2 * RADIUS + 200.0, -1.5 * math.pi), (30.0, 0.0)])
    # the first leg stays down, all from the first bend on is raised
    polyline[:, 2] = np.where(lengths_along(polyline) > 500.0 + RADIUS, lift, 0.0)
    stations = lengths_along(polyline)
    found = nearest_parts(polyline, stations, 2 * OD)
    assert found.distance == pytest.approx(min(lift, 2 * OD), abs=1e-6)
    assert (self_crossing(polyline, stations, OD) is not None) == crosses


def test_helix_is_nearest_a_turn_away() -> None:
    radius, pitch = 150.0, 60.0
    turn = np.linspace(0.0, 6 * math.pi, 541)
    polyline = np.column_stack([radius * np.cos(turn), radius * np.sin(turn), pitch * turn / (2 * math.pi)])
    stations = np.hypot(radius, pitch / (2 * math.pi)) * turn
    # least of (2 r sin(t/2))^2 + (pitch t / 2 pi)^2 beyond the first half turn, on a fine grid
    t = np.linspace(math.pi, 3 * math.pi, 400_001)
    exact = np.sqrt((2 * radius * np.sin(t / 2)) ** 2 + (pitch * t / (2 * math.pi)) ** 2).min()
    found = nearest_parts(polyline, stations, math.pi * radius)
    assert found.distance == pytest.approx(exact, abs=0.05)
    assert self_crossing(polyline, stations, 59.0) is None
    assert self_crossing(polyline, stations, 61.0) is not None


@pytest.mark.parametrize("angle", [0.0, 1e-12, 1e-9, 1e-6, 1e-3])
def test_legs_that_are_all_but_parallel(angle: float) -> None:
    # out, round a square end and back beside itself, closing at the given angle
    tail = [1000.0 * (1 - math.cos(angle)), 80.0 - 1000.0 * math.sin(angle), 0.0]
    polyline = np.array([[0.0, 0, 0], [1000, 0, 0], [1000, 80, 0], tail])
    found = nearest_parts(polyline, lengths_along(polyline), 2000.0)
    exact = math.hypot(*tail)
    # 2000 mm apart along the tube leaves the last 80 mm at either end
    assert found.distance == pytest.approx(exact, abs=1e-6 + 100 * angle**2)
