"""Offsets, saddles and rolling offsets against tables and worked examples of electricians and pipe fitters.

An offset is two equal bends with half a turn between them; a rolling offset is the same part turned about
its axis. Units are inches. Each figure names its source and how it was come by: read in the
source itself, from memory, or computed here from a closed form.
"""

import math

import numpy as np
import pytest

from plumbend.frames import FloatArray
from plumbend.making.corners import corners_from_program, program_from_corners
from plumbend.shape.chain import Chain
from plumbend.shape.program import Program

SHARP = 1e-9  # a radius so small that bends are corners


def offset(angle: float, travel: float = 1.0) -> FloatArray:
    """Corners (4, 3) of a sharp flat offset bent by program: legs 1, ``travel``, 1."""
    turn = np.radians(angle)
    return corners_from_program(
        Program(np.array([1.0, travel, 1.0]), np.array([0.0, math.pi]), np.array([turn, turn])), SHARP
    )


def set_of(corners: FloatArray) -> float:
    """How far the last leg has stepped aside from the first; the legs must be parallel."""
    assert corners[3] - corners[2] == pytest.approx(corners[1] - corners[0], abs=1e-7)
    return float(np.linalg.norm((corners[2] - corners[1])[1:]))


def advance_of(corners: FloatArray) -> float:
    """How far the offset gets along its axis between the two corners."""
    return float((corners[2] - corners[1])[0])


# Exact offset multiplier 1/sin (computed here); electricians' trade table of multipliers (read on several
# pages), which rounds: within a twentieth.
@pytest.mark.parametrize(
    ("angle", "exact", "table"),
    [
        (10, 5.7588, 6.0),
        (15, 3.8637, 3.9),
        (22.5, 2.6131, 2.6),
        (30, 2.0, 2.0),
        (45, 1.4142, 1.4),
        (60, 1.1547, 1.2),
    ],
)
def test_offset_multiplier(angle: float, exact: float, table: float) -> None:
    multiplier = 1.0 / set_of(offset(angle))
    assert multiplier == pytest.approx(exact, abs=1e-4)
    assert multiplier == pytest.approx(table, rel=0.05)


# Sharp-corner shrink per inch of offset, tan(I/2) (computed here); the trade table (read) is low by the given
# percentage.
@pytest.mark.parametrize(
    ("angle", "exact", "table", "low"),
    [
        (10, 0.0875, 1 / 16, 29),
        (15, 0.1317, 1 / 8, 5),
        (22.5, 0.1989, 3 / 16, 6),
        (30, 0.2679, 1 / 4, 7),
        (45, 0.4142, 3 / 8, 9),
        (60, 0.5774, 1 / 2, 13),
    ],
)
def test_offset_shrink(angle: float, exact: float, table: float, low: int) -> None:
    corners = offset(angle)
    shrink = (1.0 - advance_of(corners)) / set_of(corners)
    assert shrink == pytest.approx(exact, abs=1e-4)
    assert round(100 * (1 - table / shrink)) == low


# Three-bend saddle of 22.5, 45, 22.5 degrees: centre mark to outer mark 2.5 times the height by trade
# tables (from memory), 2.6131 times exactly (computed here).
def test_three_bend_saddle() -> None:
    half_turn = math.pi
    program = Program(
        np.array([5.0, 1.0, 1.0, 5.0]), np.array([0.0, half_turn, half_turn]), np.radians([22.5, 45.0, 22.5])
    )
    corners = corners_from_program(program, SHARP)
    height = float(corners[2, 1])
    assert corners[[0, 1, 3, 4], 1] == pytest.approx(np.zeros(4), abs=1e-7)
    assert 1.0 / height == pytest.approx(2.6131, abs=1e-4)
    assert 1.0 / height == pytest.approx(2.5, rel=0.05)


# Trade worked example (read): offset of 15 in at 25 degrees, marks 35.49 apart; 2.37 x 15 = 35.55 by the
# table.
def test_mark_spacing_of_a_15_inch_offset() -> None:
    spacing = 15.0 / set_of(offset(25.0))
    assert spacing == pytest.approx(35.49, abs=0.01)
    assert spacing == pytest.approx(35.55, abs=0.1)


