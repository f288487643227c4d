"""Templates against a general-purpose CAD kernel, published conventions and closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import ellipe

from plumbend.ends.cuts import EndCut
from plumbend.ends.joints import joint
from plumbend.ends.neighbours import Leg, Neighbour, mitre, straight_neighbour
from plumbend.ends.outline import outline
from plumbend.ends.template import template
from plumbend.frames import unit
from support.cope_solids import KINDS, first_hits, random_joint

INCH = 25.4
NODE = 400.0


def tee(od: float, header: float, angle_deg: float, wall: float = 0.05) -> tuple[Leg, Neighbour]:
    """A branch on a header, in inches; round 0 is the wide side."""
    leg = Leg(np.zeros(3), np.eye(3), od * INCH, wall * INCH)
    a = math.radians(angle_deg)
    along, middle = np.array([math.cos(a), math.sin(a), 0.0]), np.array([NODE, 0.0, 0.0])
    return leg, straight_neighbour("header", middle - 300 * along, middle + 300 * along, header * INCH)


@pytest.mark.parametrize("kind", KINDS)
def test_where_the_kernels_lines_meet_its_solids_lies_on_the_pattern(kind: str) -> None:
    leg, neighbours, solids = random_joint(np.random.default_rng(74), kind)
    made = template(EndCut("rail", "F", leg, tuple(neighbours)))
    rounds = np.random.default_rng(6).uniform(-math.pi, math.pi, 30)
    x = rounds * (leg.od + made.paper) / 2
    for line, radius in zip(made.edges, (leg.outer, leg.inner), strict=True):
        drawn = made.edge + np.interp(x, line[:, 0], line[:, 1])
        assert drawn == pytest.approx(first_hits(leg, solids, rounds, radius), abs=0.02)


@pytest.mark.parametrize(("od", "expected"), [(1.5, 4.7124), (1.75, 5.4978), (2.375, 7.4613)])
def test_once_round_is_the_circumference(od: float, expected: float) -> None:
    """Closed form; printed to four places."""
    leg, header = tee(od, 4.5, 90)
    flat = template(EndCut("rail", "F", leg, (header,)), paper=0.0)
    assert flat.wrap / INCH == pytest.approx(expected, abs=0.5e-4)
    assert np.ptp(flat.line[:, 0]) == pytest.approx(flat.wrap)


def test_saddle_laid_out_for_the_inside_and_cut_square_through_the_wall() -> None:
    """Graves, The Pipe Fitters Blue Book (1973), preface: the bore of the branch on the outside of the header, the cut
    square to the wall. The depths are closed forms for a bore of 2.067 in on 4.5 in, square on."""
    leg, header = tee(2.375, 4.5, 90, (2.375 - 2.067) / 2)
    made = template(EndCut("rail", "F", leg, (header,), "inner"), paper=0.0)
    x = np.arange(-2, 3) * made.wrap / 16
    up = np.interp(x, made.line[:, 0], made.line[:, 1])
    crown = np.interp(made.wrap / 4, made.line[:, 0], made.line[:, 1])
    depth = [0.1294, 0.2164, 0.2514, 0.2164, 0.1294]
    assert (crown - up) / INCH == pytest.approx(depth, abs=0.5e-4)
    # cut so it lands on its inside all round: nothing of the outside stands in the way
    assert (made.outside - made.inside).min() >= -1e-9


def test_mitre_is_cut_straight_through() -> None:
    """The same preface: mitres are cut square through, so both edges lie in one plane."""
    leg = Leg(np.zeros(3), np.eye(3), 60.3, 5.0)
    made = template(EndCut("rail", "F", leg, (mitre(leg, NODE, math.radians(22.5), 0.4),)))
    off = [
        (NODE - at) - radius * math.tan(math.radians(22.5)) * np.cos(made.rounds - 0.4)
        for at, radius in ((made.outside, leg.outer), (made.inside, leg.inner))
    ]
    assert np.abs(off).max() < 1e-9


@pytest.mark.parametrize(
    ("b", "angle", "factor", "exact", "within"),
    [
        (0.5, 90, 1.0174, 1.0177, 0.005),
        (0.5, 60, 1.0949, 1.0977, 0.005),
        (0.5, 45, 1.2321, 1.2364, 0.005),
        (6 / 7, 90, 1.0926, 1.0758, 0.02),
        (1.0, 90, 1.167, 1.216, 0.05),
    ],
)
def test_length_of_the_weld(b: float, angle: float, factor: float, exact: float, within: float) -> None:
    """AWS D1.1, intersection lengths of tubes: an approximation that is good to what ``within`` says."""
    leg, header = tee(2 * b, 2.0, angle, 0.01)
    line = template(EndCut("rail", "F", leg, (header,)), paper=0.0).line
    length = float(np.hypot(*np.diff(line, axis=0).T).sum()) / (math.pi * leg.od)
    assert length == pytest.approx(exact, abs=0.5e-3 if b == 1.0 else 0.5e-4)
    x, y = 1 / (2 * math.pi * math.sin(math.radians(angle))), (3 - b**2) / (3 * math.pi * (2 - b**2))
    assert x + y + 3 * math.hypot(x, y) == pytest.approx(factor, abs=0.5e-3 if b == 1.0 else 0.5e-4)
    assert length == pytest.approx(factor, rel=within)
    if b == 1.0:
        assert length == pytest.approx(4 * math.sqrt(2) * ellipe(0.5) / (2 * math.pi), rel=1e-5)


@pytest.mark.parametrize(("pieces", "expected"), [(2, 45.0), (3, 22.5), (4, 15.0)])
def test_ends_of_a_mitred_quarter_turn_in_pieces(pieces: int, expected: float) -> None:
    """A turn of 90 degrees in n pieces has n - 1 joints, every end cut at 90 / 2(n - 1): descriptive geometry."""
    leg = Leg(np.zeros(3), np.eye(3), 60.3, 2.0)
    cut = mitre(leg, NODE, math.radians(90 / (2 * (pieces - 1))))
    assert math.degrees(joint(leg, cut).off_square) == pytest.approx(expected, abs=1e-9)
    # the next piece is the mirror image in the cut, seen the other way along: all joints together turn by a right angle
    normal = cut.pieces[0].foot(leg.start)[1]
    onward = 2 * (leg.along @ normal) * normal - leg.along
    turn = math.degrees(math.atan2(float(np.linalg.norm(np.cross(leg.along, onward))), float(leg.along @ onward)))
    assert (pieces - 1) * turn == pytest.approx(90.0)


@pytest.mark.parametrize(("b", "expected"), [(0.5, 120.00), (6 / 7, 149.00)])
def test_angle_between_the_surfaces_at_the_saddle(b: float, expected: float) -> None:
    """AWS D1.1: the local dihedral angle, at the side of a branch square on, is 180 - acos(b); values by geometry."""
    leg, header = tee(2 * b, 2.0, 90, 0.01)
    side = np.array([math.pi / 2])
    place = leg.start + leg.outer * leg.sides(side)[0] + outline(leg, [header], side)[0] * leg.along
    outward = unit(place - header.pieces[0].foot(place)[0])
    between = 180 - math.degrees(math.acos(float(outward @ leg.sides(side)[0])))
    assert between == pytest.approx(expected, abs=0.01)
