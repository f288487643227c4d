"""Tangents, arcs and stationing against worked examples of route surveying, sheet metal and roll cages.

A circular curve between two tangents of a road is a bend between two straights of a tube. Units are each
source's own (metres, feet, inches): the arithmetic does not care. Each figure names its source and how it
was come by: read in the source itself, read in a transcription, from memory, or computed here from a closed
form. Printed figures must agree to half a unit of their last digit, unless the source rounded on its way.
"""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from plumbend.frames import FloatArray
from plumbend.making.buildable import Bench, over_limits
from plumbend.making.corners import corners_from_program, program_from_corners
from plumbend.shape.chain import Chain
from plumbend.shape.program import Program
from plumbend.shop import Die
from plumbend.tubing import Tubing


def printed(figure: str) -> Any:
    """The figure, to half a unit of its last printed digit."""
    decimals = len(figure.partition(".")[2])
    return pytest.approx(float(figure), abs=0.5 * 10.0**-decimals * (1 + 1e-9), rel=0)


def flat_path(legs: list[float], turns: list[float]) -> FloatArray:
    """Corners of a path on the flat: legs, and the turn after each but the last, degrees, + to the left."""
    courses = np.radians(np.cumsum([0.0, *turns]))
    steps = np.array(legs)[:, None] * np.column_stack([np.cos(courses), np.sin(courses), 0 * courses])
    return np.concatenate([np.zeros((1, 3)), np.cumsum(steps, axis=0)])


@dataclass(frozen=True)
class Curve:
    """One curve set out by the product: tangent length, arc, chord, external, mid-ordinate, chainages."""

    tangent: float
    arc: float
    chord: float
    external: float
    ordinate: float
    start: float
    end: float


def curve(radius: float, turn: float, intersection: float) -> Curve:
    """A curve of ``turn`` degrees whose tangents meet at the chainage ``intersection``."""
    corners = flat_path([intersection, 2 * intersection], [turn])
    program = program_from_corners(corners, radius)
    chain = Chain.from_program(program, radius)
    begin, finish = chain.tangents()[0, 1], chain.tangents()[1, 0]
    centre = chain.origins[1]
    end = program.developed_length(radius) - program.straights[1]
    return Curve(
        tangent=intersection - float(program.straights[0]),
        arc=float(end - program.straights[0]),
        chord=float(np.linalg.norm(finish - begin)),
        external=float(np.linalg.norm(chain.corners()[1] - centre)) - radius,
        ordinate=radius - float(np.linalg.norm((begin + finish) / 2 - centre)),
        start=float(program.straights[0]),
        end=float(end),
    )


# Basak, Surveying and Levelling, ch. 10, p. 379 (read in a transcription).
def test_curve_of_24_degrees() -> None:
    found = curve(radius=275.0, turn=24.0, intersection=1320.5)
    assert found.tangent == printed("58.45")
    assert found.arc == printed("115.19")
    assert found.chord == printed("114.35")
    assert found.external == printed("6.144")
    assert found.ordinate == printed("6.009")
    assert found.start == printed("1262.05")
    assert found.end == printed("1377.24")


# Basak, Surveying and Levelling, ch. 10, p. 379-380 (read in a transcription; R rounded there from 1719/3).
def test_curve_of_30_degrees() -> None:
    found = curve(radius=573.0, turn=30.0, intersection=2760.0)
    assert found.tangent == printed("153.535")
    assert found.arc == printed("300.022")
    assert found.chord == printed("296.607")
    assert found.start == printed("2606.465")
    assert found.end == printed("2906.487")


# Basak, Surveying and Levelling, ch. 10, p. 381 (read in a transcription): given by the angle between the
# legs.
def test_curve_given_by_its_interior_angle() -> None:
    found = curve(radius=300.0, turn=180.0 - 126.8, intersection=1000.0)
    assert found.tangent == printed("150.229")
    assert found.arc == printed("278.555")