# Computed here: offsets bent on a real radius shrink less than sharp corners say.
@pytest.mark.parametrize(
    ("height", "angle", "radius", "vertices", "middle", "developed", "run", "shrink", "sharp"),
    [
        (6.0, 30.0, 4.5, 12.0000, 9.5885, 14.3008, 12.8038, 1.4970, 1.6077),
        (10.0, 45.0, 6.0, 14.1421, 9.1716, 18.5964, 14.9706, 3.6258, 4.1421),
    ],
)
def test_offset_on_a_radius(
    height: float,
    angle: float,
    radius: float,
    vertices: float,
    middle: float,
    developed: float,
    run: float,
    shrink: float,
    sharp: float,
) -> None:
    advance = height / math.tan(math.radians(angle))
    corners = np.array([[0.0, 0, 0], [20, 0, 0], [20 + advance, height, 0], [40 + advance, height, 0]])
    program = program_from_corners(corners, radius)
    chain = Chain.from_program(program, radius)
    assert np.degrees(program.angles) == pytest.approx([angle, angle], abs=1e-9)
    assert abs(np.degrees(program.rotations[1])) == pytest.approx(180.0, abs=1e-9)
    assert program.straights[1] == pytest.approx(middle, abs=1e-4)
    bent = program.developed_length(radius) - program.straights[0] - program.straights[2]
    assert bent == pytest.approx(developed, abs=1e-4)
    gone = float((chain.tangents()[2, 0] - chain.tangents()[0, 1])[0])
    assert gone == pytest.approx(run, abs=1e-4)
    assert bent - gone == pytest.approx(shrink, abs=1e-4)
    between = np.linalg.norm(chain.corners()[2] - chain.corners()[1])
    assert between == pytest.approx(vertices, abs=1e-4)
    assert between - advance == pytest.approx(sharp, abs=1e-4)


# Fitting constants, travel and advance per unit of set: plumbing reference page (read), also Frankland, The
# Pipe Fitter's and Pipe Welder's Handbook (from memory), to half a unit of the last digit.
@pytest.mark.parametrize(
    ("angle", "travel", "advance"), [(60.0, 1.155, 0.577), (45.0, 1.414, 1.000), (22.5, 2.613, 2.414)]
)
def test_fitting_constants(angle: float, travel: float, advance: float) -> None:
    corners = offset(angle)
    assert 1.0 / set_of(corners) == pytest.approx(travel, abs=5e-4)
    assert advance_of(corners) / set_of(corners) == pytest.approx(advance, abs=5e-4)


# The same to more digits and for finer angles (computed here).
@pytest.mark.parametrize(
    ("angle", "travel", "advance"),
    [
        (72.0, 1.0515, 0.3249),
        (30.0, 2.0, 1.7321),
        (11.25, 5.1258, 5.0273),
        (5.625, 10.2023, 10.1532),
    ],
)
def test_finer_fitting_constants(angle: float, travel: float, advance: float) -> None:
    corners = offset(angle)
    assert 1.0 / set_of(corners) == pytest.approx(travel, abs=1e-4)
    assert advance_of(corners) / set_of(corners) == pytest.approx(advance, abs=1e-4)


# Old plumbing handbook page, angle-fitting table (read): a set of 12 in with 60-degree fittings has a run
# of 6.9288 and a travel of 13.8564 (exactly 6.9282 and 13.8564).
def test_twelve_inch_set() -> None:
    corners = offset(60.0, travel=13.8564)
    assert set_of(corners) == pytest.approx(12.0, abs=1e-3)
    assert advance_of(corners) == pytest.approx(6.9288, abs=1e-3)


# The same table (read): runs a spread D apart keep it round 60-degree bends when their bends are staggered by
# D x 0.5774, exactly D tan(I/2).
@pytest.mark.parametrize("spread", [2.0, 7.5])
def test_parallel_runs(spread: float) -> None:
    stagger = 0.5774 * spread
    turn = np.array([math.radians(60.0)])
    outer = corners_from_program(Program(np.array([10.0, 10.0]), np.zeros(1), turn), SHARP)
    inner = corners_from_program(Program(np.array([10.0 - stagger, 10.0]), np.zeros(1), turn), SHARP)
    inner = inner + np.array([0.0, spread, 0.0])
    course = (outer[2] - outer[1]) / np.linalg.norm(outer[2] - outer[1])
    apart = np.cross(course, inner[1] - outer[1])
    assert apart == pytest.approx(np.array([0.0, 0.0, spread]), abs=1e-4 * spread)


