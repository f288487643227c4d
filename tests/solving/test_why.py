"""What drives the numbers, and which die: from the file to result, JSON and page."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from pathlib import Path

import pytest

from plumbend.asking import Why
from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.job.results import Result
from plumbend.solving import solve
from plumbend.units import Units
from plumbend_cli.page import show
from plumbend_cli.solve_page import solve_page
from plumbend_cli.why_page import chance_text

SAMPLES = Path(__file__).parents[2] / "samples"
RAIL = SAMPLES / "stretcher-rail.toml"
GRAB_RAIL = SAMPLES / "grab-rail.toml"
HOOP = """
title = "Ladder hoop"
units = "in"

[tubing]
od = "1-1/2"
wall = 0.095

[good_to]
point = "1/8"

[[die]]
name = "tight"
od = "1-1/2"
clr = "4"
grip = 3

[[die]]
name = "wide"
od = "1-1/2"
clr = 6
grip = 3
max_wrap = 60

[[die]]
name = "metric"
od = "42.4 mm"
clr = "150 mm"

[[tube]]
name = "hoop"
points = [
  { name = "A", what = "end", at = [0, 0, 0] },
  { name = "B", what = "corner", at = [0, 0, 40] },
  { name = "m", what = "centre", leg = 2, at = [0, 12, "40-1/16"] },
  { name = "C", what = "corner", at = [0, 24, 40] },
  { name = "F", what = "end", at = [0, 24, 0] },
]
"""


def page_of(path: Path, result: Result, units: Units) -> str:
    out = io.StringIO()
    show(solve_page(read_job(path), result, units), out)
    return out.getvalue()


@pytest.fixture
def hoop(tmp_path: Path) -> Path:
    path = tmp_path / "hoop.toml"
    path.write_text(HOOP, encoding="utf-8")
    return path


def test_shares_go_to_the_readings_of_the_vehicle_and_add_up() -> None:
    result = solve(read_job(RAIL), why=Why(3.175))
    (tube,) = result_to_json(result)["tubes"]
    drivers = tube["drivers"]
    every = [*drivers["straights"], *drivers["rotations"][1:], *drivers["angles"], drivers["developed_length"]]
    assert len(every) == 10
    for shares in every:
        assert sum(one["share"] for one in shares) == pytest.approx(1.0)
        assert shares == sorted(shares, key=lambda one: -one["share"])
    assert drivers["rotations"][0] is None
    assert drivers["developed_length"][0]["measured"] == "A drop 0, L 12-1/2"
    assert drivers["landing"]["gap"] == 3.175
    assert 0 < drivers["landing"]["from_start"] < drivers["landing"]["between_ends"] < 1
    assert len(drivers["far_end"]["angles"]) == 3
    json.dumps(drivers, allow_nan=False)


@pytest.mark.parametrize("units", ["in", "mm"])
def test_page_names_what_drives_each_number(units: Units) -> None:
    page = page_of(RAIL, solve(read_job(RAIL), units, why=Why(3.175)), units)
    for text in ("What each ± comes from", "How far the F end moves when one number is out", "Do both ends land?"):
        assert text in page
    assert "A drop 0, L 12-1/2 (51%); F drop" in page
    assert ("1/8 in of where" if units == "in" else "3.2 mm of where") in page
    assert "straight 1: 1/16 longer" in page if units == "in" else "straight 1: 1 mm longer" in page
    assert all(len(line) <= 80 for line in page.splitlines())


def test_a_copy_has_shares_and_so_has_the_radius_of_the_part() -> None:
    result = solve(read_job(GRAB_RAIL), why=Why(3.0))
    drivers = result_to_json(result)["tubes"][0]["drivers"]
    every = [*drivers["straights"], *drivers["rotations"][1:], *drivers["angles"], drivers["copied_radius"]]
    for shares in (*every, drivers["developed_length"]):
        assert sum(one["share"] for one in shares) == pytest.approx(1.0)
    # the flanges' middles say nothing of bends but where their legs end
    assert drivers["copied_radius"][0]["measured"] == "the scan"
    assert drivers["copied_radius"][0]["share"] > 0.9
    assert drivers["straights"][2][0]["measured"] == "upper flange"
    each: tuple[tuple[Units, str], ...] = (("mm", "mm"), ("in", "inches"))
    for units, unit in each:
        page = page_of(GRAB_RAIL, result, units)
        shown = page[page.index("What each ± comes from") : page.index("How far the upper flange end moves")]
        assert f"the part's own bend radius, {unit}" in shown
        assert "held, or not fixed" not in shown
        assert all(len(line) <= 80 for line in page.splitlines())


def test_a_tube_given_by_its_program_has_a_reach_and_no_shares(tmp_path: Path) -> None:
    path = tmp_path / "program.toml"
    program = "program = [ { straight = 10, bend = 90 }, { straight = 10 } ]"
    path.write_text(HOOP[: HOOP.index("points = [")].replace("[[tube]]", '[[tube]]\ndie = "tight"') + program, "utf-8")
    result = solve(read_job(path), why=Why(1.0))
    drivers = result_to_json(result)["tubes"][0]["drivers"]
    assert (drivers["straights"], drivers["landing"]) == (None, None)
    # the far end lies 10 + 4 in aside of the bend's middle, and 4 in ahead of it: hypot(10, 4) in from its axis
    moved = sum(part**2 for part in drivers["far_end"]["angles"][0]) ** 0.5
    assert moved == pytest.approx((10**2 + 4**2) ** 0.5 * 25.4 * 3.14159265 / 180)
    assert "What each ±" not in page_of(path, result, "in")


def test_who_does_not_ask_pays_nothing() -> None:
    asks = (
        "import sys; from plumbend.job.reader import read_job; from plumbend.solving import solve\n"
        "from plumbend.job.result_json import result_to_json\n"
        f"tube = result_to_json(solve(read_job({str(RAIL)!r})))['tubes'][0]\n"
        "assert tube['drivers'] is None and tube['dies'] is None\n"
        "print([m for m in sys.modules if m.rpartition('.')[2] in "
        "('why', 'drivers', 'landing', 'why_report', 'choosing', 'die_choice', 'known_together')])"
    )
    done = subprocess.run([sys.executable, "-c", asks], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


@pytest.mark.parametrize(
    ("chance", "said"),
    [
        (0.0, "fewer than 1 of 20"),
        (0.9499, "18 of 20"),
        (0.95, "19 of 20"),
        (0.985, "98 of 100"),
        (0.9953, "995 of 1000"),
        (1.0, "more than 999 of 1000"),
    ],
)
def test_a_chance_is_never_said_larger_than_it_is(chance: float, said: str) -> None:
    assert chance_text(chance) == said


def test_several_dies_and_none_named_are_a_table_and_a_question(hoop: Path) -> None:
    result = solve(read_job(hoop))
    assert result.exit_status == 3
    (tube,) = result_to_json(result)["tubes"]
    assert (tube["solved"], tube["die"], tube["straights"]) == (False, None, None)
    asked = 'Which die? 2 of the shop take this tube and hoop names none. Write die = "tight" or die = "wide" in its '
    assert tube["notices"] == [{"code": "which-die", "level": "refusal", "text": asked + "table, below [[tube]]."}]
    tight, wide = tube["dies"]
    assert [tight["name"], wide["name"]] == ["tight", "wide"]
    assert (tight["clr_over_od"], wide["clr_over_od"]) == pytest.approx((4 / 1.5, 4.0))
    assert (tight["thinning"], wide["thinning"]) == pytest.approx((0.75 / 4.75, 0.75 / 6.75))
    assert tight["refusals"] == []
    assert "Bend 1" in wide["refusals"][0]


def test_each_cost_is_that_of_the_die_named(hoop: Path) -> None:
    costs = {cost.die.name: cost for cost in solve(read_job(hoop)).tubes[0].dies}
    for name, cost in costs.items():
        hoop.write_text(HOOP.replace("[[tube]]", f'[[tube]]\ndie = "{name}"'), encoding="utf-8")
        tube = solve(read_job(hoop)).tubes[0]
        assert tube.dies == ()
        assert tube.fit is not None
        worst = max(tube.fit.points, key=lambda point: abs(point.miss))
        assert (cost.worst, cost.worst_point) == (abs(worst.miss), worst.name)
        assert cost.refusals == tuple(notice.text for notice in tube.notices if notice.level == "refusal")


def test_page_asks_which_die(hoop: Path) -> None:
    page = page_of(hoop, solve(read_job(hoop)), "in")
    assert "Which die?" in page
    assert page.index("Which die?") < page.index("What each die would cost")
    rows = [line.split() for line in page.splitlines() if line.startswith(("  tight", "  wide"))]
    assert [row[:6] for row in rows] == [
        ["tight", "4", "in", "2.7", "0.080", "in"],
        ["wide", "6", "in", "4.0", "0.084", "in"],
    ]
    assert [row[-1] for row in rows] == ["yes", "no"]
    assert "CANNOT BE BENT" not in page


def test_one_die_that_takes_the_tube_is_used_and_said(hoop: Path) -> None:
    start, stop = HOOP.index('[[die]]\nname = "wide"'), HOOP.index('[[die]]\nname = "metric"')
    hoop.write_text(HOOP[:start] + HOOP[stop:], encoding="utf-8")
    result = solve(read_job(hoop))
    assert result.tubes[0].solved
    assert "Die tight, centreline radius 4 in." in page_of(hoop, result, "in")