# Posted solution to a highway-engineering textbook exercise (read): degree of curve 8 by the arc definition,
# R 716.20 ft. Its 908.50 is 908.49 by exact arithmetic on the rounded R, so 0.01 is allowed.
@pytest.mark.parametrize(("turn", "tangent", "arc"), [(25.5, 162.06, 318.75), (103.5, 908.50, 1293.75)])
def test_curves_of_degree_eight(turn: float, tangent: float, arc: float) -> None:
    found = curve(radius=716.20, turn=turn, intersection=2000.0)
    assert found.tangent == pytest.approx(tangent, abs=0.01)
    assert found.arc == pytest.approx(arc, abs=0.01)


# Computed here from the two curves above with their intersections 650 ft apart: 650 - 162.06 - 908.50. The
# same solution sheet prints a straight of 96.5 ft there, which cannot be.
def test_curves_that_leave_no_room_for_a_straight() -> None:
    program = program_from_corners(flat_path([1000.0, 650.0, 2000.0], [25.5, 103.5]), 716.20)
    assert program.straights[1] == pytest.approx(-420.56, abs=0.015)
    bench = Bench(Tubing(od=1.0), Die(name="curve", clr=716.20), "mm")
    (refusal,) = over_limits(program, bench, ("A", "D"))
    assert (refusal.code, refusal.level) == ("short-straight", "refusal")
    assert "overlap by 420.6 mm between bend 1 and bend 2" in refusal.text


# Route-surveying definition of the degree of curve by arc, R = 5729.578/D (computed here): at degree 15, an
# arc of 100 ft turns by 15 degrees.
def test_degree_of_curve_by_arc() -> None:
    assert curve(radius=381.972, turn=15.0, intersection=500.0).arc == pytest.approx(100.0, abs=2e-4)


# The same by chord, R = 50/sin(D/2) (computed here): at degree 15, a chord of 100 ft turns by 15 degrees.
def test_degree_of_curve_by_chord() -> None:
    assert curve(radius=383.065, turn=15.0, intersection=500.0).chord == pytest.approx(100.0, abs=2e-4)


# Inputs attributed to US Army FM 5-233, ch. 3 (from memory; page not seen). Stations are hundreds of feet.
def test_curve_of_75_degrees() -> None:
    found = curve(radius=381.97, turn=75.0, intersection=1800.0)
    assert found.tangent == pytest.approx(293.10, abs=0.02)
    assert found.arc == pytest.approx(500.00, abs=0.02)
    assert found.chord == pytest.approx(465.06, abs=0.02)
    assert found.external == pytest.approx(99.49, abs=0.02)
    assert found.ordinate == pytest.approx(78.93, abs=0.02)
    assert found.start == pytest.approx(1506.90, abs=0.02)
    assert found.end == pytest.approx(2006.90, abs=0.02)


# US Army FM 5-233, ch. 3, worked example (from memory; page not seen): the first whole station on the curve
# lies 8.22 ft beyond its start and is sighted 36.99 minutes off the tangent.
def test_curve_of_45_degrees_and_its_first_station() -> None:
    radius = 381.97
    found = curve(radius=radius, turn=45.0, intersection=1800.0)
    assert found.tangent == pytest.approx(158.22, abs=0.01)
    assert found.arc == pytest.approx(300.00, abs=0.01)
    assert found.start == pytest.approx(1641.78, abs=0.01)
    assert found.end == pytest.approx(1941.78, abs=0.01)

    chain = Chain.from_program(program_from_corners(flat_path([1800.0, 1800.0], [45.0]), radius), radius)
    places, stations = chain.polyline(sagitta=1e-6)
    # sighted over the sub-chord as printed: its own rounding is worth 0.02 of a minute
    first = np.array([np.interp(found.start + 8.22, stations, axis) for axis in places.T])
    first -= chain.tangents()[0, 1]
    assert 1650.0 - found.start == pytest.approx(8.22, abs=0.01)
    assert np.linalg.norm(first) == pytest.approx(8.22, abs=0.01)
    deflection = math.degrees(math.atan2(first[1], first[0])) * 60
    assert deflection == pytest.approx(36.99, abs=0.01)


# Four Wheeler magazine, Feb 1998, roll-cage article, diagram 5 (read): outside face 25 in from the centreline
# of the car, die radius 6 in, OD 2 in: the bend starts 25 - 6 - 1 = 18 in from it.
def test_roll_cage_bend_starts_18_inches_out() -> None:
    program = program_from_corners(flat_path([25.0 - 2.0 / 2, 40.0], [-90.0]), 6.0)
    assert program.straights[0] == pytest.approx(18.0, abs=1e-12)


