"""Copes and mitres against closed forms and published identities.

Sources: the equal tee and the two-piece turn of NAVEDTRA 14251 (descriptive geometry); the Steinmetz solid and the
volume common to two cylinders (Bowman 1961, p. 34), standard mathematics; the lengths of the saddle curve and of the
ellipse, closed forms; the ordinates of unequal tubes follow from
s(p) = (sqrt(R^2 - r^2 sin^2 p) - r cos p cos a) / sin a, computed beforehand apart from the product.
"""

import math

import numpy as np
import pytest
from scipy.special import ellipe, ellipk

from plumbend.ends.neighbours import Leg, Neighbour, mitre, straight_neighbour
from plumbend.ends.outline import outline
from plumbend.frames import FloatArray

SCALE = 25.4
NODE = 500.0


def tee(od: float, header: float, angle_deg: float, wall: float = 0.05) -> tuple[Leg, Neighbour]:
    """A branch and a header, in inches; round 0 is the wide side."""
    leg = Leg(np.zeros(3), np.eye(3), od * SCALE, wall * SCALE)
    a = math.radians(angle_deg)
    along, middle = np.array([math.cos(a), math.sin(a), 0.0]), np.array([NODE, 0.0, 0.0])
    return leg, straight_neighbour("header", middle - 400 * along, middle + 400 * along, header * SCALE)


def cut_back(leg: Leg, header: Neighbour, rounds: FloatArray, radius: float | None = None) -> FloatArray:
    back: FloatArray = (NODE - outline(leg, [header], rounds, radius)) / SCALE
    return back


@pytest.mark.parametrize(
    ("od", "header", "angle", "expected"),
    [
        (2.0, 2.0, 90, [1, 0.9239, 0.7071, 0.3827, 0, 0.3827, 0.7071, 0.9239, 1]),
        (2.0, 2.0, 45, [0.4142, 0.3827, 0.2929, 0.1585, 0, 0.9239, 1.7071, 2.2304, 2.4142]),
        (2.375, 4.5, 45, [1.9945, 2.0193, 2.1124, 2.3236, 2.7027, 3.2325, 3.7918, 4.2135, 4.3695]),
        (1.5, 1.75, 60, [0.5774, 0.5544, 0.4975, 0.4513, 0.5204, 0.7827, 1.1098, 1.3545, 1.4434]),
    ],
)
def test_cut_back_at_sixteen_stations(od: float, header: float, angle: float, expected: list[float]) -> None:
    half = np.arange(9) * math.pi / 8
    assert cut_back(*tee(od, header, angle), half) == pytest.approx(expected, abs=0.5e-4)
    assert cut_back(*tee(od, header, angle), -half) == pytest.approx(expected, abs=0.5e-4)


@pytest.mark.parametrize(
    ("od", "bore", "header", "expected"),
    [
        (2.375, None, 4.5, [0.3389, 0.2925, 0.1763, 0.0533, 0]),
        (2.375, 2.067, 4.5, [0.2514, 0.2164, 0.1294, 0.0388, 0]),
        (1.5, None, 1.75, [0.4243, 0.3759, 0.2453, 0.0836, 0]),
        (1.5, 1.26, 1.75, [0.2678, 0.2339, 0.1459, 0.0461, 0]),
    ],
)
def test_depth_of_the_saddle_outside_and_in_the_bore(
    od: float, bore: float | None, header: float, expected: list[float]
) -> None:
    radius = None if bore is None else bore / 2 * SCALE
    back = cut_back(*tee(od, header, 90), np.arange(5) * math.pi / 8, radius)
    assert back - back[-1] == pytest.approx(expected, abs=0.5e-4)


FINE = np.linspace(0, 2 * math.pi, 400_001)


def test_surface_of_the_branch_from_the_headers_axis_to_the_cut() -> None:
    for r, header, expected in ((1.0, 1.0, 4.0), (0.75, 0.875, 3.204114), (1.1875, 2.25, 15.549363)):
        area = np.trapezoid(cut_back(*tee(2 * r, 2 * header, 90), FINE) * r, FINE)
        assert area == pytest.approx(4 * r * header * ellipe((r / header) ** 2), rel=1e-9)
        # half of the tube's whole surface between the two cuts of a cross; the printed digits
        assert area == pytest.approx(expected, abs=1e-6 if r < 1 or header > 1 else 1e-9)


