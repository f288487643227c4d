"""Gaps of a joint, by the tube cut, by a straight hole saw, and a degree off."""

import math

import numpy as np
import pytest

from plumbend.ends.fit_up import cut_to_fit, fit_up, largest_gap, saw_depth, straight_pass
from plumbend.ends.joints import joint
from plumbend.ends.neighbours import Leg, Neighbour, mitre, straight_neighbour, tube_neighbour
from plumbend.ends.outline import OVERHANG, outline
from plumbend.errors import Refused
from plumbend.frames import rotation_about
from plumbend.shape.chain import Chain

LEG = Leg(np.zeros(3), np.eye(3), 44.45, 2.4)


def header(angle_deg: float = 90.0) -> Neighbour:
    a = math.radians(angle_deg)
    along, middle = np.array([math.cos(a), math.sin(a), 0.0]), np.array([300.0, 0.0, 0.0])
    return straight_neighbour("rail", middle - 250 * along, middle + 250 * along, 44.45)


def hoop(radius: float) -> Neighbour:
    """A bend whose middle the leg meets square, from the outside."""
    start = np.array([300.0 + radius, 0, 0]) + radius * np.array([-math.sqrt(0.5), -math.sqrt(0.5), 0])
    along = np.array([-math.sqrt(0.5), math.sqrt(0.5), 0.0])
    frame = np.column_stack([along, [math.sqrt(0.5), math.sqrt(0.5), 0], [0, 0, -1.0]])
    chain = Chain(start - 200 * along, frame, np.array([200.0, 200.0]), np.zeros(1), np.array([math.pi / 2]), radius)
    return tube_neighbour("hoop", chain, 44.45)


def test_bevelled_cut_and_hole_saw_leave_no_gap_on_a_straight_tube() -> None:
    gaps = fit_up(LEG, [header(60.0)])
    assert gaps.saw is not None
    assert gaps.exact == pytest.approx(0.0, abs=1e-6)
    assert gaps.saw == pytest.approx(0.0, abs=1e-6)
    assert gaps.clocked_off > 0.1
    assert gaps.set_off > 0.1


def test_cut_square_through_the_wall_rides_on_its_inner_edge() -> None:
    """Equal tubes, square on: the inside's tips run sqrt(R^2 - r^2) less far than the outside's."""
    inner_short = math.sqrt(LEG.outer**2 - LEG.inner**2)
    # backed off by that much, the outer edge stands farthest off at the throat, straight along the tube
    expected = inner_short
    assert largest_gap(LEG, [header()], cut_to_fit(LEG, [header()], "outer")) == pytest.approx(expected, abs=1e-6)


@pytest.mark.parametrize("radius", [152.4, 114.3])
def test_straight_saw_misses_on_a_bend(radius: float) -> None:
    """Touching the crown of the bend, the saw's straight line leaves it by the outer circle's tangent."""
    crown, half = radius + 22.225, 22.225
    gaps = fit_up(LEG, [hoop(radius)])
    assert gaps.exact == pytest.approx(0.0, abs=1e-6)
    assert gaps.saw == pytest.approx(math.hypot(crown, half) - crown, abs=1e-6)


def test_a_straight_saw_that_passes_one_side_of_the_tube_has_no_gap_to_tell() -> None:
    """From the inside of a bend, aslant and a little out of its plane: the bend comes round to meet the tube's side,
    and the saw's straight line does not."""
    _, up, out = np.eye(3)
    slanted = rotation_about(out, math.radians(70)) @ rotation_about(up, math.radians(195))
    inside = hoop(114.3).moved(slanted, np.array([300.0, 0.0, 0.0]))
    assert straight_pass(LEG, [inside]) == math.inf
    gaps = fit_up(LEG, [inside])
    assert gaps.saw is None
    assert gaps.exact == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(("angle", "depth"), [(90, 44.45), (60, 51.3), (45, 62.9), (30, 88.9)])
def test_depth_of_the_saw_is_od_over_the_sine(angle: float, depth: float) -> None:
    met = joint(LEG, header(angle))
    assert saw_depth(LEG, 44.45, met) == pytest.approx(depth, abs=0.1)


def test_square_cut_set_a_degree_off_gapes_by_od_times_a_degree() -> None:
    plate = mitre(LEG, 300.0, 0.0)
    assert np.ptp(outline(LEG, [plate], np.linspace(0, 6, 30))) == pytest.approx(0.0, abs=1e-9)
    assert fit_up(LEG, [plate]).set_off == pytest.approx(44.45 * math.tan(math.radians(1)), abs=1e-3)


def test_a_post_that_only_just_reaches_is_missed_when_set_a_degree_off() -> None:
    """The gap of the cut as drawn is told all the same: what stands past the post and is welded over."""
    up, middle = np.array([0.0, 1.0, 0.0]), np.array([300.0, 0.0, 0.0])

    def post(far: float) -> list[Neighbour]:
        return [straight_neighbour("post", middle - 400 * up, middle + far * up, 60.3)]

    def is_met(far: float) -> bool:
        try:
            outline(LEG, post(far), np.linspace(0, math.tau, 360))
        except Refused:
            return False
        return True

    least = next(far for far in np.arange(0.0, 30.0, 0.01) if is_met(far))
    gaps = fit_up(LEG, post(least))
    assert (gaps.exact, gaps.set_off) == (pytest.approx(OVERHANG, abs=0.01), None)
    assert fit_up(LEG, post(least + 20)).set_off == pytest.approx(fit_up(LEG, post(400.0)).set_off)
