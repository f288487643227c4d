"""The numbers for one end, beside closed forms, brute force and the shop's own tables."""

from __future__ import annotations

import math
from itertools import pairwise
from typing import Literal

import numpy as np
import pytest

from plumbend.ends.cuts import EndCut
from plumbend.ends.end_report import EndReport, end_report, gaps_of
from plumbend.ends.neighbours import Leg, end_leg, mitre, straight_neighbour
from plumbend.ends.outline import outline
from plumbend.frames import rotation_about
from plumbend.making.buildable import Bench
from plumbend.making.steps import making_of, reference_lines
from plumbend.shop import Bender, Die, Notcher
from plumbend.tubing import Tubing
from support import cut_ends
from support.tubes import random_tube

NODE = 300.0
NO_NOTCHER = Notcher()


def report_of(
    od: float, header: float, angle: float, notcher: Notcher = NO_NOTCHER, bent: float | None = None
) -> EndReport:
    """A tube on a straight one at a joint angle in degrees; round 0 is the side of the wide angle."""
    leg = Leg(np.zeros(3), np.eye(3), od, 2.4, bent, None if bent is None else 140.0)
    along = np.array([math.cos(math.radians(angle)), math.sin(math.radians(angle)), 0.0])
    middle = np.array([NODE, 0.0, 0.0])
    cut = EndCut("brace", "F", leg, (straight_neighbour("rail", middle - 400 * along, middle + 400 * along, header),))
    return end_report(cut, meets=True, line=0.0, notcher=notcher, grip=90.0)


@pytest.mark.parametrize("turned", [0.0, 0.3, 1.9])
def test_a_level_stretch_of_the_cut_is_one_place(turned: float) -> None:
    """A foot square on a plate, hollowed on one side for a post that leans away. However the places come out in
    their last digits, the level stretch is one tip, opposite the hollow, between the two corners."""
    frame = rotation_about(np.array([0.3, -0.5, 0.7]) / math.sqrt(0.83), turned)
    leg = Leg(np.array([11.0, -7.0, 3.0]), frame, 40.0, 2.4)
    along, toward, _ = frame.T
    node = leg.start + NODE * along
    deck = cut_ends.plate("deck", node, along, leg)
    slope = math.radians(40)
    axis = math.cos(slope) * along - math.sin(slope) * toward
    post = straight_neighbour("post", node + 30 * toward - 400 * axis, node + 30 * toward + 400 * axis, 30.0)
    report = end_report(EndCut("foot", "F", leg, (deck, post)), meets=True, line=0.0, notcher=NO_NOTCHER, grip=None)
    tip, hollow = report.places
    assert tip.names == ("tip", "long point")
    assert tip.at.tangent == pytest.approx(NODE, abs=1e-6)
    assert abs(math.degrees(tip.round)) == pytest.approx(180, abs=1)  # two stations
    assert hollow.names == ("throat", "short point")
    assert hollow.round == pytest.approx(0, abs=1e-4)


@pytest.mark.parametrize(
    ("od", "angle", "wide", "tight", "tips"),
    [
        (44.45, 90, 22.2, 22.2, 0.0),
        (44.45, 75, 17.1, 29.0, 0.0),
        (44.45, 60, 12.8, 38.5, 0.0),
        (44.45, 45, 9.2, 53.7, 0.0),
        (44.45, 30, 6.0, 82.9, 0.0),
        (38.1, 90, 22.2, 22.2, 11.4),
        (38.1, 75, 17.9, 28.1, 11.4),
        (38.1, 60, 14.7, 36.7, 11.4),
        (38.1, 45, 12.4, 50.5, 11.4),
        (38.1, 30, 11.5, 77.4, 11.5),
    ],
)
def test_cut_backs_of_the_shops_table(od: float, angle: float, wide: float, tight: float, tips: float) -> None:
    """Cut-backs from the node on a tube of 44.45 mm (common practice, no source). Of unequal tubes the least is not a
    quarter round."""
    report = report_of(od, 44.45, angle)
    leg, header = report.cut.leg, report.cut.neighbours
    back = NODE - outline(leg, header, np.array([0.0, math.pi]))
    assert back == pytest.approx([wide, tight], abs=0.06)
    settings = report.settings[0]
    assert math.degrees(settings.angle) == pytest.approx(angle)
    assert math.degrees(settings.off_square) == pytest.approx(90 - angle)
    least = min(NODE - place.at.tangent for place in report.places)
    assert least == pytest.approx(tips, abs=0.06)
    throat = report.places[-1]
    assert throat.names == (("throat", "short point") if angle < 90 else ("throat",))
    assert NODE - throat.at.tangent == pytest.approx(tight, abs=0.06)
    if angle < 90:
        assert settings.tight_side == pytest.approx(math.pi)
        assert abs(throat.round) == pytest.approx(math.pi, abs=1e-6)


