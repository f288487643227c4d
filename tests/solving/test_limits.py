"""Jobs with places to touch and to keep clear of, and with demands: from file to result and its words."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from plumbend.job.model import Job, WantedTube
from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.job.results import Result
from plumbend.shape.points import Point, Standoff
from plumbend.shop import Die
from plumbend.solving import solve
from plumbend.tubing import Tubing
from support.tubes import OD, RADIUS, leg_points, random_tube

RAIL = """
title = "Stretcher rail, left"
units = "in"
readings = [
  { to = "A", from = "B1", tape = "36-9/16" }, { to = "A", height = "34-3/8" },
  { to = "A", drop = [0, "L 12-1/2"] },
]

[tubing]
od = "1-1/2"
wall = 0.095
metal = "mild steel"

[good_to]
point = "1/8"
angle = 1.0

[[die]]
clr = "5-1/2"

[[base]]
name = "B1"
at = [0, 0, 0]

[[tube]]
name  = "left rail"
die   = "5-1/2"
bends = 3
points = [
  { name = "A", what = "end",    at = ["0", "L 12-1/2", "34 3/8"] },
  { name = "B", what = "corner", at = [14, 12.5, "37-1/4"] },
  { name = "c1", what = "centre", leg = 2, at = ["19-7/8", 13, 40], good_to = "1/4" },
  { name = "t", what = "centre", side = "top", at = ["23-3/16", "13-1/4", "42-5/16"] },
  { name = "f", what = "touch", gap = "3/4", tube_is = "above", at = [31, "14-5/16", 41] },
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
TOUCH = 'what = "touch", gap = "3/4", tube_is = "above"'
OF_LIMITS = (
    "plumbend.shape.held", "plumbend.shape.demands", "plumbend.shape.keeping", "plumbend.shape.sides",
    "plumbend.estimate.constrained", "plumbend.estimate.quadratic", "plumbend.estimate.reaching",
    "plumbend.job.tube_demands",
)  # fmt: skip


@pytest.fixture
def rail(tmp_path: Path) -> Path:
    return tmp_path / "rail.toml"


def solved(path: Path, text: str = RAIL, *, touch: str | None = None, bends: str | None = None) -> Result:
    """The result of a job; of the rail's with another ``touch``, or with ``bends`` and what follows it made another."""
    for old, new in ((TOUCH, touch), ("bends = 3", bends)):
        if new is not None:
            assert text.count(old) == 1
            text = text.replace(old, new)
    path.write_text(text, encoding="utf-8")
    return solve(read_job(str(path)))


def said(result: Result, code: str, tube: int = 0) -> list[tuple[str, str]]:
    return [(n.level, n.text) for n in result.tubes[tube].notices if n.code.startswith(code)]


def test_the_rail_solves_to_the_program_that_its_numbers_close_to(rail: Path) -> None:
    """Straights 13.63, 11.60, 10.63, 13.10; turns -149.1, -30.0; bends 13.7, 31.5, 27.0, as it was laid out."""
    result = solved(rail)
    tube = result_to_json(result)["tubes"][0]
    assert tube["solved"]
    np.testing.assert_allclose(np.array(tube["straights"]) / 25.4, [13.63, 11.60, 10.63, 13.10], atol=0.02)
    np.testing.assert_allclose(tube["rotations"], [0, -149.1, -30.0], atol=0.15)
    np.testing.assert_allclose(tube["angles"], [13.7, 31.5, 27.0], atol=0.1)
    touch = tube["fit"]["points"][4]
    assert (touch["name"], touch["what"]) == ("f", "touch")
    assert abs(touch["miss"]) < 1.0


def test_a_tube_is_held_off_what_it_must_keep_clear_of_and_that_is_said(rail: Path) -> None:
    result = solved(rail, touch='what = "clear", gap = "7/8", note = "lamp bracket"')
    tube = result_to_json(result)["tubes"][0]
    assert tube["solved"]
    clear = tube["fit"]["points"][4]
    assert (clear["what"], clear["misread"]) == ("clear", None)
    assert clear["miss"] == pytest.approx(0, abs=1e-5)
    assert clear["doubt"] > 0
    assert said(result, "held-off") == [
        ("note", "The tube is held off f (lamp bracket): it lies 7/8 in from it, as near as it may.")
    ]
    assert not said(result, "kept-at-a-cost")
    # signed: what is to spare
    loose = result_to_json(solved(rail, touch='what = "clear", gap = "1/2"'))["tubes"][0]
    assert loose["fit"]["points"][4]["miss"] == pytest.approx(6.5, abs=1.0)
    assert not said(solved(rail, touch='what = "clear", gap = "1/2"'), "held-off")


def test_what_a_place_to_keep_clear_of_costs_is_said_and_no_point_blamed(rail: Path) -> None:
    result = solved(rail, touch='what = "clear", gap = 1.5')
    assert result.tubes[0].solved
    assert said(result, "kept-at-a-cost") == [
        (
            "caution",
            "What the tube must touch, keep clear of or be moves it farther from what was measured than the "
            "accuracies bear: c2 is missed by 27/32 in. It all agrees without f kept clear of with a gap of 1-1/2 in. "
            "Check that it may lie there.",
        )
    ]
    assert not any(point["suspect"] for point in result_to_json(result)["tubes"][0]["fit"]["points"])


def test_an_exact_touch_is_met(rail: Path) -> None:
    points = result_to_json(solved(rail, touch='what = "touch", gap = "3/4", exact = true'))["tubes"][0]["fit"]
    assert points["points"][4]["miss"] == pytest.approx(0, abs=1e-5)


def test_a_touch_within_so_much_is_held_at_its_edge(rail: Path) -> None:
    result = solved(rail, touch='what = "touch", gap = 1, within = "1/8"')
    assert said(result, "held-within") == [
        ("note", "The tube is held at f: it lies 1/8 in too near, the most that it may.")
    ]


def test_a_side_that_all_else_speaks_against_is_refused(rail: Path) -> None:
    result = solved(rail, touch=TOUCH.replace("above", "below"))
    assert said(result, "wrong-side") == [
        (
            "refusal",
            "The tube is told to lie on the side of f that is below it, and all else that was measured has it on the "
            "other, above. Ways out: check tube_is at f and its place, or measure the places beside it again.",
        )
    ]


def test_demands_that_exclude_each_other_are_named_and_no_others(rail: Path) -> None:
    demands = (
        "bends = 3\ndemands = [ { leg = 1, along = [1, 0, 0.2], good_to = 20 }, { bend = 3, angle = 40 }, "
        "{ equal_angles = [2, 3] }, { bend = 2, angle = 30 } ]"
    )
    result = solved(rail, bends=demands)
    assert not result.tubes[0].solved
    assert said(result, "demands-conflict") == [
        (
            "refusal",
            "These cannot be had together: bend 3 of 40 degrees, equal angles at bends 2 and 3 and bend 2 of 30 "
            "degrees. Ways out: give one of them up or loosen it, or use more bends.",
        )
    ]


BESIDE = """  { name = "g", what = "clear", gap = 6, at = [30, 14, 36] },
  { name = "h", what = "clear", gap = 2, at = [30, 9, 41] },
  { name = "i", what = "clear", gap = 3, at = [31, 14, 46] },
"""


def test_of_many_places_only_those_that_exclude_each_other_are_named(rail: Path) -> None:
    exact = RAIL.replace(TOUCH, 'what = "touch", gap = "3/4", exact = true')
    result = solved(rail, exact.replace('  { name = "F"', BESIDE + '  { name = "F"'))
    assert said(result, "demands-conflict") == [
        (
            "refusal",
            "These cannot be had together: f touched with a gap of 3/4 in exactly and g kept clear of with a gap of "
            "6 in. Ways out: give one of them up or loosen it, or use more bends.",
        )
    ]
    without_g = "".join(line for line in BESIDE.splitlines(keepends=True) if '"g"' not in line)
    assert not said(solved(rail, exact.replace('  { name = "F"', without_g + '  { name = "F"')), "demands-conflict")


def test_two_places_of_a_leg_can_always_be_touched_and_are_not_named_alone() -> None:
    """Of five places along a straight one is 100 mm off: two others hold the leg where it cannot be touched as well."""
    rng = np.random.default_rng(10)
    tube = random_tube(rng, 2, angles=(30, 60), straights=(400, 500))
    points = leg_points(tube, 4, rng, 1.5)
    start, stop = tube.tangents()[1]
    for j, part in enumerate((0.15, 0.3, 0.5, 0.7, 0.85)):
        off = OD / 2 + 100 * (j == 2)
        at = start + part * (stop - start) + off * tube.frames[2, :, 1]
        points.insert(4 + j, Point(f"f{j}", "touch", at, np.eye(3), leg=2, standoff=Standoff(exact=True)))
    die = Die("140", clr=RADIUS, od=OD, grip=60.0)
    result = solve(Job("t", "mm", Tubing(OD), (WantedTube("t", die, tuple(points), bends=2),)))
    ((level, text),) = said(result, "demands-conflict")
    assert level == "refusal"
    assert len(re.findall("f[0-4] touched exactly", text)) == 3
    assert "f2 touched exactly" in text


def test_a_demand_kept_is_exact_and_has_no_doubt(rail: Path) -> None:
    tube = result_to_json(solved(rail, bends="bends = 3\ndemands = [ { bend = 2, angle = 31 } ]"))["tubes"][0]
    assert tube["angles"][1] == pytest.approx(31, abs=1e-7)
    assert tube["doubt"]["angles"][1] is None
    assert tube["solved"]


STRAIGHT = """
units = "mm"
[tubing]
od = 40
[good_to]
point = 60
[[die]]
clr = 150
[[tube]]
name = "stay"
bends = 0
points = [
  { name = "A", what = "end", at = [0, 0, 0], good_to = [2, 2, 38] },
  { name = "f", what = "touch", at = [400, 0, 0], good_to = 2 },
  { name = "g", what = "touch", at = [700, 0, 0], good_to = 2 },
  { name = "F", what = "end", at = [1000, 0, 0], good_to = [2, 2, 38] },
]
""".replace("[good_to]\npoint = 60\n", "")


def test_the_side_is_asked_for_where_either_would_do_and_kept_where_told(rail: Path) -> None:
    result = solved(rail, STRAIGHT)
    (level, text), *others = said(result, "which-side")
    assert level == "refusal"
    assert not others
    assert text in {
        f"The tube may touch f and g from {one} or from {other}: all else that was measured fits both. Ways out: say "
        f'on which side it lies there, such as tube_is = "{one}", or measure another place beside it.'
        for one, other in (("above", "below"), ("below", "above"))
    }
    for side, sign in (("above", 1), ("below", -1)):
        told = solved(rail, STRAIGHT.replace('"touch",', f'"touch", tube_is = "{side}",'))
        assert told.tubes[0].solved
        assert told.tubes[0].corners is not None
        np.testing.assert_allclose(told.tubes[0].corners[:, 2], 20 * sign, atol=0.3)  # the ends pull a little


def test_a_better_side_of_what_is_kept_clear_of_is_told(rail: Path) -> None:
    """Under f by 1 mm, the tube is pushed down; a ledge g under it leaves no room there, and above f it would have."""
    text = STRAIGHT.replace('"f", what = "touch", at = [400, 0, 0]', '"f", what = "clear", at = [500, 0, 1]')
    text = text.replace('"g", what = "touch", at = [700, 0, 0]', '"g", what = "clear", at = [300, 0, -30]')
    text = text.replace("[2, 2, 38]", "[2, 2, 10]")
    result = solved(rail, text)
    assert result.tubes[0].solved
    assert [notice.code for notice in result.tubes[0].notices if notice.code.startswith("held-off")] == [
        "held-off-f",
        "held-off-g",
    ]
    assert said(result, "other-side") == [
        (
            "caution",
            "The tube passes f on the side that is below it, as it would if nothing were in its way. On the other "
            'side, above, it would keep nearer to what was measured: say tube_is = "above" at f if it may pass there.',
        )
    ]
    above = solved(rail, text.replace('"clear", at = [500', '"clear", tube_is = "above", at = [500'))
    fits = [one.tubes[0].fit for one in (above, result)]
    assert fits[0] is not None
    assert fits[1] is not None
    assert fits[0].chi2 < fits[1].chi2 - 10
    assert not said(above, "other-side")


def test_a_leg_is_parallel_to_that_of_a_tube_before(rail: Path) -> None:
    second = """
[[tube]]
name = "right rail"
die = "5-1/2"
bends = 1
demands = [ { leg = 1, parallel_to = { tube = "left rail", leg = 4 } } ]
points = [
  { name = "P", what = "end", at = [0, -12, 60] },
  { name = "Q", what = "corner", at = [20, -12, 47] },
  { name = "R", what = "end", at = [40, -12, 47] },
]
"""
    result = solved(rail, RAIL + second)
    left, right = result.tubes
    assert right.solved
    assert left.tangents is not None
    assert right.tangents is not None
    ways = [start_stop[1] - start_stop[0] for start_stop in (left.tangents[3], right.tangents[0])]
    ways = [way / np.linalg.norm(way) for way in ways]
    np.testing.assert_allclose(ways[0], ways[1], atol=1e-7)
    none = solved(rail, RAIL.replace(TOUCH, TOUCH.replace("above", "below")) + second)
    assert [notice.text for notice in none.tubes[1].notices] == [
        "Leg 1 is to be parallel to leg 4 of left rail, which was not found. Ways out: mend left rail first, or take "
        "the demand out."
    ]
    few = solved(rail, RAIL + second.replace("leg = 4", "leg = 6"))
    assert [notice.text for notice in few.tubes[1].notices] == [
        "Leg 1 is to be parallel to leg 6 of left rail, which has legs 1 to 4. Ways out: correct the leg, or take the "
        "demand out."
    ]


def test_places_on_the_body_may_stand_in_a_csv(rail: Path) -> None:
    rows = "name,what,x,y,z,gap,tube_is,exact,within\nA,end,0,0,0,,,,\nf,touch,400,0,-25,5,above,yes,\n"
    rows += "g,touch,600,0,-22,0,above,no,4\nk,clear,800,0,60,10,,,\nF,end,1000,0,0,,,,\n"
    (rail.parent / "points.csv").write_text(rows, encoding="utf-8")
    head, _, _ = STRAIGHT.partition("points = [")
    result = solved(rail, head + 'points = "points.csv"\n')
    misses = {p["name"]: p["miss"] for p in result_to_json(result)["tubes"][0]["fit"]["points"]}
    assert misses["f"] == pytest.approx(0, abs=1e-6)
    assert abs(misses["g"]) <= 4
    assert misses["k"] > 0


def test_a_job_with_none_of_it_loads_none_of_it(rail: Path) -> None:
    rail.write_text(RAIL.replace(TOUCH, 'what = "outside"').replace('14-5/16", 41]', '14-5/16", 41.75]'))
    look = (
        "import sys; from plumbend.job.reader import read_job; from plumbend.solving import solve; "
        f"solve(read_job({str(rail)!r})); print([m for m in {OF_LIMITS!r} if m in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", look], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"


def test_a_demand_that_leads_the_tube_where_the_die_cannot_is_named(rail: Path) -> None:
    """One refusal that names the demand, not the limits and open numbers that it leads to."""
    result = solved(rail, bends="bends = 3\ndemands = [{ bend = 2, angle = 90 }]")
    refusals = [(n.code, n.text) for n in result.tubes[0].notices if n.level == "refusal"]
    assert [code for code, _ in refusals] == ["kept-at-a-cost"]
    assert "and there the die cannot bend it. It all agrees without bend 2 of 90 degrees. Ways out:" in refusals[0][1]
    assert not said(result, "not-fixed")


def test_a_side_told_wrong_is_refused_and_nothing_else_blamed(rail: Path) -> None:
    lamp = '{ name = "lamp", what = "clear", gap = "1/4", at = [38, 14, 41] },\n  { name = "c3"'
    text = RAIL.replace('{ name = "c3"', lamp).replace(TOUCH, TOUCH.replace("above", "below"))
    assert lamp in text
    result = solved(rail, text)
    assert [n.code for n in result.tubes[0].notices if n.level != "note" and n.level != "not-checked"] == [
        "wrong-side-f"
    ]
    np.testing.assert_allclose(np.degrees(result.tubes[0].program.angles), [13.7, 31.5, 27.0], atol=0.5)


CROOKED = """
-307.7 -1451.0 -768.8  -381.2 -1629.2 -677.2  -432.8 -1745.4 -615.1  -487.2 -1857.0 -554.0
-565.0 -1980.4 -376.7  -569.9 -1978.2 -340.3  -577.4 -1974.9 -297.0  -587.8 -1970.3 -256.5
-598.6 -1905.9 -124.4  -601.0 -1843.2  -43.6  -606.2 -1779.5   35.0  -606.8 -1718.2  115.0
-660.1 -1762.2  394.7  -699.1 -1879.2  491.6  -728.6 -1997.7  586.8  -767.4 -2117.7  681.0
-792.7 -2304.3  768.0  -790.1 -2393.4  771.8  -789.0 -2480.8  775.2  -785.1 -2573.0  779.6
-814.3 -2763.6  953.3  -839.1 -2800.6 1086.3  -867.7 -2837.6 1225.1  -910.1 -2892.9 1426.1
"""
"""mm, four places on each of six legs. Leg 4 stands 52 degrees off plumb."""


def test_a_demand_far_from_what_was_measured_is_dear_and_not_impossible(tmp_path: Path) -> None:
    """26 November 2026: leg 4 plumb was said to be impossible, which no leg is by itself."""
    rows = np.array(CROOKED.split(), dtype=float).reshape(-1, 3).tolist()
    points = "".join(
        f'  {{ name = "p{i}", what = "{"end" if i in (0, 23) else "centre"}", at = {at} }},\n'
        for i, at in enumerate(rows)
    )
    path = tmp_path / "job.toml"
    path.write_text(
        'title = "Crooked"\nunits = "mm"\n[tubing]\nod = 44.45\n[good_to]\npoint = 3.2\n'
        "[[die]]\nclr = 140\ngrip = 60\n"
        '[[tube]]\nname = "crooked"\nbends = 5\ndemands = [ { leg = 4, plumb = true } ]\n'
        f"points = [\n{points}]\n",
        encoding="utf-8",
    )
    (tube,) = result_to_json(solve(read_job(path)))["tubes"]
    refusals = [notice for notice in tube["notices"] if notice["level"] == "refusal"]
    assert [notice["code"] for notice in refusals] == ["kept-at-a-cost"]
    assert "It all agrees without leg 4 plumb." in refusals[0]["text"]
    start, stop = (np.array(place) for place in tube["tangents"][3])
    assert abs(stop - start)[:2] == pytest.approx(0.0, abs=1e-3)
