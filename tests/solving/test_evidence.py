"""From evidence of every kind in a job file to a result that says how good each number is."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from plumbend.job.model import Job, WantedTube
from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.scan import Scan
from plumbend.shape.structure import fit_measured
from plumbend.shape.tube_readings import BendAngle, BendRotation, CornersApart
from plumbend.shop import Die
from plumbend.solving import solve
from plumbend.tubing import Tubing
from support.tubes import OD, RADIUS, leg_points, random_tube, scan_places

HEAD = """
units = "{units}"
[tubing]
od = "{od}"
[good_to]
point = "{point}"
angle = 1.0
[[die]]
name = "die"
clr = "{clr}"
od = "{od}"
grip = "{grip}"
max_wrap = 180
"""

INCHES = HEAD.format(units="in", od="1-1/2", point="1/8", clr="5-1/2", grip="3")
METRIC = HEAD.format(units="mm", od="42.4 mm", point="3 mm", clr="150 mm", grip="90 mm")

RAIL = """
[[tube]]
name  = "left rail"
bends = 3
points = [
  { name = "A", what = "end",    at = ["0", "L 12-1/2", "34 3/8"] },
  { name = "B", what = "corner", at = [14, 12.5, "37-1/4"] },
  { name = "c1", what = "centre", leg = 2, at = ["19-7/8", 13, 40], good_to = "1/4" },
  { name = "t", what = "centre", side = "top", at = ["23-3/16", "13-1/4", "42-5/16"] },
  { name = "c2", what = "centre", at = ["34-7/16", 15, "42-1/8"] },
  { name = "c3", what = "centre", leg = 4, at = ["45-1/4", 16, "38-1/8"] },
  { name = "c4", what = "centre", leg = 4, at = ["48-5/16", 16, "36-1/4"] },
  { name = "F", what = "end",    at = [52, 16, 34] },
]
readings = [
  { bend = 2, angle = 31.5 }, { bend = 3, rotation = -30 }, { corners = [1, 2], tape = "13-13/16" },
  { leg = 2, slope = 24.5 },
]
"""


def solved(tmp_path: Path, text: str) -> dict[str, Any]:
    """The one tube of a job, as JSON."""
    job = tmp_path / "job.toml"
    job.write_text(text, encoding="utf-8")
    result = json.loads(json.dumps(result_to_json(solve(read_job(job)))))
    tube: dict[str, Any] = result["tubes"][0]
    return tube


def texts(tube: dict[str, Any], level: str) -> list[str]:
    return [notice["text"] for notice in tube["notices"] if notice["level"] == level]


def test_the_worked_rail_solves_to_its_program(tmp_path: Path) -> None:
    tube = solved(tmp_path, INCHES + RAIL)
    assert tube["solved"]
    doubt = tube["doubt"]
    for name, wanted, unit in (
        ("straights", [13.63, 11.60, 10.63, 13.10], 25.4),
        ("rotations", [0.0, -149.1, -30.0], 1.0),
        ("angles", [13.7, 31.5, 27.0], 1.0),
    ):
        off = np.abs(np.array(tube[name]) - np.array(wanted) * unit)
        assert (off <= 2 * np.array(doubt[name]) + 0.05 * unit).all(), name
    assert [reading["name"] for reading in tube["fit"]["readings"]] == [
        "angle of bend 2",
        "turn before bend 3",
        "tape from corner 1 to corner 2",
        "slope of leg 2",
    ]
    assert all(abs(reading["miss"]) < 1.0 for reading in tube["fit"]["readings"])


def test_the_covariance_is_that_of_the_doubts(tmp_path: Path) -> None:
    tube = solved(tmp_path, INCHES + RAIL)
    diagonal = np.sqrt(np.diagonal(np.array(tube["covariance"])))
    doubt = tube["doubt"]
    np.testing.assert_allclose(diagonal, [*doubt["straights"], *doubt["rotations"][1:], *doubt["angles"]])
    assert np.linalg.eigvalsh(np.array(tube["covariance"])).min() > 0
    known = {point["name"]: point["doubt"] for point in tube["fit"]["points"]}
    assert known["A"] == pytest.approx(0, abs=1e-3)  # no other point checks it, so it cannot be missed
    assert 1.0 < known["c1"] < 0.5 * 25.4 / 4  # less than its own accuracy, for it has a say in the fit


HOOP = """
[[tube]]
name = "hoop"
readings = [
  { bend = 1, angle = 90 }, { bend = 2, angle = 90 },
  { legs = [1, 3], outside = 800 },
  { leg = 2, outside_to_end = 600, end = "start" }, { leg = 2, outside_to_end = 640, end = "far" },
]
"""


def test_a_hoop_by_its_outside_width_and_height(tmp_path: Path) -> None:
    tube = solved(tmp_path, METRIC + HOOP + "planar = true\n")
    assert tube["solved"]
    assert tube["ends"] == ["start", "far"]
    # width less OD and two radii; height less half an OD and a radius
    half = 42.4 / 2
    np.testing.assert_allclose(tube["straights"], [600 - half - 150, 800 - 42.4 - 300, 640 - half - 150], atol=1e-4)
    assert tube["rotations"] == [0.0, 0.0]
    assert None not in tube["doubt"]["straights"]
    assert tube["corners"] is not None
    assert tube["doubt"]["corners"] == [None, None, None, None]  # nothing says where it stands
    assert texts(tube, "caution") == [
        "Every reading is needed to shape the tube, so none checks another and a wrong one would not show. "
        "Read one more length across the tube."
    ]


def test_readings_that_a_mirror_image_fits_alike_are_refused(tmp_path: Path) -> None:
    tube = solved(tmp_path, METRIC + HOOP)
    assert not tube["solved"]
    assert texts(tube, "refusal") == [
        "These readings fit a tube and its mirror image alike: nothing says which way the bends turn out of one "
        'plane. Ways out: read the turn before bend 2 with its sense, such as rotation = "25 cw", or say '
        "planar = true."
    ]
    twisted = HOOP.replace("readings = [", 'readings = [ { bend = 2, rotation = "25 ccw" },')
    tube = solved(tmp_path, METRIC + twisted)
    assert tube["solved"]
    assert tube["rotations"][1] == pytest.approx(-25.0, abs=1e-3)


LEGS_ONLY = """
[[tube]]
name = "open"
points = [
  { name = "a", what = "centre", at = [0, 0, 0] }, { name = "b", what = "centre", at = [200, 1, 0] },
  { name = "c", what = "centre", at = [400, 0, 1] },
  { name = "d", what = "centre", at = [600, 300, 0] }, { name = "e", what = "centre", at = [600, 500, 1] },
  { name = "f", what = "centre", at = [601, 700, 0] },
]
"""


def test_numbers_that_no_point_fixes_are_said_in_words_and_null(tmp_path: Path) -> None:
    tube = solved(tmp_path, METRIC + LEGS_ONLY)
    assert tube["doubt"]["straights"] == [None, None]
    assert tube["doubt"]["angles"][0] is not None
    assert tube["doubt"]["developed_length"] is None
    assert tube["covariance"][0] == [None, None, None]
    assert texts(tube, "caution")[:2] == [
        "Nothing fixes how far the first straight runs: measure where the a end stops.",
        "Nothing fixes how far the last straight runs: measure where the f end stops.",
    ]


def test_a_bend_that_cannot_be_told_from_straight_is_said_so(tmp_path: Path) -> None:
    text = METRIC + LEGS_ONLY.replace('name = "open"', 'name = "open"\nbends = 1')
    for old, new in (
        ("[600, 300, 0]", "[600, 1, 0]"),
        ("[600, 500, 1]", "[800, 0, 1]"),
        ("[601, 700, 0]", "[1000, 1, 0]"),
    ):
        text = text.replace(old, new)
    text = text.replace('"a", what = "centre"', '"a", what = "end"').replace(
        '"f", what = "centre"', '"f", what = "end"'
    )
    tube = solved(tmp_path, text)
    said = [text for text in texts(tube, "caution") if text.startswith("Bend 1 turns")]
    assert len(said) == 1
    assert "it cannot be told from straight, and neither can where it lies." in said[0]
    assert "With the straights on both sides it is 1000 mm long, good to 4 mm." in said[0]


def test_a_number_held_at_a_limit_is_named_and_has_no_doubt(tmp_path: Path) -> None:
    corners = [[0, 0, 0], [400, 0, 0], [400, 380, 0], [0, 380, 0]]
    points = ", ".join(
        f'{{ name = "p{i}", what = "{"end" if i in (0, 3) else "corner"}", at = {at}, good_to = 20 }}'
        for i, at in enumerate(corners)
    )
    tube = solved(tmp_path, METRIC + f'[[tube]]\nname = "tight"\npoints = [{points}]\n')
    assert tube["solved"]
    assert tube["straights"][1] == pytest.approx(90.0)
    assert tube["doubt"]["straights"][1] is None
    assert [row[1] for row in tube["covariance"]] == [None] * 6
    assert texts(tube, "note") == [
        "The straight between bend 1 and bend 2 is held at the least that can be bent, 90.0 mm; the points bear "
        "that within their accuracies."
    ]


def test_scans_and_copies_say_what_they_found() -> None:
    sample = Path(__file__).parents[2] / "samples" / "grab-rail.toml"
    tube = result_to_json(solve(read_job(sample)))["tubes"][0]
    assert tube["solved"]
    # the part was drawn with bends of 114 mm; 42 and 51 degrees, turned by 25
    assert abs(tube["copied"]["radius"] - 114) < 2.5 * tube["copied"]["doubt"]
    np.testing.assert_allclose(tube["angles"], [42.0, 51.0], atol=1.0)
    assert tube["rotations"][1] == pytest.approx(25.0, abs=1.5)
    assert tube["fit"]["scan"]["count"] == 60
    assert tube["fit"]["scan"]["rms"] == pytest.approx(0.5, abs=0.15)
    copied, of_the_wall, _least = texts(tube, "note")
    assert of_the_wall.startswith("Outside a bend the wall of 2.6 mm thins")
    assert copied == (
        "The radius of the part's own bends cannot be told from that of the die 110 grab. The copy keeps the part's "
        "ends and the corners of its legs; only the rounding between them differs."
    )


def test_a_copy_whose_bend_is_too_sharp_for_another_radius_is_refused(tmp_path: Path) -> None:
    round_it = np.radians(np.arange(10, 180, 10))
    points = [
        *([40.0 * k, 0.0, 0.0] for k in range(8)),
        *([300 + 120 * np.sin(a), 120 - 120 * np.cos(a), 0.0] for a in round_it),
        *([300 - 40.0 * k, 240.0, 0.0] for k in range(8)),
    ]
    rows = ", ".join(
        f'{{ name = "p{i}", what = "{"end" if i in (0, len(points) - 1) else "centre"}", '
        f"at = [{x:.3f}, {y:.3f}, {z:.3f}] }}"
        for i, (x, y, z) in enumerate(points)
    )
    tube = solved(tmp_path, METRIC + f'[[tube]]\nname = "u"\nbends = 1\ncopied = true\npoints = [{rows}]\n')
    assert not tube["solved"]
    assert tube["copied"]["radius"] == pytest.approx(120.0, abs=0.5)
    assert texts(tube, "refusal")[0].endswith(
        "Ways out: use a die of the part's radius, or measure where the copy must run and leave out copied. "
        "The part itself is shown."
    )
    assert texts(tube, "refusal")[0].startswith(
        "Bend 1 of the part turns so far that its legs are set apart by its radius, 1"
    )


def test_readings_alone_in_three_dimensions_fix_every_number() -> None:
    """25 November 2026: rounding on the free pose counted as evidence, and numbers were falsely not fixed."""
    rng = np.random.default_rng(60)
    for _ in range(30):
        bends = int(rng.integers(2, 6))
        tube = random_tube(rng, bends, angles=(20.0, 100.0))
        corners = tube.corners()
        readings = (
            *(BendAngle(k + 1, float(a), 0.01) for k, a in enumerate(tube.angles)),
            *(BendRotation(k + 1, float(r), 0.02) for k, r in enumerate(tube.rotations) if k),
            *(
                CornersApart(k, k + 1, float(np.linalg.norm(corners[k + 1] - corners[k])), 1.0)
                for k in range(bends + 1)
            ),
        )
        fit = fit_measured(Measured(OD, readings=readings), bends, FormingLimits(RADIUS))
        assert fit is not None
        assert not fit.doubt.loose[6:].any()
        assert fit.dof == 0
        np.testing.assert_allclose(fit.chain.straights, tube.straights, atol=1e-6)


def test_a_scan_alone_has_a_hand() -> None:
    """25 November 2026: a scan without points was refused as if readings alone were given."""
    rng = np.random.default_rng(3)
    tube = random_tube(rng, 2, angles=(40.0, 80.0))
    die = Die("d", clr=RADIUS, od=OD, grip=50.0, max_wrap=np.pi)
    wanted = WantedTube("t", die, bends=2, scan=Scan(scan_places(tube, 300, rng, 0.5), 0.5))
    assert solve(Job("scan", "mm", Tubing(OD), (wanted,))).tubes[0].solved


def test_a_wrong_corner_that_is_left_out_still_has_a_miss() -> None:
    """25 November 2026: a left-out corner that was not told its bend ended in a traceback."""
    rng = np.random.default_rng(5)
    tube = random_tube(rng, 2, angles=(40.0, 80.0), straights=(400.0, 500.0))
    points = leg_points(tube, 5, rng, 0.0)
    wrong = Point("K", "corner", tube.corners()[2] + np.array([150.0, 90.0, 60.0]), np.eye(3))
    rest = [replace(point, cov=np.eye(3)) for point in points]
    die = Die("d", clr=RADIUS, od=OD, grip=50.0, max_wrap=np.pi)
    for bends in (2, None):
        wanted = WantedTube("t", die, (*rest[:10], wrong, *rest[10:]), bends=bends)
        (found,) = solve(Job("corner", "mm", Tubing(OD), (wanted,))).tubes
        assert found.fit is not None
        (point,) = [point for point in found.fit.points if point.name == "K"]
        assert point.suspect
        assert point.miss > 30


def test_one_corner_among_other_places_does_not_count_the_bends(tmp_path: Path) -> None:
    """25 November 2026: one measured corner made a rail of three bends a rail of one."""
    rail = "".join(line for line in RAIL.splitlines(keepends=True) if not line.startswith("bends"))
    for text in (
        rail,
        rail.replace("leg = 4, ", "").replace('"c1", what = "centre", leg = 2', '"c1", what = "centre"'),
    ):
        tube = solved(tmp_path, INCHES + text)
        assert len(tube["angles"]) == 3
        np.testing.assert_allclose(tube["angles"], [13.7, 31.5, 27.0], atol=0.5)


def test_what_nothing_fixes_is_null_in_json_and_the_rest_is_not(tmp_path: Path) -> None:
    tube = solved(tmp_path, METRIC + LEGS_ONLY)
    last = len(tube["straights"]) - 1
    assert tube["straights"][0] is None
    assert tube["straights"][last] is None
    assert tube["developed_length"] is None
    assert tube["corners"][0] is None
    assert tube["corners"][-1] is None
    assert tube["tangents"][0][0] is None
    assert tube["tangents"][-1][1] is None
    assert tube["tangents"][0][1] is not None
    assert tube["tangents"][-1][0] is not None
    assert all(corner is not None for corner in tube["corners"][1:-1])
    assert None not in tube["angles"]
    assert None not in tube["rotations"]
    assert None not in tube["straights"][1:last]


def test_a_u_bend_whose_place_nothing_fixes_asks_for_its_crown(tmp_path: Path) -> None:
    """25 November 2026: the ends were asked for, which had been given."""
    rows = [("A", "end", 0, 0), ("b", "centre", 200, 0), ("c", "centre", 200, 300), ("F", "end", 0, 300)]
    points = ", ".join(f'{{ name = "{name}", what = "{what}", at = [{x}, {y}, 0] }}' for name, what, x, y in rows)
    tube = solved(tmp_path, METRIC + f'[[tube]]\nname = "u"\nbends = 1\npoints = [{points}]\n')
    said = [text for text in texts(tube, "caution") if text.startswith("Nothing fixes")]
    assert said == ["Nothing fixes how far out bend 1 lies: measure a place on its crown, the middle of the bend."]
    assert tube["straights"] == [None, None]
