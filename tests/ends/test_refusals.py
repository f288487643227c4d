"""Cuts that cannot be made, each with its reason."""

import math

import numpy as np
import pytest

from plumbend.ends.joints import joint
from plumbend.ends.neighbours import Leg, Neighbour, straight_neighbour
from plumbend.ends.outline import outline
from plumbend.errors import BadValue, Refused

ROUNDS = np.linspace(0, 2 * math.pi, 72)
LEG = Leg(np.zeros(3), np.eye(3), 44.45, 2.4)


def header(od: float, at: float = 300.0, angle_deg: float = 90.0, offset: float = 0.0) -> Neighbour:
    a = math.radians(angle_deg)
    along, middle = np.array([math.cos(a), math.sin(a), 0.0]), np.array([at, 0.0, offset])
    return straight_neighbour("hoop", middle - 250 * along, middle + 250 * along, od)


def test_tube_larger_than_what_it_meets() -> None:
    with pytest.raises(Refused, match=r'^The tube is .* OD and "hoop" is only .*: a saddle cannot be cut\. Let'):
        outline(LEG, [header(38.1)], ROUNDS)


def test_offset_up_to_the_side_is_cut_and_beyond_it_is_refused() -> None:
    room = (60.3 - 44.45) / 2
    assert np.isfinite(outline(LEG, [header(60.3, offset=room)], ROUNDS)).all()
    with pytest.raises(Refused, match=r'^One side of the tube stands .* past the side of "hoop" and meets nothing'):
        outline(LEG, [header(60.3, offset=room + 2.0)], ROUNDS)


def test_tubes_of_one_size_a_hair_off_centre_are_cut() -> None:
    at = outline(LEG, [header(44.45, offset=0.4)], ROUNDS)
    assert np.abs(at - outline(LEG, [header(44.45)], ROUNDS)).max() < 5.0


def test_cut_that_runs_into_the_bend() -> None:
    with pytest.raises(Refused, match=r'^The cut on "hoop" would run back into the bend'):
        outline(LEG, [header(60.3, at=25.0)], ROUNDS)


def test_grazing_joint() -> None:
    with pytest.raises(Refused, match=r'^The joint on "hoop" is only 12\.0 degrees between the axes'):
        joint(LEG, header(60.3, angle_deg=12.0))


def test_wall_thicker_than_the_tube() -> None:
    with pytest.raises(BadValue, match=r"^a tube of 20 mm OD cannot have a wall of 10 mm$"):
        Leg(np.zeros(3), np.eye(3), 20.0, 10.0)
