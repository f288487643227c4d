"""A wrong reading of the tube itself is found and named, and no right point is blamed for it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plumbend.job.model import Job, WantedTube
from plumbend.job.result_json import result_to_json
from plumbend.job.results import Result, TubeResult
from plumbend.shape.chain import Chain
from plumbend.shape.points import Point
from plumbend.shape.program import Program
from plumbend.shape.scan import Scan
from plumbend.shape.tube_readings import (
    BendAngle,
    BendRotation,
    CornersApart,
    LegsApart,
    LegSlope,
    OutsideToEnd,
    TubeReading,
)
from plumbend.shop import Die
from plumbend.solving import solve
from plumbend.tubing import Tubing
from support.tubes import OD, RADIUS, leg_points, scan_places

DIE = Die("140", clr=RADIUS, od=OD, max_wrap=np.pi, grip=60.0)
SQUARE = np.pi / 2


def solved(wanted: WantedTube) -> TubeResult:
    return solve(Job("test", "mm", Tubing(OD), (wanted,))).tubes[0]


def text(tube: TubeResult, code: str) -> str:
    """The one notice of a code."""
    (found,) = [notice.text for notice in tube.notices if notice.code == code]
    return found


def codes(tube: TubeResult) -> set[str]:
    return {notice.code for notice in tube.notices}


def tube_of(turn: float = 25.0) -> Chain:
    program = Program(np.array([400.0, 300, 400]), np.radians([0, turn]), np.radians([60.0, 50]))
    return Chain.from_program(program, RADIUS)


def points_of(tube: Chain, *, sd: float = 1.0) -> tuple[Point, ...]:
    points = leg_points(tube, 3, np.random.default_rng(4), sd)
    return tuple(replace(point, cov=np.eye(3) * max(sd, 1.0) ** 2) for point in points)


def test_a_wrong_tape_between_corners_is_named_and_no_point() -> None:
    """25 November 2026: a right point was left out as wrong, and the wrong reading kept."""
    tube = tube_of()
    corners = tube.corners()
    readings: tuple[TubeReading, ...] = (
        CornersApart(1, 2, float(np.linalg.norm(corners[2] - corners[1])) + 100.0, 1.2),
        BendAngle(1, float(tube.angles[0]), np.radians(0.7)),
    )
    found = solved(WantedTube("tube", DIE, points_of(tube), bends=2, readings=readings))
    assert found.solved
    assert found.fit is not None
    assert found.program is not None
    assert text(found, "wrong-point") == (
        "The reading of the tape from corner 1 to corner 2 is probably wrong: without it all others agree within "
        "their accuracies. The tube was fitted without the reading of the tape from corner 1 to corner 2. "
        'Read it again; if it is right after all, say --keep "tape from corner 1 to corner 2".'
    )
    assert [reading.suspect for reading in found.fit.readings] == [True, False]
    assert not any(point.suspect for point in found.fit.points)
    written = result_to_json(Result("test", (found,)))["tubes"][0]["fit"]["readings"]
    assert [reading["suspect"] for reading in written] == [True, False]
    np.testing.assert_allclose(np.degrees(found.program.angles), [60, 50], atol=0.6)


def test_a_turn_read_the_wrong_way_round_is_told() -> None:
    tube = tube_of(25.0)
    readings = (BendRotation(2, np.radians(-25.0), np.radians(1.0)),)
    found = solved(WantedTube("tube", DIE, points_of(tube), bends=2, readings=readings))
    assert "It fits if the turn goes the other way, 25.0 degrees clockwise." in text(found, "wrong-point")


def test_a_wrong_reading_beside_a_scan_is_not_laid_at_the_scan() -> None:
    tube = tube_of()
    scan = Scan(scan_places(tube, 300, np.random.default_rng(3), 0.5), 0.5)
    readings = (BendAngle(2, np.radians(68.0), np.radians(0.7)),)
    found = solved(WantedTube("tube", DIE, readings=readings, scan=scan))
    assert text(found, "wrong-point").startswith("The reading of the angle of bend 2 is probably wrong")
    assert "points-disagree" not in codes(found)


def test_two_wrong_readings_are_both_left_out_and_marked() -> None:
    tube = tube_of()
    readings = (
        BendAngle(1, np.radians(66.0), np.radians(0.7)),
        BendAngle(2, np.radians(61.0), np.radians(0.7)),
    )
    found = solved(WantedTube("tube", DIE, points_of(tube, sd=0.0), bends=2, readings=readings))
    assert found.fit is not None
    assert [notice.text for notice in found.notices if notice.code == "wrong-point"] == [
        "The reading of the angle of bend 1 is probably wrong: without it and the reading of the angle of bend 2 all "
        "others agree within their accuracies. The tube was fitted without the reading of the angle of bend 1. Read it "
        'again; if it is right after all, say --keep "angle of bend 1".',
        "The reading of the angle of bend 2 is probably wrong: without it and the reading of the angle of bend 1 all "
        "others agree within their accuracies. The tube was fitted without the reading of the angle of bend 2. Read it "
        'again; if it is right after all, say --keep "angle of bend 2".',
    ]
    assert [reading.suspect for reading in found.fit.readings] == [True, True]


def test_a_wrong_number_of_bends_is_said_beside_what_it_leads_to() -> None:
    """25 November 2026: a right point was blamed where one bend too few was told."""
    tube = Chain.from_program(
        Program(np.array([400.0, 300, 300, 400]), np.radians([0, 60, -40]), np.radians([60.0, 50, 40])), RADIUS
    )
    found = solved(WantedTube("tube", DIE, points_of(tube, sd=0.3), bends=2))
    assert text(found, "other-bend-count") == (
        "2 are told, but with 3 bends everything agrees within its accuracy. Count the bends again before blaming a "
        "point."
    )


def test_a_tube_told_to_lie_flat_that_does_not_says_so() -> None:
    """25 November 2026: a right point was blamed where the tube does not lie flat."""
    tube = Chain.from_program(
        Program(np.array([400.0, 300, 300, 400]), np.radians([0, 60, -40]), np.radians([60.0, 50, 40])), RADIUS
    )
    found = solved(WantedTube("tube", DIE, points_of(tube, sd=0.3), bends=3, planar=True))
    assert text(found, "not-flat") == (
        "The tube is told to lie flat, but as one that does not everything agrees within its accuracy. Take planar out "
        "before blaming a point."
    )


def test_a_scan_of_a_tube_from_another_die_says_so() -> None:
    tube = replace(tube_of(), radius=165.0)
    scan = Scan(scan_places(tube, 300, np.random.default_rng(3), 0.3), 0.3)
    found = solved(WantedTube("tube", DIE, bends=2, scan=scan))
    said = text(found, "other-radius")
    assert said.startswith("The scan agrees with bends of a centreline radius of 16")
    assert "say copied = true" in said


def test_a_scan_alone_says_which_end_is_the_start() -> None:
    tube = tube_of()
    scan = Scan(scan_places(tube, 300, np.random.default_rng(3), 0.3), 0.3)
    found = solved(WantedTube("tube", DIE, bends=2, scan=scan))
    assert text(found, "which-end").startswith("The scan does not say which end comes first: the start end is the one")


U_OR_Z = (
    LegsApart(1, 3, 600.0, 1.2, OD, "outside"),
    OutsideToEnd(2, False, 500.0, 1.2, OD),
    OutsideToEnd(2, True, 500.0, 1.2, OD),
    BendAngle(1, SQUARE, np.radians(0.7)),
    BendAngle(2, SQUARE, np.radians(0.7)),
)


def test_a_planar_tube_of_readings_alone_says_which_way_was_taken() -> None:
    """25 November 2026: a Z reads like a U, and a U was taken in silence."""
    found = solved(WantedTube("hoop", DIE, bends=2, readings=U_OR_Z, planar=True))
    assert found.solved
    assert found.program is not None
    assert found.program.rotations[1] == 0
    assert text(found, "way-of-bend-2") == (
        "Bend 2 is taken to go the same way as bend 1, as in a U; the readings fit the other way as well. "
        "If that is meant, say { bend = 2, rotation = 180 }."
    )


def test_a_reading_across_the_ends_settles_which_way_the_bends_go() -> None:
    far = Chain.from_program(Program(np.array([340.0, 277.8, 340]), np.radians([0, 180]), np.full(2, SQUARE)), RADIUS)
    across = CornersApart(0, 3, float(np.linalg.norm(far.far_end)), 3.0)
    found = solved(WantedTube("step", DIE, bends=2, readings=(*U_OR_Z, across), planar=True))
    assert found.program is not None
    assert abs(found.program.rotations[1]) == pytest.approx(np.pi)
    assert "way-of-bend-2" not in codes(found)


def test_a_turn_that_was_read_needs_no_note() -> None:
    readings = (*U_OR_Z, BendRotation(2, np.pi, np.radians(1.0)))
    found = solved(WantedTube("step", DIE, bends=2, readings=readings, planar=True))
    assert found.program is not None
    assert abs(found.program.rotations[1]) == pytest.approx(np.pi)
    assert "way-of-bend-2" not in codes(found)


def test_legs_that_splay_have_no_one_distance() -> None:
    readings = (*U_OR_Z[:3], BendAngle(1, SQUARE, np.radians(0.7)), BendAngle(2, np.radians(75), np.radians(0.7)))
    found = solved(WantedTube("hoop", DIE, bends=2, readings=readings, planar=True))
    assert text(found, "legs-splay-1-3").startswith("Legs 1 and 3 splay by 15.0 degrees, so the distance across them")


def test_a_side_that_points_along_its_leg_is_refused() -> None:
    tube = Chain.from_program(Program(np.array([400.0, 400]), np.zeros(1), np.radians([60.0])), RADIUS)
    points = list(points_of(tube))
    side = Point("s", "centre", tube.tangents()[0].mean(axis=0), np.eye(3), leg=1, side=np.array([1.0, 0, 0]))
    found = solved(WantedTube("tube", DIE, (*points[:2], side, *points[2:]), bends=1))
    assert not found.solved
    said = text(found, "side-along-leg-s")
    assert said.startswith("The side touched at s lies 0.")
    assert " degrees from the tube's own direction there: that is no side of it. Ways out: name a side that" in said


def test_no_crowd_is_named_behind_a_refusal() -> None:
    """25 November 2026: nearly every point was named, and the tube said to be bendable without a look."""
    tube = Chain.from_program(Program(np.array([300.0, 30, 300]), np.radians([0, 40]), np.radians([50.0, 60])), RADIUS)
    points = tuple(replace(point, cov=np.eye(3)) for point in leg_points(tube, 4, np.random.default_rng(5), 0.0))
    tight = Die("140", clr=RADIUS, od=OD, max_wrap=np.pi, grip=100.0)
    found = solved(WantedTube("tube", tight, points, bends=2))
    assert not found.solved
    for notice in found.notices:
        assert notice.code != "wrong-point" or notice.text.count(" or ") <= 2


def test_readings_choose_the_start_end_of_a_scan() -> None:
    """A scan has no first end of its own: bend 1 is the one that was read as bend 1."""
    tube = tube_of()
    scan = Scan(scan_places(tube, 300, np.random.default_rng(3), 0.3), 0.3)
    for degrees in ([60.0, 50.0], [50.0, 60.0]):
        readings = tuple(BendAngle(k, np.radians(read), np.radians(0.7)) for k, read in enumerate(degrees, 1))
        found = solved(WantedTube("tube", DIE, readings=readings, scan=scan))
        assert found.solved
        assert found.program is not None
        np.testing.assert_allclose(np.degrees(found.program.angles), degrees, atol=0.3)


@pytest.mark.parametrize("bends", [1, None])
def test_readings_of_the_tube_alone_that_disagree_are_told(bends: int | None) -> None:
    """26 November 2026: with no points to count the bends by, solve broke off on such a tube."""
    found = solved(WantedTube("tube", DIE, bends=bends, readings=(BendAngle(1, 1.0, 0.01), BendAngle(1, 1.3, 0.01))))
    assert found.solved
    assert found.program is not None
    assert found.program.angles == pytest.approx([1.15])
    assert text(found, "points-disagree") == (
        "The readings disagree by more than their accuracies allow; the reading of the angle of bend 1 is missed "
        "worst. Read it again before bending. Every ± was made 21.2 times wider for it."
    )


def test_readings_that_say_nothing_of_a_parts_radius_are_told_without_a_warning_of_arithmetic() -> None:
    readings = (
        BendRotation(2, -1.54, 0.0015),
        BendRotation(2, -0.126, 0.0006),
        CornersApart(1, 3, 591.8, 0.042),
        LegsApart(1, 3, 642.2, 0.547, 38.1, "outside"),
        CornersApart(1, 2, 1265.0, 0.0033),
        LegSlope(1, 1.25, 0.0006),
    )
    found = solved(WantedTube("tube", DIE, bends=3, readings=readings, copied=True))
    assert not found.solved
    assert found.part is not None
    assert np.isnan(found.part.doubt)
