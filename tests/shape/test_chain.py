"""The chain: exact derivatives, feet on either side of a joint, and the properties of a program."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.making.corners import corners_from_program, program_from_corners
from plumbend.shape.chain import Chain, layout
from plumbend.shape.feet import feet
from plumbend.shape.program import Program
from support.tubes import RADIUS, assert_same_program, random_frame, random_tube, turn_apart

seeds = st.integers(0, 2**32 - 1)


@given(seed=seeds, bends=st.integers(0, 8))
def test_rigid_motion_changes_nothing_in_the_program(seed: int, bends: int) -> None:
    rng = np.random.default_rng(seed)
    tube = random_tube(rng, bends, angles=(0.5, 150.0))
    turn, shift = random_frame(rng), rng.uniform(-500, 500, 3)
    before = program_from_corners(tube.corners(), RADIUS)
    after = program_from_corners(tube.corners() @ turn.T + shift, RADIUS)
    np.testing.assert_allclose(after.straights, before.straights, atol=1e-8)
    np.testing.assert_allclose(after.angles, before.angles, atol=1e-10)
    np.testing.assert_allclose(turn_apart(after.rotations, before.rotations), 0, atol=1e-8)


@given(seed=seeds, bends=st.integers(1, 8))
def test_end_for_end_keeps_every_rotation(seed: int, bends: int) -> None:
    tube = random_tube(np.random.default_rng(seed), bends, angles=(0.5, 150.0))
    turned_round = program_from_corners(tube.corners()[::-1], RADIUS)
    named = tube.program.reversed()
    np.testing.assert_allclose(turned_round.straights, named.straights, atol=1e-8)
    np.testing.assert_allclose(turned_round.angles, named.angles, atol=1e-10)
    np.testing.assert_allclose(turn_apart(turned_round.rotations, named.rotations), 0, atol=1e-8)
    np.testing.assert_allclose(named.rotations[1:], tube.program.rotations[:0:-1])


def test_a_tube_named_from_its_other_end_lies_where_it_lay() -> None:
    rng = np.random.default_rng(12)
    for bends in (0, 1, 2, 5):
        tube = random_tube(rng, bends)
        other = tube.reversed()
        np.testing.assert_allclose(other.corners(), tube.corners()[::-1], atol=1e-8)
        np.testing.assert_allclose(other.reversed().frame, tube.frame, atol=1e-12)


@given(seed=seeds, bends=st.integers(1, 8))
def test_a_mirror_image_negates_every_rotation(seed: int, bends: int) -> None:
    tube = random_tube(np.random.default_rng(seed), bends, angles=(0.5, 150.0))
    image = program_from_corners(tube.corners() * [1, -1, 1], RADIUS)
    named = tube.program.mirrored()
    np.testing.assert_allclose(image.straights, named.straights, atol=1e-8)
    np.testing.assert_allclose(image.angles, named.angles, atol=1e-10)
    np.testing.assert_allclose(turn_apart(image.rotations, -tube.rotations), 0, atol=1e-8)
    np.testing.assert_allclose(turn_apart(named.rotations, -tube.rotations), 0, atol=1e-12)


@given(seed=seeds, bends=st.integers(0, 8))
def test_program_to_corners_and_back(seed: int, bends: int) -> None:
    tube = random_tube(np.random.default_rng(seed), bends, angles=(0.5, 150.0))
    again = program_from_corners(corners_from_program(tube.program, RADIUS), RADIUS)
    assert_same_program(Chain.from_program(again, RADIUS), tube, 1e-8, 1e-7)


@pytest.mark.parametrize("degrees", [1e-6, 1e-3, 0.1, 1.0, 90.0, 170.0, 178.0])
def test_corners_of_one_bend_from_a_millionth_of_a_degree_upward(degrees: float) -> None:
    program = Program(np.array([300.0, 200.0]), np.zeros(1), np.radians([degrees]))
    again = program_from_corners(corners_from_program(program, RADIUS), RADIUS)
    np.testing.assert_allclose(np.degrees(again.angles), degrees, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(again.straights, program.straights, atol=1e-7)


def test_a_u_bend_has_no_corner_and_its_legs_lie_two_radii_apart() -> None:
    tube = Chain.from_program(Program(np.array([300.0, 200.0]), np.zeros(1), np.array([np.pi])), RADIUS)
    assert np.isnan(tube.corners()[1]).all()
    np.testing.assert_allclose(tube.tangents()[1], [[300, 2 * RADIUS, 0], [100, 2 * RADIUS, 0]], atol=1e-12)


def test_a_straight_joint_carries_the_plane_of_the_last_bend() -> None:
    program = program_from_corners(
        np.array([[0, 0, 0], [500, 0, 0], [500, 500, 0], [500, 1000, 0], [500, 1500, 400]]), RADIUS
    )
    np.testing.assert_allclose(np.degrees(program.rotations), [0, 0, 90], atol=1e-9)
    np.testing.assert_allclose(np.degrees(program.angles[1]), 0, atol=1e-12)


@pytest.mark.parametrize(
    ("corners", "message"),
    [
        ([[0, 0, 0]], "A tube is given by at least two corners, each with three coordinates."),
        ([[0, 0, 0], [1, np.nan, 0]], "A tube is given by at least two corners, each with three coordinates."),
        (
            [[0, 0, 0], [9, 0, 0], [9, 0, 0]],
            "Corners 2 and 3 lie in one place: leave one of them out.",
        ),
        (
            [[0, 0, 0], [9, 0, 0], [2, 0, 0]],
            "The tube folds straight back at corner 2: a U-bend has no corner.",
        ),
    ],
)
def test_corners_that_are_no_tube(corners: list[list[float]], message: str) -> None:
    with pytest.raises(BadValue) as caught:
        program_from_corners(np.array(corners, dtype=float), RADIUS)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("straights", "rotations", "angles", "message"),
    [
        (2, [0.0, 0.0], 2, "A program of 2 bends has 3 straights and 2 rotations, not 2 and 2."),
        (2, [0.5], 1, "The first rotation is 0: nothing lies before the first bend."),
        (3, [0.0, np.inf], 2, "A program's straights, rotations and angles are finite numbers."),
    ],
)
def test_programs_that_do_not_hang_together(straights: int, rotations: list[float], angles: int, message: str) -> None:
    with pytest.raises(BadValue) as caught:
        Program(np.ones(straights), np.array(rotations), np.ones(angles))
    assert str(caught.value) == message


@pytest.mark.parametrize(("radius", "said"), [(0.0, "0"), (-140.0, "-140"), (np.nan, "nan"), (np.inf, "inf")])
def test_a_radius_that_is_none(radius: float, said: str) -> None:
    message = f"^A bend's centreline radius is more than 0 mm, not {said}\\.$"
    with pytest.raises(BadValue, match=message):
        program_from_corners(np.array([[0.0, 0, 0], [500, 0, 0], [500, 500, 0]]), radius)
    with pytest.raises(BadValue, match=message):
        corners_from_program(Program(np.ones(2), np.zeros(1), np.ones(1)), radius)


def test_the_centreline_is_as_long_as_the_program_says() -> None:
    tube = random_tube(np.random.default_rng(5), 4)
    places, stations = tube.polyline(1e-4)
    length = tube.program.developed_length(RADIUS)
    assert stations[-1] == pytest.approx(length, abs=1e-9)
    assert np.linalg.norm(np.diff(places, axis=0), axis=1).sum() == pytest.approx(length, rel=1e-6)
    assert np.linalg.norm(np.diff(places, axis=0), axis=1).sum() <= length


@given(seed=seeds, bends=st.integers(0, 6))
def test_feet_are_the_nearest_places(seed: int, bends: int) -> None:
    rng = np.random.default_rng(seed)
    tube = random_tube(rng, bends, angles=(1.0, 180.0))
    places, _ = tube.polyline(1e-4)
    points = places[rng.integers(0, len(places), 20)] + rng.normal(size=(20, 3)) * 60
    found = feet(tube, points)
    inside = found.beyond == 0
    nearest = np.linalg.norm(points[:, None] - places, axis=2).min(axis=1)
    # the polyline's own places are up to a chord apart, so none is nearer than the foot
    assert (np.linalg.norm(found.off, axis=1) <= nearest + 1e-9).all()
    np.testing.assert_allclose(np.linalg.norm(points - found.place, axis=1), np.linalg.norm(found.off, axis=1))
    on_tube = np.linalg.norm(found.place[:, None] - places, axis=2).min(axis=1)
    assert (on_tube[inside] <= 0.6 * np.sqrt(8e-4 * RADIUS) + _longest_straight_step(places)).all()
    square_to = np.einsum("mi,mi->m", found.off, found.tangent)
    clamped = _at_joint(tube, found.along, found.element)
    np.testing.assert_allclose(square_to[~clamped], 0, atol=1e-8)


def _longest_straight_step(places: FloatArray) -> float:
    return float(np.linalg.norm(np.diff(places, axis=0), axis=1).max())


def _at_joint(tube: Chain, along: FloatArray, element: FloatArray) -> FloatArray:
    lengths = np.where(element % 2 == 1, np.append(tube.angles, 0)[element // 2], tube.straights[element // 2])
    return (np.abs(along) < 1e-9) | (np.abs(along - lengths) < 1e-9)


def test_a_told_leg_keeps_a_foot_from_a_nearer_leg() -> None:
    tube = Chain.from_program(Program(np.array([400.0, 400.0]), np.zeros(1), np.array([np.pi])), 60.0)
    point = np.array([[100.0, 70.0, 0.0]])
    assert feet(tube, point).element.tolist() == [2]
    only_first = np.array([[True, True, False]])
    assert feet(tube, point, only_first).element.tolist() == [0]


def test_a_prolonged_end_takes_no_point_from_the_tube_that_is_there() -> None:
    """Three bends of a square: the last leg, prolonged, runs through the first."""
    tube = Chain.from_program(Program(np.array([400.0, 300.0, 300.0, 100.0]), np.zeros(3), np.full(3, np.pi / 2)), 60.0)
    last = tube.frames[-1, :, 0]
    prolonged = tube.far_end + np.array([10.0, 100.0, 250.0])[:, None] * last
    found = feet(tube, prolonged)
    assert found.element.tolist() == [6, 6, 0]
    assert found.beyond.tolist() == pytest.approx([10.0, 100.0, 0.0])
    assert np.linalg.norm(found.off[:2], axis=1) == pytest.approx(0.0, abs=1e-9)
    assert np.linalg.norm(found.off[2]) == pytest.approx(10.0)


def test_both_sides_of_a_joint_agree_on_value_and_first_derivative() -> None:
    """Where straight and arc meet the foot may be held on either: residual and derivative must be the same."""
    rng = np.random.default_rng(11)
    for _ in range(50):
        bends = int(rng.integers(1, 6))
        tube = random_tube(rng, bends, angles=(1.0, 180.0))
        k = int(rng.integers(0, bends))
        for straight, joint in ((k, tube.tangents()[k, 1]), (k + 1, tube.tangents()[k + 1, 0])):
            t = tube.frames[2 * straight, :, 0]
            off = np.cross(t, rng.normal(size=3)) * 10
            point = (joint + off)[None]
            sides = [feet(tube, point, element=np.array([element])) for element in (2 * straight, 2 * k + 1)]
            np.testing.assert_allclose(sides[0].off, sides[1].off, atol=1e-9)
            np.testing.assert_allclose(sides[0].tangent, sides[1].tangent, atol=1e-9)
            motion = tube.motion(tube.origin)
            normals = np.stack([off / np.linalg.norm(off), np.cross(t, off) / np.linalg.norm(off)])[None]
            rows = [motion.rows(normals, side.place) * motion.layout.before[side.element][:, None, :] for side in sides]
            scale = np.abs(rows[0]).max()
            np.testing.assert_allclose(rows[0] / scale, rows[1] / scale, atol=1e-9)


def test_a_negative_angle_becomes_a_bend_to_the_other_side_with_its_corners_kept() -> None:
    rng = np.random.default_rng(3)
    for bends in (1, 2, 3, 5):
        tube = random_tube(rng, bends, angles=(1.0, 3.0))
        where = layout(bends)
        for k in range(bends):
            step = np.zeros(where.size)
            step[where.angles.start + k] = -2 * tube.angles[k]
            flipped = tube.moved(step, tube.origin)
            assert (flipped.angles > 0).all()
            backward = replace(tube, angles=tube.angles + step[where.angles])  # its arc runs backwards
            np.testing.assert_allclose(flipped.corners(), backward.corners(), atol=1e-9)
