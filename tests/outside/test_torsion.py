"""Rotations, angles and legs against general-purpose molecular libraries on published geometries.

The rotation of a bend is what chemistry calls the torsion angle of four successive places, so libraries
written for molecules check it. Each figure names its source and how it was come by: read in the source
itself, read in a transcription, from memory, or computed here from a closed form.
"""

import math

import numpy as np
import pytest
from ase import Atoms
from ase.build import molecule
from Bio.PDB.vectors import Vector, calc_dihedral

from plumbend.frames import FloatArray, rotation_about, unit, wrap_angle
from plumbend.making.corners import corners_from_program, program_from_corners
from plumbend.shape.program import Program

SHARP = 1e-9  # a radius so small that straights are legs


def degrees(radians: FloatArray) -> list[float]:
    return [float(x) for x in np.degrees(radians)]


def program_of(corners: list[tuple[float, float, float]]) -> Program:
    return program_from_corners(np.array(corners, dtype=float), SHARP)


def torsions_by_ase(corners: FloatArray) -> FloatArray:
    """(n,) radians in (-pi, pi], the first 0 as in a program; the library reports 0 to 360 degrees."""
    path = Atoms("H" * len(corners), positions=corners)
    found = [path.get_dihedral(k, k + 1, k + 2, k + 3) for k in range(len(corners) - 3)]
    return wrap_angle(np.radians([0.0, *found]))


def torsions_by_biopython(corners: FloatArray) -> FloatArray:
    places = [Vector(*corner) for corner in corners]
    # the library finds the sign by a vector that a flat path does not have, and divides by its length
    with np.errstate(invalid="ignore"):
        found = [calc_dihedral(*places[k : k + 4]) for k in range(len(corners) - 3)]
    return np.array([0.0, *found])


def exterior_angles_by_ase(corners: FloatArray) -> FloatArray:
    path = Atoms("H" * len(corners), positions=corners)
    return np.radians([180.0 - path.get_angle(k, k + 1, k + 2) for k in range(len(corners) - 2)])


def assert_same_angles(found: FloatArray, expected: FloatArray, within: float) -> None:
    """Half a turn one way is half a turn the other."""
    assert wrap_angle(found - expected) == pytest.approx(np.zeros(len(expected)), abs=within)


# IUPAC, Basic Terminology of Stereochemistry, Pure Appl. Chem. 68 (1996) 2193, p. 2220 (read): seen with
# the near leg toward the viewer, positive where it turns clockwise, through less than half a turn, to cover
# the far leg.
@pytest.mark.parametrize("hour", [1, 2, 3, 4, 5, 7, 8, 9, 10, 11])
def test_sign_by_the_clock(hour: int) -> None:
    # looking forward along the middle leg: the near leg stands at twelve, the far leg at the hour
    clock = math.radians(30.0 * hour)
    right, up = math.sin(clock), math.cos(clock)
    program = program_of([(0, 0, 1), (0, 0, 0), (1, 0, 0), (1, -right, up)])
    expected = 30.0 * hour if hour < 6 else 30.0 * hour - 360.0
    assert degrees(program.rotations) == pytest.approx([0.0, expected], abs=1e-9)


# US Navy, NAVEDTRA 14251, Steelworker vol. 2, p. 3-16 (read): a turn is named by the change of course from
# the adjacent straight, between centre lines.
@pytest.mark.parametrize("turn", [22.5, 45.0, 60.0, 90.0, 135.0])
def test_a_turn_is_named_by_the_change_of_course(turn: float) -> None:
    course = math.radians(30.0), math.radians(30.0 + turn)
    legs = [5.0 * np.array([math.cos(c), math.sin(c), 0.0]) for c in course]
    program = program_from_corners(np.array([np.zeros(3), legs[0], legs[0] + legs[1]]), SHARP)
    assert degrees(program.angles) == pytest.approx([turn], abs=1e-9)


# Computed here (closed form); signs by IUPAC as above.
@pytest.mark.parametrize(
    ("corners", "rotation"),
    [
        pytest.param([(0, 0, 0), (1, 0, 0), (1, 1, 0), (1, 1, 1)], 90.0, id="right-handed"),
        pytest.param([(0, 0, 0), (1, 0, 0), (1, 1, 0), (1, 1, -1)], -90.0, id="left-handed"),
        pytest.param([(0, 0, 0), (1, 0, 0), (1, 1, 0), (2, 1, 0)], 180.0, id="flat S"),
        pytest.param([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], 0.0, id="flat U"),
    ],
)
def test_unit_paths(corners: list[tuple[float, float, float]], rotation: float) -> None:
    program = program_of(corners)
    assert degrees(program.angles) == pytest.approx([90.0, 90.0], abs=1e-9)
    # plus and minus half a turn are the same turn; a program writes the positive one
    assert degrees(program.rotations) == pytest.approx([0.0, rotation], abs=1e-9)
    assert_same_angles(program.rotations, torsions_by_ase(np.array(corners, float)), 1e-9)
    assert_same_angles(program.rotations, torsions_by_biopython(np.array(corners, float)), 1e-9)


def hydrogen_peroxide() -> FloatArray:
    return np.array(molecule("H2O2").positions[[2, 0, 1, 3]])


