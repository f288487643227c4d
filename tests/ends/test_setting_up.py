"""Lengths from what a tape can be hooked on, clocking with its viewpoint, ordinates, and a node in time."""

import math
import time

import numpy as np
import pytest

from plumbend.ends.joints import joint
from plumbend.ends.neighbours import Leg, end_leg, straight_neighbour
from plumbend.ends.outline import ordinates, outline, turning_places
from plumbend.ends.setting_up import clocking, reach
from plumbend.shape.chain import Chain


def bent(angle_deg: float) -> Chain:
    """Forward, then to the left."""
    return Chain(np.zeros(3), np.eye(3), np.array([200.0, 400.0]), np.zeros(1), np.radians([angle_deg]), 152.4)


def test_lengths_from_tangent_corner_and_middle_of_the_bend() -> None:
    found = reach(end_leg(bent(90.0), 44.45, 2.4), 250.0)
    assert (found.tangent, found.corner) == pytest.approx((250.0, 402.4))
    assert found.middle == pytest.approx(250.0 + 152.4 * math.pi / 4)
    assert reach(end_leg(bent(180.0), 44.45, 2.4), 250.0).corner is None
    assert reach(Leg(np.zeros(3), np.eye(3), 44.45, 2.4), 250.0).corner is None


def test_round_counts_clockwise_from_the_inside_of_the_bend_at_either_end() -> None:
    tube = bent(90.0)
    for far, inside in ((True, [-1.0, 0, 0]), (False, [0, 1.0, 0])):
        leg = end_leg(tube, 44.45, 2.4, far=far)
        assert leg.sides(np.zeros(1))[0] == pytest.approx(inside, abs=1e-12)
        # clockwise seen along u: from n to u x n
        assert leg.sides(np.array([math.pi / 2]))[0] == pytest.approx(np.cross(leg.along, inside), abs=1e-12)
    assert end_leg(tube, 44.45, 2.4, far=False).along == pytest.approx([-1.0, 0, 0])


def test_clocking_counts_the_short_way_round_from_the_line() -> None:
    leg = end_leg(bent(90.0), 44.45, 2.4)
    found = clocking(leg, math.radians(170), math.radians(-100))
    assert (math.degrees(found.turn), found.arc) == pytest.approx((-90.0, -math.pi * 44.45 / 4))
    assert clocking(leg, 0.0).turn == 0.0
    assert clocking(leg, -math.pi / 2, math.pi / 2).turn == math.pi


@pytest.mark.parametrize("stations", [8, 16, 24])
def test_ordinates_go_once_round(stations: int) -> None:
    leg = Leg(np.zeros(3), np.eye(3), 44.45, 2.4)
    header = straight_neighbour("rail", np.array([300.0, -200, 0]), np.array([300.0, 200, 0]), 44.45)
    table = ordinates(leg, [header], stations)
    assert len(table) == stations
    assert table[-1].arc == pytest.approx(math.pi * 44.45 * (1 - 1 / stations))
    # square on: as deep at the line as opposite to it, and tips a quarter turn from it
    assert table[0].outer == pytest.approx(300 - 22.225)
    assert table[stations // 4].outer == pytest.approx(300.0)
    assert table[stations // 4].inner == pytest.approx(300 - math.sqrt(22.225**2 - 19.825**2))


def test_node_of_four_tubes_in_time() -> None:
    """A tube on three others that meet in one place, all that is asked of the cut."""
    leg, node = Leg(np.zeros(3), np.eye(3), 38.1, 2.0), np.array([300.0, 0, 0])
    directions = np.array([[0, 1.0, 0], [0.8, 0, 0.6], [0.6, 0.0, -0.8]])
    others = [straight_neighbour(f"tube {k}", node - 150 * d, node + 150 * d, 44.45) for k, d in enumerate(directions)]
    began = time.perf_counter()
    joints = [joint(leg, other) for other in others]
    places, table = turning_places(leg, others), ordinates(leg, others, 16)
    assert time.perf_counter() - began < 0.2
    assert [round(math.degrees(met.angle), 2) for met in joints] == [90.0, 36.87, 53.13]
    alone = np.min([outline(leg, [other], np.array([line.round for line in table])) for other in others], axis=0)
    assert [line.outer for line in table] == pytest.approx(alone)
    assert max(place.at for place in places) >= max(line.outer for line in table)
