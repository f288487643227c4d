"""Which edge of the wall touches first when a cut is square through the wall."""

import math

import numpy as np
import pytest

from plumbend.ends.neighbours import Leg, Neighbour, mitre, straight_neighbour
from plumbend.ends.outline import outline
from plumbend.frames import FloatArray

LEG = Leg(np.zeros(3), np.eye(3), 44.45, 2.4)
ROUNDS = np.linspace(0, 2 * math.pi, 72, endpoint=False)


def touching_edges(leg: Leg, neighbours: list[Neighbour], rounds: FloatArray) -> FloatArray:
    """(m,) mm by which the inside runs farther than the outside; where positive the outer edge touches first."""
    return outline(leg, neighbours, rounds, leg.inner) - outline(leg, neighbours, rounds)


def header(od: float, angle_deg: float) -> Neighbour:
    a = math.radians(angle_deg)
    along, middle = np.array([math.cos(a), math.sin(a), 0.0]), np.array([300.0, 0.0, 0.0])
    return straight_neighbour("hoop", middle - 300 * along, middle + 300 * along, od)


def test_inner_edge_touches_first_all_round_a_square_joint_but_for_the_throats() -> None:
    """Of a tube square on a tube of radius R, a line at p and radius r stops sqrt(R^2 - r^2 sin^2 p) from its axis."""
    apart = touching_edges(LEG, [header(44.45, 90.0)], ROUNDS)
    edge = [np.sqrt(22.225**2 - (r * np.sin(ROUNDS)) ** 2) for r in (LEG.outer, LEG.inner)]
    assert apart == pytest.approx(edge[0] - edge[1], abs=1e-6)
    assert apart.max() == pytest.approx(0.0, abs=1e-9)
    assert apart.min() == pytest.approx(-math.sqrt(22.225**2 - 19.825**2), abs=1e-6)


def test_outer_edge_touches_first_in_the_tight_angle_and_the_inner_in_the_wide_one() -> None:
    # the wall's own slant: 2.4 mm out is 2.4 / tan(60) along
    slant = 2.4 / math.tan(math.radians(60.0))
    tight, wide = touching_edges(LEG, [header(60.3, 60.0)], np.array([math.pi, 0.0]))
    assert (tight, wide) == pytest.approx((slant, -slant), abs=1e-9)


def test_edges_of_a_straight_cut() -> None:
    assert touching_edges(LEG, [mitre(LEG, 300.0, 0.0)], ROUNDS) == pytest.approx(np.zeros(72), abs=1e-9)
    short, long = touching_edges(LEG, [mitre(LEG, 300.0, math.radians(30.0))], np.array([0.0, math.pi]))
    assert (short, long) == pytest.approx((2.4 * math.tan(math.radians(30)), -2.4 * math.tan(math.radians(30))))
