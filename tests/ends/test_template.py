"""Templates wrapped back round the tube in space, their lower edge, and the names of their places."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import pytest

from plumbend.ends.cuts import EndCut
from plumbend.ends.neighbours import Leg, end_leg, mitre, straight_neighbour
from plumbend.ends.outline import outline
from plumbend.ends.template import Template, template
from plumbend.frames import FloatArray, unit
from plumbend.shape.chain import Chain
from plumbend.tubing import Edges
from plumbend.units import Units
from support import cut_ends

INCH = 25.4


@dataclass(frozen=True)
class Header:
    """A tube met: its OD, its direction as forward along the leg, toward round 0 and toward round 90 degrees, and by
    how much it passes the leg's axis."""

    od: float
    direction: tuple[float, float, float]
    aside: float = 0.0

    def axis(self, leg: Leg, node: float) -> tuple[FloatArray, FloatArray]:
        """A place on its centreline and its unit direction."""
        along = leg.frame @ unit(np.array(self.direction))
        return leg.start + node * leg.along + self.aside * unit(np.cross(leg.along, along)), along

    def distance(self, leg: Leg, node: float, places: FloatArray) -> FloatArray:
        """How far places (m, 3) stand outside it."""
        middle, along = self.axis(leg, node)
        off: FloatArray = np.linalg.norm(np.cross(places - middle, along), axis=1) - self.od / 2
        return off


SQUARE_ON = Header(44.45, (0.0, 0.8, -0.6))
SLANTED = Header(50.8, (0.6, 1.0, -0.3))


def bent_leg(od: float, wall: float = 2.0) -> tuple[Leg, FloatArray]:
    """The far end of a tube that runs forward and is then bent 60 degrees to the left and up, and the bend's centre."""
    across = np.array([0.0, 0.8, 0.6])
    frame = np.column_stack([[1.0, 0, 0], across, np.cross([1.0, 0, 0], across)])
    chain = Chain(np.zeros(3), frame, np.array([200.0, 400.0]), np.zeros(1), np.radians([60.0]), 152.4)
    return end_leg(chain, od, wall), np.array([200.0, 0, 0]) + 152.4 * across


def cut_on(leg: Leg, *headers: Header, node: float = 300.0, edges: Edges = "both") -> EndCut:
    neighbours = []
    for header in headers:
        middle, along = header.axis(leg, node)
        neighbours.append(straight_neighbour("header", middle - 500 * along, middle + 500 * along, header.od))
    return EndCut("rail", "F", leg, tuple(neighbours), edges)


def wrapped_back(
    leg: Leg, made: Template, line: FloatArray, x: FloatArray, radius: float, lower_edge: float
) -> FloatArray:
    """Places in space (k, 3) of a line of the template at ``x``, wrapped printed side out and the cut end up.

    Whoever looks at the printed side looks against the outward direction, and sees the cut end up: to his right is
    along x outward. He begins on the inside of the bend, where the reference line goes, and walks to the right.
    """
    inward, right = leg.frame[:, 1], np.cross(leg.along, leg.frame[:, 1])
    angle = 2 * math.pi * x / made.wrap
    outward = np.outer(np.cos(angle), inward) + np.outer(np.sin(angle), right)
    up = np.interp(x, line[:, 0], line[:, 1])
    return leg.start + radius * outward + (lower_edge + up)[:, None] * leg.along


@pytest.mark.parametrize("paper", [0.0, 0.1, 0.2])
@pytest.mark.parametrize(
    ("od", "headers"),
    [
        (25.4, [Header(25.4, (0.2, 1.0, -0.3))]),
        (60.3, [Header(76.1, (0.9, 0.8, 0.5), 6.0)]),
        (44.45, [Header(50.8, (0.0, 0.5, -1.0), 2.0), Header(44.45, (0.6, -0.4, 0.9))]),
    ],
)
def test_wrapped_back_round_the_tube_it_lies_on_the_neighbours(od: float, headers: list[Header], paper: float) -> None:
    leg, _ = bent_leg(od)
    made = template(cut_on(leg, *headers), paper=paper)
    assert made.wrap == pytest.approx(math.pi * (od + paper))
    x = np.random.default_rng(5).uniform(-made.wrap / 2, made.wrap / 2, 2000)

    def off(line: FloatArray, radius: float) -> FloatArray:
        places = wrapped_back(leg, made, line, x, radius, 300.0 - made.below)
        nearest: FloatArray = np.min([header.distance(leg, 300.0, places) for header in headers], axis=0)
        return np.abs(nearest)

    outside, inside = made.edges
    for line, radius in ((outside, leg.outer), (inside, leg.inner)):
        assert (line[0, 0], line[-1, 0]) == pytest.approx((-made.wrap / 2, made.wrap / 2))
        assert line[0, 1] == pytest.approx(line[-1, 1])
        assert off(line, radius).max() < 0.02
    # printed the other way round it would not fit
    assert off(outside[::-1] * [-1.0, 1.0], leg.outer).max() > 1.0