def test_places_are_the_farthest_and_the_nearest_of_the_outline() -> None:
    rng = np.random.default_rng(5)
    for _ in range(20):
        report = report_of(38.1, float(rng.uniform(38.1, 60)), float(rng.uniform(30, 90)), bent=0.7)
        at = outline(report.cut.leg, report.cut.neighbours, np.linspace(0, math.tau, 3601))
        first, last = report.places[0], report.places[-1]
        assert (first.names[0], last.names[0]) == ("tip", "throat")
        assert (first.at.tangent, last.at.tangent) == pytest.approx((at.max(), at.min()), abs=1e-3)
        for before, after in pairwise(report.places):
            further = before.at.tangent - after.at.tangent
            # the tips of equal tubes are as far out as each other but for rounding: they go round the tube
            assert further > 1e-6 or (further == pytest.approx(0, abs=2e-6) and before.round < after.round)
        for place in report.places:
            assert place.from_bend is not None
            assert place.from_bend.arc == pytest.approx(place.from_bend.turn * 38.1 / 2)
            assert place.at.corner is not None
            assert place.at.corner - place.at.tangent == pytest.approx(140 * math.tan(0.35))


def test_cut_by_a_plane_has_a_long_and_a_short_point() -> None:
    leg = Leg(np.zeros(3), np.eye(3), 40.0, 2.0)
    lean = math.radians(30)
    sawn = EndCut("foot", "A", leg, (mitre(leg, NODE, lean, short_side=0.0),))
    report = end_report(sawn, meets=False, line=None, notcher=Notcher(), grip=None)
    assert [(place.names, place.at.tangent) for place in report.places] == [
        (("long point",), pytest.approx(NODE + 20 * math.tan(lean))),
        (("short point",), pytest.approx(NODE - 20 * math.tan(lean))),
    ]
    assert gaps_of(report) is None
    normal = rotation_about(np.array([0.0, 0.0, 1.0]), lean) @ np.array([-1.0, 0.0, 0.0])
    stood = EndCut("foot", "A", leg, (cut_ends.plate("plate", np.array([NODE, 0, 0]), normal, leg),))
    on_plate = end_report(stood, meets=True, line=None, notcher=Notcher(), grip=None)
    assert [place.names for place in on_plate.places] == [("long point",), ("short point",)]
    assert math.degrees(on_plate.settings[0].off_square) == pytest.approx(30)
    assert on_plate.settings[0].saw is None
    square = EndCut("foot", "A", leg, (mitre(leg, NODE, 0.0),))
    assert end_report(square, meets=False, line=None, notcher=Notcher(), grip=None).places == ()


def test_what_the_notcher_cannot_do() -> None:
    notcher = Notcher(math.radians(50), clamp=80.0, cup=60.0)
    report = report_of(44.45, 44.45, 35, notcher)
    check = report.settings[0].notcher
    assert check is not None
    assert (check.angle, check.depth) == (False, False)
    assert report.when is None  # a straight tube is not bent
    assert report_of(44.45, 44.45, 45, notcher).settings[0].depth == pytest.approx(62.9, abs=0.1)
    assert report_of(44.45, 44.45, 60, notcher, bent=0.5).when == "either"


@pytest.mark.parametrize("swings", ["left", "right"])
def test_reference_line_is_carried_through_the_bends(swings: Literal["left", "right"]) -> None:
    rng = np.random.default_rng(11)
    tubing, die = Tubing(40.0, 2.0, None), Die("die", 140.0)
    bench = Bench(tubing, die, "mm", Bender(plane="level", swings=swings))
    for bends in range(1, 6):
        chain = random_tube(rng, bends)
        lines = reference_lines(chain, bench)
        assert lines is not None
        # at bend 1 the line lies square to the plane of bend, on the side that faces up
        first = -chain.frames[1][:, 2] if swings == "left" else chain.frames[1][:, 2]
        assert lines[0] == pytest.approx(first, abs=1e-12)
        for k in range(bends):
            bend = rotation_about(chain.frames[2 * k + 1][:, 2], float(chain.angles[k]))
            assert lines[k + 1] == pytest.approx(bend @ lines[k], abs=1e-12)
        # the steps say how far a seam on it lies from the last bend's side
        round_ = abs(end_leg(chain, 40.0, 2.0).round_of(lines[-1]))
        assert abs(math.pi / 2 - round_) == pytest.approx(making_of(chain, bench, ("A", "F")).steps[-1].seam, abs=1e-9)
    assert reference_lines(chain, Bench(tubing, die, "mm")) is None
    assert reference_lines(chain, Bench(tubing, die, "mm", Bender(plane="upright", swings="up"))) is None