def test_volume_common_to_two_cylinders() -> None:
    nodes, weights = np.polynomial.legendre.leggauss(40)
    rounds = np.linspace(0, 2 * math.pi, 4_001)
    for a, b, expected in ((1.0, 1.0, 16 / 3), (2.0, 1.0, 12.160320), (0.875, 0.75, 2.773127)):
        # twice what lies under the cut: rings of radius b sin(t), which smooths the edge of equal cylinders
        t = (nodes + 1) * math.pi / 4
        under = [
            np.trapezoid(cut_back(*tee(2 * b, 2 * a, 90), rounds, b * math.sin(x) * SCALE), rounds)
            * b * math.sin(x) * b * math.cos(x)
            for x in t
        ]  # fmt: skip
        volume = 2 * float(np.dot(weights, under)) * math.pi / 4
        k = (b / a) ** 2
        if b < a:
            assert volume == pytest.approx(
                8 / 3 * a * ((a**2 + b**2) * ellipe(k) - (a**2 - b**2) * ellipk(k)), rel=1e-6
            )
        assert volume == pytest.approx(expected, abs=1e-5)


def curve_length(leg: Leg, neighbour: Neighbour) -> float:
    rounds = np.linspace(0, 2 * math.pi, 100_001)
    at = outline(leg, [neighbour], rounds)
    return float(np.hypot(np.diff(rounds) * leg.outer, np.diff(at)).sum()) / SCALE


def test_length_of_the_saddle_curve() -> None:
    assert curve_length(*tee(2.0, 2.0, 90)) == pytest.approx(4 * math.sqrt(2) * ellipe(0.5), abs=1e-6)
    assert curve_length(*tee(1.5, 1.75, 90)) == pytest.approx(5.06940, abs=1e-5)


def test_hole_in_the_header_has_the_girth_of_the_branch_curve() -> None:
    """Sheet and Plate Metal Work, an early 20th century manual: unequal tee."""
    leg, header = tee(1.5, 1.75, 70)
    rounds = np.linspace(0, 2 * math.pi, 100_001)
    places = leg.start + leg.outer * leg.sides(rounds) + outline(leg, [header], rounds)[:, None] * leg.along
    a = math.radians(70)
    along, across = np.array([math.cos(a), math.sin(a), 0]), np.array([-math.sin(a), math.cos(a), 0])
    away = places - [NODE, 0, 0]
    developed = np.stack([away @ along, np.unwrap(np.arctan2(away[:, 2], away @ across)) * 0.875 * SCALE])
    girth = np.linalg.norm(np.diff(developed, axis=1), axis=0).sum() / SCALE
    assert girth == pytest.approx(curve_length(leg, header), abs=1e-6)


def test_mitre_of_a_two_piece_turn() -> None:
    leg = Leg(np.zeros(3), np.eye(3), 2 * SCALE, 2.0)
    rounds = np.arange(9) * math.pi / 8
    for turn, part in ((30, 0.2679), (45, 0.4142), (60, 0.5774), (90, 1.0)):
        cut = mitre(leg, NODE, math.radians(turn / 2), short_side=math.pi)
        at = outline(leg, [cut], rounds) / SCALE
        assert at[0] - at[-1] == pytest.approx(2 * part, abs=1e-4)
    expected = [0, 0.0761, 0.2929, 0.6173, 1, 1.3827, 1.7071, 1.9239, 2]
    assert at[0] - at == pytest.approx(expected, abs=0.5e-4)


@pytest.mark.parametrize(("turn", "expected"), [(30, 6.39449), (60, 6.77792), (90, 7.64040)])
def test_mitre_curve_is_an_ellipse(turn: float, expected: float) -> None:
    leg = Leg(np.zeros(3), np.eye(3), 2 * SCALE, 2.0)
    assert curve_length(leg, mitre(leg, NODE, math.radians(turn / 2))) == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(("od", "base"), [(1.5, 26), (1.75, 28), (2.0, 30)])
def test_base_angle_of_two_chop_saw_cuts(od: float, base: float) -> None:
    """Two flat cuts that meet on the centreline, for equal tubes square on (common practice, no source).

    As worked out here they are as deep as the cope at the inner edge, over half the OD: for the usual wall of
    0.095 in that is the shop's rule within 1-1/2 degrees, closer than such a saw is set.
    """
    leg, header = tee(od, od, 90, wall=0.095)
    throat, tip = cut_back(leg, header, np.array([0.0, math.pi / 2]), leg.inner)
    assert math.degrees(math.atan2(throat - tip, od / 2)) == pytest.approx(base, abs=1.5)