def rolling_offset(first: FloatArray, advance: float, left: float, up: float) -> FloatArray:
    """Corners of a run that comes in along ``first``, turns forward, and later steps left and up."""
    corner = np.array([40.0, 0.0, 0.0])
    step = np.array([advance, left, up])
    return np.array([-40.0 * first, np.zeros(3), corner, corner + step, corner + step + np.array([40.0, 0, 0])])


FROM_THE_LEFT = np.array([0.0, -1.0, 0.0])  # a level bend comes first: the roll is counted from the level
FROM_ABOVE = np.array([0.0, 0.0, -1.0])  # an upright bend comes first: it is counted from the plumb line


# Home-plumbing article (read: true offset of rise 8 and roll 12); travel with 45-degree bends and the angle
# from the roll axis computed here.
@pytest.mark.parametrize(("roll", "turn"), [(12.0, 33.690), (-12.0, 180.0 - 33.690)])
def test_rolling_offset_of_rise_8_roll_12(roll: float, turn: float) -> None:
    true_offset = 14.422
    corners = rolling_offset(FROM_THE_LEFT, true_offset, roll, 8.0)
    program = program_from_corners(corners, SHARP)
    assert np.degrees(program.angles) == pytest.approx([90.0, 45.0, 45.0], abs=1e-3)
    assert program.straights[2] == pytest.approx(20.396, abs=1e-3)
    # rising toward the left is a clockwise turn, looking forward, of a bend that lay to the left
    assert np.degrees(program.rotations[1]) == pytest.approx(turn, abs=1e-3)
    assert abs(np.degrees(program.rotations[2])) == pytest.approx(180.0, abs=1e-6)
    part = corners_from_program(Program(program.straights[1:], np.array([0, math.pi]), program.angles[1:]), SHARP)
    assert set_of(part) == pytest.approx(true_offset, abs=1e-3)


# Apprentice notes "Rolling Offsets" (2011; read): rise 30 5/8, roll 17 5/8, 45-degree fittings. They round
# the true offset to 35 3/8 before multiplying and print a travel of 50.02; unrounded it is 49.9706.
@pytest.mark.parametrize(("left", "turn"), [(-17.625, 29.921), (17.625, -29.921)])
def test_rolling_offset_of_rise_30_roll_17(left: float, turn: float) -> None:
    corners = rolling_offset(FROM_ABOVE, 35.3346, left, 30.625)
    program = program_from_corners(corners, SHARP)
    assert np.degrees(program.angles) == pytest.approx([90.0, 45.0, 45.0], abs=1e-3)
    assert program.straights[2] == pytest.approx(49.9706, abs=1e-3)
    assert program.straights[2] == pytest.approx(50.02, abs=0.06)
    assert np.degrees(program.rotations[1]) == pytest.approx(turn, abs=1e-3)
    part = corners_from_program(Program(program.straights[1:], np.array([0, math.pi]), program.angles[1:]), SHARP)
    assert set_of(part) == pytest.approx(35.3346, abs=1e-3)


# Worked example (read: offsets 15 and 20, advance 10, travel 26.9258); bend angle and roll computed here.
def test_rolling_offset_of_15_and_20() -> None:
    program = program_from_corners(rolling_offset(FROM_THE_LEFT, 10.0, 15.0, 20.0), SHARP)
    assert program.straights[2] == pytest.approx(26.9258, abs=1e-3)
    assert np.degrees(program.angles[1:]) == pytest.approx([68.1986, 68.1986], abs=1e-3)
    assert np.degrees(program.rotations[1]) == pytest.approx(53.130, abs=1e-3)
    part = corners_from_program(Program(program.straights[1:], np.array([0, math.pi]), program.angles[1:]), SHARP)
    assert set_of(part) == pytest.approx(25.0, abs=1e-3)


# Least centreline radii of conduit for one-shot benders, NEC ch. 9 table 2 (from memory), trade sizes 1/2
# to 2; gain of a 90-degree bend on them computed here.
@pytest.mark.parametrize(
    ("radius", "gain"),
    [(4.0, 1.717), (4.5, 1.931), (5.75, 2.468), (7.25, 3.112), (8.25, 3.541), (9.5, 4.077)],
)
def test_gain_of_conduit_bends(radius: float, gain: float) -> None:
    corners = np.array([[0.0, 0, 0], [20, 0, 0], [20, 20, 0]])
    program = program_from_corners(corners, radius)
    assert 40.0 - program.developed_length(radius) == pytest.approx(gain, abs=1e-3)