# Gain on unit radius, 2 tan(I/2) - I (computed here): what the arc saves on going by the corner.
@pytest.mark.parametrize(
    ("turn", "gain"),
    [(15, 0.00151), (30, 0.01230), (45, 0.04303), (60, 0.10750), (90, 0.42920), (120, 1.36971)],
)
def test_gain(turn: float, gain: float) -> None:
    program = program_from_corners(flat_path([5.0, 5.0], [turn]), 1.0)
    assert 10.0 - program.developed_length(1.0) == pytest.approx(gain, abs=1e-5)


# Setback on unit radius, tan(I/2) (computed here), both ways between corners and program.
@pytest.mark.parametrize(
    ("turn", "setback"),
    [(22.5, 0.19891), (30, 0.26795), (45, 0.41421), (60, 0.57735), (75, 0.76733), (90, 1.0)],
)
def test_setback(turn: float, setback: float) -> None:
    program = program_from_corners(flat_path([5.0, 5.0], [turn]), 1.0)
    assert 5.0 - program.straights == pytest.approx([setback, setback], abs=1e-5)
    back = corners_from_program(Program(np.array([4.0, 4.0]), np.zeros(1), np.radians([turn])), 1.0)
    assert back[1] == pytest.approx(np.array([4.0 + setback, 0.0, 0.0]), abs=1e-5)


# Computed here: three legs of 10 square to one another, bend radius 3.
def test_developed_length_of_three_square_legs() -> None:
    corners = 10.0 * np.array([[0.0, 0, 0], [1, 0, 0], [1, 1, 0], [1, 1, 1]])
    program = program_from_corners(corners, 3.0)
    assert program.straights == pytest.approx([7.0, 4.0, 7.0], abs=1e-9)
    assert 3.0 * program.angles == pytest.approx([4.71239, 4.71239], abs=1e-5)
    assert program.developed_length(3.0) == pytest.approx(27.42478, abs=1e-5)


# FAA-H-8083-31, Aviation Maintenance Technician Handbook - Airframe, vol. 1, ch. 4 (read): a channel with
# legs of 1.00, 2.00 and 1.00 in to the mould line, inside radius 0.16, sheet 0.040. The outside face bends
# on R + t: its setback is 0.20 and the flats are 0.8, 1.6 and 0.8.
def test_sheet_channel_setback_and_flats() -> None:
    outside = flat_path([1.0, 2.0, 1.0], [90.0, 90.0])
    program = program_from_corners(outside, 0.16 + 0.040)
    assert 1.0 - program.straights[0] == pytest.approx(0.20, abs=1e-12)
    assert program.straights == pytest.approx([0.8, 1.6, 0.8], abs=1e-12)


def neutral_radius(inside: float, sheet: float) -> float:
    """Where the sheet keeps its length: the handbook's allowance a degree is 0.01743 R + 0.0078 t."""
    return inside + 0.0078 / 0.01743 * sheet


# The same handbook (read): allowance of 0.003034 per degree at R 0.156, t 0.040, and 0.18204 for 60 degrees.
# Its factors are rounded (0.01743 for pi/180 = 0.017453), so 0.2 % is allowed.
@pytest.mark.parametrize(("turn", "allowance"), [(1.0, 0.003034), (60.0, 0.18204)])
def test_sheet_bend_allowance(turn: float, allowance: float) -> None:
    program = Program(np.zeros(2), np.zeros(1), np.radians([turn]))
    assert program.developed_length(neutral_radius(0.156, 0.040)) == pytest.approx(allowance, rel=2e-3)


# The same handbook's channel developed (read): 3.2 in of flats and two bends make 3.758 by its own formula;
# it prints 3.74, having rounded the allowance to 0.27 a bend.
def test_sheet_channel_developed() -> None:
    program = program_from_corners(flat_path([1.0, 2.0, 1.0], [90.0, 90.0]), 0.16 + 0.040)
    assert program.developed_length(neutral_radius(0.16, 0.040)) == pytest.approx(3.758, abs=2e-3 * 0.558)
    assert program.straights.sum() + 2 * 0.27 == printed("3.74")
