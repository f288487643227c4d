"""Cuts that cannot be made, each with its reason."""

import math
from dataclasses import replace

import numpy as np
import pytest

from plumbend.ends.joints import joint
from plumbend.ends.neighbours import Leg, Neighbour, straight_neighbour
from plumbend.ends.outline import outline
from plumbend.errors import BadValue, Refused
from support import cut_ends

ROUNDS = np.linspace(0, 2 * math.pi, 72)
LEG = Leg(np.zeros(3), np.eye(3), 44.45, 2.4)


def header(od: float, at: float = 300.0, angle_deg: float = 90.0, offset: float = 0.0) -> Neighbour:
    a = math.radians(angle_deg)
    along, middle = np.array([math.cos(a), math.sin(a), 0.0]), np.array([at, 0.0, offset])
    return straight_neighbour("hoop", middle - 250 * along, middle + 250 * along, od)


def refusal(*hoops: Neighbour, leg: Leg = LEG) -> str:
    with pytest.raises(Refused) as refused:
        outline(leg, hoops, ROUNDS)
    return str(refused.value)


def joint_refusal(hoop: Neighbour) -> str:
    with pytest.raises(Refused) as refused:
        joint(LEG, hoop)
    return str(refused.value)


def test_tube_larger_than_what_it_meets() -> None:
    assert refusal(header(38.1)) == (
        'The tube is 44.45 mm OD and "hoop" is only 38.1 mm: a saddle cannot be cut. Let this tube '
        "run through and cut the other, or use a plate between them"
    )


def test_offset_up_to_the_side_is_cut_and_beyond_it_is_refused() -> None:
    room = (60.3 - 44.45) / 2
    assert np.isfinite(outline(LEG, [header(60.3, offset=room)], ROUNDS)).all()
    assert refusal(header(60.3, offset=room + 2.0)) == (
        'One side of the tube stands 1.99 mm past the side of "hoop" and meets nothing there. Bring the '
        "centrelines nearer together, move the joint away from the end, or use a smaller tube"
    )


def test_a_tube_that_passes_altogether_is_not_said_to_pass_on_one_side() -> None:
    apart = (60.3 + 44.45) / 2
    assert refusal(header(60.3, offset=apart + 5.0)) == (
        'The whole tube passes "hoop": its nearest side stands 5.01 mm clear of it. Bring the centrelines '
        "together, or move the joint away from the end"
    )


def test_tubes_of_one_size_a_hair_off_centre_are_cut() -> None:
    at = outline(LEG, [header(44.45, offset=0.4)], ROUNDS)
    assert np.abs(at - outline(LEG, [header(44.45)], ROUNDS)).max() < 5.0


def test_a_straight_tube_that_ends_twice_on_one_thing() -> None:
    assert refusal(header(60.3, at=25.0)) == (
        'The other end of the tube lies inside "hoop", so that this end cannot be cut to it. Check the places, or name '
        "it at the other end alone"
    )


def test_a_side_that_passes_the_first_thing_and_lands_far_behind_it() -> None:
    post = replace(header(60.3, at=700.0), name="post")
    assert refusal(header(60.3, offset=30.15), post) == (
        'Part of the tube\'s end passes "hoop" and "post" and lands only 408.71 mm further on. Move the '
        "joint so that the whole end lands"
    )


def test_cut_that_runs_into_the_bend() -> None:
    assert refusal(header(60.3, at=25.0), leg=replace(LEG, bend_angle=1.0, bend_radius=150.0)) == (
        'The cut on "hoop" would run back into the bend, past the start of the straight. Make that straight longer, '
        "or move the joint"
    )


def test_grazing_joint() -> None:
    assert joint_refusal(header(60.3, angle_deg=12.0)) == (
        'The joint on "hoop" is only 12.0 degrees between the axes: under 15 no saw or notcher makes the cut. Meet it '
        "at a larger angle"
    )
    normal = np.array([math.sin(math.radians(10.0)), math.cos(math.radians(10.0)), 0.0])
    assert joint_refusal(cut_ends.plate("deck", np.array([300.0, 0, 0]), normal, LEG)) == (
        'The joint on "deck" is only 10.0 degrees between the axis and the plate: under 15 no saw or notcher makes '
        "the cut. Meet it at a larger angle"
    )


def test_tube_that_never_meets_its_neighbour() -> None:
    assert joint_refusal(header(60.3, at=-100.0)) == ('The tube runs past "hoop" and never meets it. Check the places')
    assert refusal(header(60.3, at=-100.0)) == ('The tube\'s end does not meet "hoop". Check the places, or prolong it')


def test_wall_thicker_than_the_tube() -> None:
    with pytest.raises(BadValue, match=r"^a tube of 20 mm OD cannot have a wall of 10 mm$"):
        Leg(np.zeros(3), np.eye(3), 20.0, 10.0)