def test_reference_line_is_on_the_inside_of_the_bend_and_the_seam_at_its_back() -> None:
    leg, centre = bent_leg(44.45)
    made = template(cut_on(leg, SQUARE_ON))
    x = np.linspace(-made.wrap / 2, made.wrap / 2, 361)
    level = np.array([[x[0], 0.0], [x[-1], 0.0]])
    away = np.linalg.norm(wrapped_back(leg, made, level, x, leg.outer, 0.0) - centre, axis=1)
    assert x[away.argmin()] == pytest.approx(0.0, abs=1e-9)
    assert away[[0, -1]] == pytest.approx(away.max())


@pytest.mark.parametrize("edges", ["both", "outer", "inner"])
def test_line_to_mark_and_line_for_a_cutter(edges: Edges) -> None:
    leg, _ = bent_leg(44.45)
    made = template(cut_on(leg, SLANTED, edges=edges), paper=0.0)
    outside, inside = made.edges
    assert (outside[:, 1] > inside[:, 1] + 0.1).any()
    assert (outside[:, 1] < inside[:, 1] - 0.1).any()
    assert np.array_equal(made.line, inside if edges == "inner" else outside)
    first = np.minimum(outside[:, 1], inside[:, 1])
    assert np.array_equal(made.square_to_wall[:, 1], first if edges == "both" else made.line[:, 1])


def test_straight_lines_between_its_places_are_true_where_two_tubes_meet_in_a_corner() -> None:
    leg, _ = bent_leg(44.45)
    cut = cut_on(leg, Header(50.8, (0.0, 0.5, -1.0)), Header(44.45, (0.6, -0.4, 0.9)))
    made = template(cut)
    rounds = np.random.default_rng(3).uniform(-math.pi, math.pi, 4000)
    assert np.interp(rounds, made.rounds, made.outside) == pytest.approx(outline(leg, cut.neighbours, rounds), abs=0.01)


@pytest.mark.parametrize(
    ("units", "node", "below"),
    [
        ("mm", 300.0, 100.0),
        ("in", 300.0, 4 * INCH),
        ("mm", 74.0, 70.0),  # the straight is too short for more
        ("in", 74.0, 2.5 * INCH),
        ("mm", 28.0, 28.0),  # no round distance leaves paper enough: the end of the bend itself
    ],
)
def test_lower_edge_is_a_round_distance_from_the_node_and_on_the_straight(
    units: Units, node: float, below: float
) -> None:
    leg, _ = bent_leg(44.45)
    made = template(cut_on(leg, SQUARE_ON, node=node), units=units)
    assert made.below == pytest.approx(below)
    assert made.edge == pytest.approx(node - below)


def test_lower_edge_stays_clear_of_a_deep_cut() -> None:
    leg, _ = bent_leg(60.3)
    made = template(cut_on(leg, Header(60.3, (1.0, 0.55, 0.0))))
    assert made.below % 10 == pytest.approx(0.0, abs=1e-6)
    assert made.below > 100.0
    assert 20.0 <= made.line[:, 1].min() <= 30.0


def names(made: Template) -> list[tuple[int, str]]:
    """Names by their round in whole degrees clockwise."""
    return sorted((round(math.degrees(place.round)) % 360, ", ".join(place.names)) for place in made.places)


def test_places_are_named() -> None:
    leg, _ = bent_leg(44.45)
    square = template(cut_on(leg, Header(44.45, (0.0, 1.0, 0.0))))
    assert names(square) == [(0, "throat"), (90, "tip"), (180, "throat"), (270, "tip")]
    # the neighbour comes back toward the tube on the right: the tight side of the joint, which is the short one
    slanted = template(cut_on(leg, Header(44.45, (-1.0, 0.0, 1.0))))
    assert names(slanted) == [(0, "tip"), (90, "throat, short point"), (180, "tip"), (270, "throat")]
    aside = template(cut_on(leg, Header(60.3, (-0.3, 0.0, 1.0), 4.0)))
    assert sorted(name for _, name in names(aside)) == ["throat", "throat, short point", "tip", "tip, long point"]
    plain = template(EndCut("rail", "F", leg, (mitre(leg, 300.0, math.radians(30), math.radians(-45)),)))
    assert names(plain) == [(135, "long point"), (315, "short point")]
    plate = cut_ends.plate("deck", leg.start + 300 * leg.along, leg.frame @ [1.0, 0.0, 0.5], leg)
    assert names(template(EndCut("rail", "F", leg, (plate,)))) == [(90, "short point"), (270, "long point")]
    assert names(template(EndCut("rail", "F", leg, (mitre(leg, 300.0, 0.0),)))) == []
    # a third of a degree off square, no rule tells the long point from the short one
    assert names(template(cut_on(leg, Header(44.45, (0.005, 1.0, 0.0))))) == names(square)


@pytest.mark.parametrize("stations", [8, 16, 24])
def test_table_gives_the_places_of_the_drawn_line(stations: int) -> None:
    leg, _ = bent_leg(44.45)
    made = template(cut_on(leg, SLANTED), stations)
    assert len(made.table) == stations
    for line in made.table:
        x = made.across(math.remainder(line.round, 2 * math.pi))
        assert np.interp(x, *made.edges[0].T) == pytest.approx(line.outer - made.edge, abs=0.005)
        assert np.interp(x, *made.edges[1].T) == pytest.approx(line.inner - made.edge, abs=0.005)
    assert made.top >= max(line.outer for line in made.table) - made.edge