# Hydrogen peroxide, H(2) O(0) O(1) H(3) of the G2 set as shipped in ase.collections.g2 (coordinates read).
def test_hydrogen_peroxide() -> None:
    corners = hydrogen_peroxide()
    program = program_from_corners(corners, SHARP)
    assert program.straights == pytest.approx([0.975575, 1.468116, 0.975575], abs=5e-7)
    assert degrees(program.angles) == pytest.approx([81.3518, 81.3518], abs=5e-4)
    assert degrees(program.rotations) == pytest.approx([0.0, 121.0250], abs=5e-4)
    assert molecule("H2O2").get_dihedral(2, 0, 1, 3) == pytest.approx(degrees(program.rotations)[1], abs=1e-7)
    assert_same_angles(program.rotations, torsions_by_biopython(corners), 1e-9)


# From the row above (computed here): reversed, the torsion keeps its sign; in the mirror it changes it.
def test_hydrogen_peroxide_reversed_and_mirrored() -> None:
    corners = hydrogen_peroxide()
    back = program_from_corners(corners[::-1], SHARP)
    assert degrees(back.rotations) == pytest.approx([0.0, 121.0250], abs=5e-4)
    mirrored = program_from_corners(corners * np.array([-1.0, 1.0, 1.0]), SHARP)
    assert degrees(mirrored.rotations) == pytest.approx([0.0, -121.0250], abs=5e-4)


# trans-Butane, carbons 0-1-2-3 of the same set (coordinates read).
def test_trans_butane() -> None:
    corners = np.array(molecule("trans-butane").positions[:4])
    program = program_from_corners(corners, SHARP)
    assert program.straights == pytest.approx([1.524548, 1.525029, 1.524548], abs=5e-7)
    assert degrees(program.angles) == pytest.approx([67.1316, 67.1316], abs=5e-4)
    assert_same_angles(program.rotations, np.radians([0.0, 180.0]), math.radians(5e-4))
    assert_same_angles(program.rotations, torsions_by_ase(corners), 1e-7)


def symmetric_path(end: float, middle: float, bend: float, rotation: float) -> FloatArray:
    """Corners by program: legs end, middle, end; two equal bends; degrees."""
    angles = np.radians([bend, bend])
    program = Program(np.array([end, middle, end]), np.radians([0.0, rotation]), angles)
    return corners_from_program(program, SHARP)


# Geometry of hydrogen peroxide in pm and degrees, gas and solid, read in a school-chemistry answer (bond
# angles 94.8 and 101.9, so bends of 85.2 and 78.1); end-to-end distances computed here, by the closed form
# sqrt((b - 2 a cos v)^2 + 2 (a sin v)^2 (1 - cos t)), legs a, b, a, bond angle v, torsion t.
@pytest.mark.parametrize(
    ("end", "middle", "bend", "rotation", "across"),
    [
        pytest.param(95.0, 147.5, 85.2, 111.5, 226.256, id="gas"),
        pytest.param(98.8, 145.8, 78.1, 90.2, 231.425, id="solid"),
    ],
)
def test_path_built_from_lengths_and_angles(
    end: float, middle: float, bend: float, rotation: float, across: float
) -> None:
    corners = symmetric_path(end, middle, bend, rotation)
    found = float(np.linalg.norm(corners[3] - corners[0]))
    assert found == pytest.approx(across, abs=1e-3)
    v, t = math.radians(180.0 - bend), math.radians(rotation)
    along, square = middle - 2 * end * math.cos(v), end * math.sin(v)
    assert found == pytest.approx(math.sqrt(along**2 + 2 * square**2 * (1 - math.cos(t))), abs=1e-7)
    assert_same_angles(torsions_by_ase(corners), np.radians([0.0, rotation]), 1e-7)
    assert_same_angles(exterior_angles_by_ase(corners), np.radians([bend, bend]), 1e-7)


# Computed here: by convention the path leaves along the first axis and first turns toward the second.
def test_where_a_built_path_starts_and_first_turns() -> None:
    corners = symmetric_path(95.0, 147.5, 85.2, 111.5)
    turn = math.radians(85.2)
    expected = [
        np.zeros(3),
        np.array([95.0, 0.0, 0.0]),
        np.array([95.0 + 147.5 * math.cos(turn), 147.5 * math.sin(turn), 0.0]),
    ]
    assert corners[:3] == pytest.approx(np.array(expected), abs=1e-6)
    assert corners[3, 2] > 0  # the second bend, turned clockwise looking along the tube, rises


# Computed here: paths drawn at random, turned anyhow in space, against both libraries.
@pytest.mark.parametrize("seed", range(20))
def test_random_paths(seed: int) -> None:
    random = np.random.default_rng([1996, seed])
    corners = np.cumsum(random.normal(size=(random.integers(4, 10), 3)) * 300.0, axis=0)
    corners = corners @ rotation_about(unit(random.normal(size=3)), random.uniform(0, math.pi)).T
    program = program_from_corners(corners, SHARP)
    assert program.straights == pytest.approx(
        [Atoms("HH", positions=corners[k : k + 2]).get_distance(0, 1) for k in range(len(corners) - 1)],
        abs=1e-6,
    )
    # the libraries go by the arccosine, which loses digits near 0 and 180 degrees
    assert program.angles == pytest.approx(exterior_angles_by_ase(corners), abs=1e-6)
    assert_same_angles(program.rotations, torsions_by_ase(corners), 1e-6)
    assert_same_angles(program.rotations, torsions_by_biopython(corners), 1e-6)
