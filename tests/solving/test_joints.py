"""Ends that meet other tubes, neighbours and plates: where they stop, how long the tube comes out, and what is said."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from plumbend.advice import measure_next
from plumbend.asking import Why
from plumbend.cutting import cuts_of
from plumbend.ends.outline import outline
from plumbend.ends.template import template
from plumbend.errors import Refused
from plumbend.frames import unit
from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.job.results import EndMet, Result, TubeResult
from plumbend.making.habit import Habit
from plumbend.making.setting import TAPE_STEP
from plumbend.shop import Begins, MeasuredFrom
from plumbend.solving import solve
from plumbend.survey import survey
from support import end_jobs

SAMPLES = Path(__file__).parents[2] / "samples"
OUTER, POST, CLR, TRIM = 20.0, 24.0, 150.0, 25.0
CUT_BACK = math.sqrt(POST**2 - OUTER**2)
"""mm from the post's centre to the longest points of a square cope on it."""
HEAD = f"""{end_jobs.HEAD}grip = 60
max_wrap = 180
tail = 0
{end_jobs.POST}[[neighbour]]
name = "deck"
plate = [ [0, 0, 10] ]
faces = "up"
"""
RAIL = """
[[tube]]
name = "rail"
bends = 1
points = [
  { name = "A", what = "end", at = [300, 500, 50] },
  { name = "B", what = "corner", at = [300, 500, 600] },
  { name = "c", what = "centre", at = [700, 500, 600] },
  { name = "F", what = "end", on = "post", allowance = 3 },
]
"""
HOOP = """
[[tube]]
name = "hoop"
bends = 2
points = [
  { name = "A", what = "end", on = "deck" },
  { name = "d", what = "centre", leg = 1, at = [1000, 800, 300] },
  { name = "B", what = "corner", at = [1000, 800, 900] },
  { name = "m", what = "centre", leg = 2, at = [1000, 500, 900] },
  { name = "C", what = "corner", at = [1000, 200, 900] },
  { name = "e", what = "centre", leg = 3, at = [1000, 200, 300] },
  { name = "F", what = "end", on = "deck" },
]
"""
ON_HOOP = """
[[tube]]
name = "rail"
bends = 0
points = [
  { name = "A", what = "end", at = [100, 500, 900] },
  { name = "b", what = "centre", at = [500, 500, 900] },
  { name = "F", what = "end", on = "hoop" },
]
"""


def result_of(folder: Path, text: str) -> Result:
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return solve(read_job(folder / "job.toml"))


def solved(folder: Path, text: str, name: str = "rail") -> TubeResult:
    return next(tube for tube in result_of(folder, text).tubes if tube.name == name)


def whole(mm: float) -> int:
    """What is left to trim, up to the next step of the tape."""
    return math.ceil(mm - 1e-6)


def straights(tube: TubeResult) -> list[float]:
    assert tube.program is not None
    found: list[float] = tube.program.straights.tolist()
    return found


def met_at(tube: TubeResult, end: str) -> EndMet:
    return next(met for met in tube.met if met.end == end)


def said(tube: TubeResult, code: str) -> list[str]:
    return [notice.text for notice in tube.notices if notice.code.startswith(code)]


def test_a_square_leg_runs_to_the_middle_of_the_post_and_is_sawn_to_its_longest_point(tmp_path: Path) -> None:
    tube = solved(tmp_path, HEAD + RAIL)
    assert straights(tube) == pytest.approx([550 - CLR, 700 - CLR], abs=1e-6)
    assert tube.developed_length == pytest.approx(1250 - 2 * CLR + CLR * math.pi / 2, abs=1e-6)
    met = met_at(tube, "F")
    assert met.place == pytest.approx([1000, 500, 600], abs=1e-6)
    assert (met.off, met.aside) == (None, pytest.approx(0, abs=1e-6))
    assert met.longest == pytest.approx(-CUT_BACK, abs=1e-6)
    assert tube.making is not None
    assert tube.making.trims == pytest.approx((whole(TRIM), whole(TRIM + 3 - CUT_BACK)), abs=1e-6)
    assert tube.making.saw_length == pytest.approx(tube.developed_length + sum(tube.making.trims), abs=1e-6)
    assert not said(tube, "not-fixed")


def test_a_start_end_is_carried_as_a_far_end_is(tmp_path: Path) -> None:
    forward = solved(tmp_path, HEAD + RAIL)
    head, rows = RAIL.split("points = [\n")
    turned = "".join(reversed(rows.removesuffix("]\n").splitlines(keepends=True)))
    back = solved(tmp_path, f"{HEAD}{head}points = [\n{turned}]\n")
    assert straights(back) == pytest.approx(straights(forward)[::-1], abs=1e-6)
    assert back.ends == ("F", "A")
    assert back.corners is not None
    assert forward.corners is not None
    assert back.corners == pytest.approx(forward.corners[::-1], abs=1e-6)
    assert back.certainty is not None
    assert forward.certainty is not None
    assert back.certainty.straights == pytest.approx(forward.certainty.straights[::-1], rel=1e-6)
    assert back.certainty.corners == pytest.approx(forward.certainty.corners[::-1], abs=1e-6)
    assert back.making is not None
    assert back.making.trims == pytest.approx((whole(TRIM + 3 - CUT_BACK), whole(TRIM)), abs=1e-6)


@pytest.mark.parametrize("off", [0.0, 30.0])
def test_a_foot_runs_to_the_plate_and_is_sawn_to_its_long_point(tmp_path: Path, off: float) -> None:
    """The leg comes down plumb, 300 mm forward; the plate rises forward by ``off`` degrees through the origin."""
    slope = math.tan(math.radians(off))
    text = HEAD.replace("plate = [ [0, 0, 10] ]", "plate = [ [0, 0, 0] ]").replace('"up"', f"[{-slope}, 0, 1]")
    foot = RAIL.replace(
        "at = [300, 500, 50] },\n", 'on = "deck" },\n  { name = "p", what = "centre", at = [300, 500, 250] },\n'
    )
    tube = solved(tmp_path, text + foot)
    assert straights(tube)[0] == pytest.approx(600 - CLR - 300 * slope, abs=1e-6)
    assert met_at(tube, "A").longest == pytest.approx(OUTER * slope, abs=1e-4)
    assert tube.making is not None
    assert 0 <= tube.making.trims[0] - (TRIM + OUTER * slope) + 1e-6 < 1


@pytest.mark.parametrize("high", [900.0, 750 + 150 / math.sqrt(2)])
def test_a_rail_runs_to_the_bent_hoop_whichever_stands_first_in_the_file(tmp_path: Path, high: float) -> None:
    """To the middle of its top, or of its bend, square to the hoop's plane: its centreline lies there."""
    left = 500.0 if high == 900 else 650 + 150 / math.sqrt(2)
    rail = ON_HOOP.replace("500, 900]", f"{left}, {high}]")
    first, last = (result_of(tmp_path, HEAD + text) for text in (rail + HOOP, HOOP + rail))
    assert [tube.name for tube in first.tubes] == ["rail", "hoop"]
    assert [tube.name for tube in last.tubes] == ["hoop", "rail"]
    for tube in (first.tubes[0], last.tubes[1]):
        assert straights(tube) == pytest.approx([900], abs=1e-6)
        assert met_at(tube, "F").place == pytest.approx([1000, left, high], abs=1e-5)


def test_a_neighbour_that_moves_moves_the_joint(tmp_path: Path) -> None:
    """A post, and a tube of the job, with its doubt."""
    still = solved(tmp_path, HEAD + RAIL)
    moved = solved(
        tmp_path, HEAD.replace("[1000, 500, 0], [1000, 500, 1500]", "[1012, 500, 0], [1012, 500, 1500]") + RAIL
    )
    assert straights(moved) == pytest.approx([straights(still)[0], straights(still)[1] + 12], abs=1e-6)
    on_hoop = solved(tmp_path, HEAD + HOOP.replace("[1000, ", "[1007, ") + ON_HOOP)
    assert straights(on_hoop) == pytest.approx([907], abs=1e-6)
    (cut,) = on_hoop.cuts
    # a tube of one size with the hoop: the tips reach its centreline
    assert outline(cut.leg, cut.neighbours, np.linspace(0, 2 * np.pi, 721)).max() == pytest.approx(907, abs=1e-3)


def test_how_well_a_carried_straight_is_known_is_what_small_errors_do_to_it(tmp_path: Path) -> None:
    """Each figure typed is moved by a little, and the tube solved anew: the squares add up to the ± told. The rail is
    skew to a leaning post, and its start end stands on a tilted plate."""
    head = HEAD.replace("[1000, 500, 1500] ]", "[1100, 560, 1500] ]\ngood_to = 0.001").replace('"up"', "[0.2, 0.1, 1]")
    head = head.replace("plate = [ [0, 0, 10] ]", "plate = [ [0, 0, 10] ]\ngood_to = 0.001")
    places = [(300.0, 500.0, 250.0), (300.0, 500.0, 600.0), (700.0, 520.0, 640.0)]

    def rail(places: list[tuple[float, ...]]) -> TubeResult:
        p, b, c = (f"[{x}, {y}, {z}]" for x, y, z in places)
        rows = f"""
[[tube]]
name = "rail"
bends = 1
points = [
  {{ name = "A", what = "end", on = "deck" }},
  {{ name = "p", what = "centre", leg = 1, at = {p} }},
  {{ name = "B", what = "corner", at = {b} }},
  {{ name = "c", what = "centre", leg = 2, at = {c} }},
  {{ name = "F", what = "end", on = "post" }},
]
"""
        return solved(tmp_path, head + rows)

    tube = rail(places)
    squares, step = np.zeros(2), 0.05
    ends = np.zeros((2, 3))
    for k in range(3):
        for axis in range(3):
            nudged = [list(place) for place in places]
            nudged[k][axis] += step
            other = rail([tuple(place) for place in nudged])
            squares += ((np.array(straights(other)) - straights(tube)) / step) ** 2
            assert other.corners is not None
            assert tube.corners is not None
            ends += ((other.corners - tube.corners)[[0, -1]] / step) ** 2
    assert tube.certainty is not None
    assert tube.certainty.straights == pytest.approx(np.sqrt(squares), rel=5e-3)
    assert tube.certainty.corners[[0, -1]] == pytest.approx(np.sqrt(ends), rel=2e-2, abs=2e-2)
    assert tube.certainty.every_number_known


def test_where_the_neighbour_stands_is_part_of_the_doubt(tmp_path: Path) -> None:
    sure, rough = (
        solved(tmp_path, HEAD.replace("od = 48", f"od = 48\ngood_to = {good}") + RAIL) for good in (0.001, 6)
    )
    assert sure.certainty is not None
    assert rough.certainty is not None
    more = rough.certainty.straights[-1] ** 2 - sure.certainty.straights[-1] ** 2
    assert more == pytest.approx(3.0**2, rel=1e-3)
    assert rough.certainty.straights[0] == pytest.approx(sure.certainty.straights[0])


def test_an_end_that_was_measured_elsewhere_is_told(tmp_path: Path) -> None:
    near = solved(tmp_path, HEAD + RAIL.replace('on = "post"', 'at = [998, 500, 600], on = "post"'))
    short = solved(tmp_path, HEAD + RAIL.replace('on = "post"', 'at = [988, 500, 600], on = "post"'))
    beyond = solved(tmp_path, HEAD + RAIL.replace('on = "post"', 'at = [1012, 500, 600], on = "post"'))
    assert met_at(near, "F").off == pytest.approx(2, abs=1e-6)
    assert [said(tube, "end-off") for tube in (near, short, beyond)] == [
        [],
        [
            "The F end was measured 12 mm short of where it meets post, and the two are good to 2.83 mm. The tube runs "
            "to post. Check F, and where post lies."
        ],
        [
            "The F end was measured 12 mm beyond where it meets post, and the two are good to 2.83 mm. The tube runs "
            "to post. Check F, and where post lies."
        ],
    ]
    assert all(straights(tube)[-1] == pytest.approx(550, abs=1e-6) for tube in (near, short, beyond))


def test_a_tube_on_one_that_was_refused_is_refused_for_its_reason(tmp_path: Path) -> None:
    result = result_of(tmp_path, HEAD.replace("max_wrap = 180", "max_wrap = 60") + HOOP + ON_HOOP)
    hoop, rail = result.tubes
    assert not hoop.solved
    (reason, *_) = said(hoop, "angle-beyond-die")
    assert said(rail, "other-tube-not-found") == [
        f"The F end is on hoop, which was not found. Of hoop is said: {reason} Ways out: mend hoop first, or take out "
        '"on" and say with "at" where the F end stops.'
    ]
    assert not rail.solved
    assert cuts_of(read_job(tmp_path / "job.toml"), result) == ()


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        (
            "[1000, 500, 1500] ]",
            "[1000, 500, 300] ]",
            'The tube runs past "post", 256 mm (10.079 in) clear of it. Check the places.',
        ),
        (
            "[1000, 500, 0], [1000, 500, 1500]",
            "[700, 560, 600], [1900, 340, 600]",
            'The joint on "post" is only 10.4 degrees between the axes: under 15 no saw or notcher makes the cut. Meet '
            "it at a larger angle.",
        ),
        (
            "od = 48",
            "od = 30",
            'The tube is 40 mm (1.575 in) OD and "post" is only 30 mm (1.181 in): a saddle cannot be cut. Let this '
            "tube run through and cut the other, or use a plate between them.",
        ),
    ],
)
def test_an_end_that_cannot_be_cut_is_refused_with_the_reason(tmp_path: Path, old: str, new: str, why: str) -> None:
    assert HEAD.count(old) == 1
    tube = solved(tmp_path, HEAD.replace(old, new) + RAIL)
    assert said(tube, "end-not-cut") == [f"The F end cannot be cut to meet post. {why}"]
    assert not tube.solved
    assert (tube.cuts, tube.met, tube.making, tube.legible) == ((), (), None, None)
    assert tube.program is not None


def test_centrelines_that_cannot_be_told_from_crossing_are_cut_as_if_they_did(tmp_path: Path) -> None:
    """Of one size, where the least offset leaves part of the tube without anything to meet."""
    text = HEAD.replace("od = 48", "od = 40")
    near, far = (text.replace("[1000, 500, ", f"[1000, {500 + by}, ") + RAIL for by in (2, 9))
    result = result_of(tmp_path, near)
    met = met_at(result.tubes[0], "F")
    assert (met.aside, met.centred) == (pytest.approx(2, abs=1e-6), True)
    (cut,) = cuts_of(read_job(tmp_path / "job.toml"), result)
    assert (cut.tube, cut.end, cut.far, cut.allowance) == ("rail", "F", True, 3.0)
    sides = outline(cut.leg, cut.neighbours, np.radians([0.0, 90.0, 180.0, 270.0]))
    assert sides[[0, 2]] == pytest.approx(sides[[2, 0]], abs=1e-9)
    assert sides[[1, 3]] == pytest.approx(sides[[3, 1]], abs=1e-9)
    refused = solved(tmp_path, far)
    assert said(refused, "end-not-cut") == [
        'The F end cannot be cut to meet post. One side of the tube stands 9 mm (0.354 in) past the side of "post" and '
        "meets nothing there. Bring the centrelines nearer together, move the joint away from the end, or use a "
        "smaller tube."
    ]
    meant = solved(tmp_path, far.replace("od = 40\n[[n", "od = 80\n[[n"))
    assert met_at(meant, "F").centred is False
    assert said(meant, "end-aside") == [
        "At the F end the centreline passes that of post by 9 mm, known within 4.3 mm: the cut is made for that. If it "
        "is not meant, check the places beside it."
    ]


def test_saw_cuts_go_through_the_end_and_leave_the_side_told_short(tmp_path: Path) -> None:
    mitred = 'at = [1000, 500, 600], mitre = 30, short_side = "top", allowance = 2'
    result = result_of(tmp_path, HEAD + RAIL.replace('on = "post", allowance = 3', mitred))
    (tube,), (cut,) = result.tubes, cuts_of(read_job(tmp_path / "job.toml"), result)
    reach = OUTER * math.tan(math.radians(30))
    top, bottom = (cut.leg.round_of(np.array([0.0, 0.0, up])) for up in (1.0, -1.0))
    assert outline(cut.leg, cut.neighbours, np.array([top, bottom])) == pytest.approx([550 - reach, 550 + reach])
    assert straights(tube)[-1] == pytest.approx(550, abs=1e-6)
    assert tube.making is not None
    assert 0 <= tube.making.trims[1] - (TRIM + 2 + reach) + 1e-6 < 1
    square = solved(tmp_path, HEAD + RAIL.replace('on = "post", allowance = 3', "at = [1000, 500, 600], square = true"))
    assert met_at(square, "F").longest == pytest.approx(0, abs=1e-9)
    along = solved(tmp_path, HEAD + RAIL.replace('on = "post", allowance = 3', mitred.replace("top", "front")))
    assert said(along, "end-not-cut") == [
        "The F end cannot be cut. The short side of its mitre lies 0 degrees from the tube's own direction there: that "
        "is no side of it. Name one that lies square to the tube."
    ]


def test_of_several_the_first_stops_the_centreline_and_one_without_part_is_told(tmp_path: Path) -> None:
    text = HEAD + RAIL.replace('on = "post"', 'on = ["post", "deck"]')
    tube = solved(tmp_path, text)
    assert straights(tube)[-1] == pytest.approx(550, abs=1e-6)
    assert [neighbour.name for neighbour in tube.cuts[0].neighbours] == ["post"]
    assert said(tube, "end-not-touching") == [
        "The F end is said to be on deck as well, but its cut does not touch it. Check where deck lies, or take it out."
    ]


@pytest.mark.parametrize("begins", ["start", "far", "middle"])
@pytest.mark.parametrize("measured", ["end", "last bend"])
@pytest.mark.parametrize("on", ["deck", "post", "both"])
def test_pen_marks_are_those_of_the_steps_whichever_end_is_carried(
    tmp_path: Path, begins: Begins, measured: MeasuredFrom, on: str
) -> None:
    """The ends were measured 40 short and 30 beyond, so that marks from a hooked end move with what is carried there;
    marks from the last bend move with their own straight alone."""
    rail = f"""
[[tube]]
name = "rail"
bends = 2
points = [
  {{ name = "A", what = "end", at = [300, 300, 50]{', on = "deck"' * (on != "post")} }},
  {{ name = "B", what = "corner", at = [300, 300, 600] }},
  {{ name = "C", what = "corner", at = [600, 500, 600] }},
  {{ name = "c", what = "centre", at = [900, 500, 600] }},
  {{ name = "F", what = "end", at = [1030, 500, 600]{', on = "post"' * (on != "deck")} }},
]
"""
    (tmp_path / "job.toml").write_text(HEAD.replace("clr =", "reference_offset = 12\nclr =") + rail, encoding="utf-8")
    (tube,) = solve(read_job(tmp_path / "job.toml"), habit=Habit(begins=begins, measured=measured)).tubes
    assert tube.legible is not None
    assert tube.legible.marks is not None
    assert tube.legible.far_end is not None
    assert tube.making is not None
    trims = set()
    for step in tube.making.steps:
        mark = step.marks[0]
        beyond = mark.at - tube.legible.marks[step.bend - 1]
        if mark.end is None:
            assert beyond == pytest.approx(0, abs=1e-6)
        else:
            trims.add(round(beyond, 6))
    (trim,) = trims
    assert trim == round(trim)
    assert trim == pytest.approx(tube.making.trims[tube.making.hooked == "F"], abs=1)
    straight, made = tube.legible.program.straights, tube.legible.program.developed_length(CLR)
    last = straight[0 if begins == "far" else -1] if measured == "last bend" else made
    assert tube.legible.far_end == pytest.approx(last, abs=0.5)  # half a step: the marks are on the tape, not this


@pytest.mark.parametrize("up", [500, 570, 750])
@pytest.mark.parametrize("measured", [True, False])
def test_a_rung_across_one_hoop_ends_on_both_of_its_legs(tmp_path: Path, up: float, *, measured: bool) -> None:
    """Both ends are on one tube, and the one that is not looked at lies within it."""
    at = ("at = [1000, 800, 500], ", f"at = [1000, 200, {up}], ") if measured else ("", "")
    third = [(2 * 500 + up) / 3, (500 + 2 * up) / 3]
    rung = f"""
[[tube]]
name = "rung"
bends = 0
points = [
  {{ name = "A", what = "end", {at[0]}on = "hoop" }},
  {{ name = "b", what = "centre", at = [1000, 600, {third[0]}] }},
  {{ name = "c", what = "centre", at = [1000, 400, {third[1]}] }},
  {{ name = "F", what = "end", {at[1]}on = "hoop" }},
]
"""
    tube = solved(tmp_path, HEAD + HOOP + rung, "rung")
    assert tube.solved
    assert straights(tube) == pytest.approx([math.hypot(600, up - 500)], abs=1e-6)
    for cut, report in zip(tube.cuts, tube.end_reports, strict=True):
        slant = math.atan2(up - 500, 600)
        assert report.settings[0].off_square == pytest.approx(slant, abs=1e-6)
        short = min(place.at.tangent for place in report.places)
        # the throat on the tight side of a cope on a tube of the same size
        assert math.hypot(600, up - 500) - short == pytest.approx(OUTER * (1 + math.sin(slant)) / math.cos(slant))
        assert len(cut.neighbours) == 1


def test_a_foot_on_two_plates_of_one_height_is_cut_to_both(tmp_path: Path) -> None:
    plates = '[[neighbour]]\nname = "step"\nplate = [ [1020, 500, 10] ]\nfaces = "up"\n'
    post = """
[[tube]]
name = "rail"
bends = 0
points = [
  { name = "A", what = "end", at = [1000, 500, 900], square = true },
  { name = "F", what = "end", at = [1000, 620, 10], on = ["deck", "step"] },
]
"""
    tube = solved(tmp_path, HEAD + plates + post)
    assert [one.name for one in tube.end_reports[1].settings] == ["deck", "step"]
    assert not said(tube, "end-not-touching")


def test_an_end_that_turns_out_never_to_be_cut_refuses_its_own_tube_alone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The cut is looked at ever closer, and what passes by a hair may show at the last."""

    def never(*_: object, **__: object) -> None:
        raise Refused("One side passes")

    monkeypatch.setattr("plumbend.end_reports.end_report", never)
    free = RAIL.replace('"rail"', '"grip"').replace('on = "post", allowance = 3', "at = [1000, 500, 600]")
    result = result_of(tmp_path, HEAD + RAIL + free)
    first, second = result.tubes
    assert said(first, "end-not-cut") == ["The F end cannot be cut to meet post. One side passes."]
    assert (first.solved, first.legible, first.making, first.cuts, first.met) == (False, None, None, (), ())
    assert second.solved


def test_the_cut_is_that_of_the_tube_as_it_will_be_made(tmp_path: Path) -> None:
    """A bend of 83.4 degrees is set to 83: the leg that is cut turns so much, and its end straight is no whole mm."""
    tilted = RAIL.replace("[700, 500, 600]", "[700, 500, 646.3]")
    tube = solved(tmp_path, HEAD + tilted)
    assert tube.legible is not None
    assert tube.made is not None
    step = TAPE_STEP["mm"]
    (bend,) = np.degrees(tube.legible.program.angles)
    assert bend == pytest.approx(round(bend))
    made, to_set = float(tube.made.straights[-1]), float(tube.legible.program.straights[-1])
    assert to_set == pytest.approx(step * round(made / step))
    (cut,) = tube.cuts
    assert math.degrees(math.acos(cut.leg.along @ unit(tube.made.frames[0, :, 0]))) == pytest.approx(bend)
    assert tube.made.far_end[:2] == pytest.approx([1000, 500], abs=1e-6)
    assert tube.making is not None
    assert tube.making.stock == pytest.approx(tube.made.program.developed_length(CLR) + sum(tube.making.trims))


def test_a_post_that_readings_place_takes_the_rail_along(tmp_path: Path) -> None:
    text = (SAMPLES / "trailer-rail.toml").read_text(encoding="utf-8")
    (tmp_path / "shop.toml").write_text((SAMPLES / "shop.toml").read_text(encoding="utf-8"), encoding="utf-8")
    still = solved(tmp_path, text, "hand rail")
    readings = {
        "W1 drop 300": "W1 drop 290",
        "B1 539": "B1 533.3",
        "W2 drop 302": "W2 drop 292",
        "1209": "1206.4",
        "2061": "2067",
    }
    for old, new in readings.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    moved = solved(tmp_path, text, "hand rail")
    assert straights(moved)[0] - straights(still)[0] == pytest.approx(10, abs=1)
    assert straights(moved)[1:] == pytest.approx(straights(still)[1:], abs=1e-6)


@pytest.mark.parametrize(
    ("readings", "neighbour", "why"),
    [
        (
            "U2 drop 1000, L 500",
            'tube = ["U1", "U2"]\nod = 48',
            "the readings do not fix where U2 is. Ways out: measure U2 once more",
        ),
        (
            "U2 drop 1000, L 500\nU2 height 20",
            'tube = ["U1", "U2"]\nod = 48',
            '"post" is given by two places 20 mm (0.787 in) apart, nearer than its OD of 48 mm (1.89 in). Ways out: '
            "check its places",
        ),
        (
            "U2 drop 1000, L 600\nU2 height 0\nU3 drop 1000, L 800\nU3 height 0",
            'plate = ["U1", "U2", "U3"]',
            "its three places lie on one line, or nearly. Ways out: check its places",
        ),
    ],
)
def test_a_neighbour_that_its_readings_do_not_place(tmp_path: Path, readings: str, neighbour: str, why: str) -> None:
    head = end_jobs.HEAD.replace(
        'units = "mm"', f'units = "mm"\nreadings = """\nU1 drop 1000, L 500\nU1 height 0\n{readings}\n"""'
    )
    tube = solved(tmp_path, f'{head}[[neighbour]]\nname = "post"\n{neighbour}\n{RAIL}')
    assert not tube.solved
    (text,) = said(tube, "neighbour-not-placed-F")
    assert text == (f'The F end is on post, and {why}, or take out "on" and say with "at" where the F end stops.')


def test_a_saw_that_runs_straight_on_where_the_hoop_bends_is_told(tmp_path: Path) -> None:
    clr, head = 80.0, HEAD.replace("clr = 150", "clr = 80")
    left, up = 800 - clr * (1 - math.sqrt(0.5)), 900 - clr * (1 - math.sqrt(0.5))  # the middle of the hoop's first bend
    rail = ON_HOOP.replace("500, 900]", f"{left}, {up}]")
    tube = solved(tmp_path, head + HOOP + rail)
    (report,) = [report for report in tube.end_reports if report.meets]
    # a saw as wide as the hoop leaves the rise of the bend over the width of the rail, or a little more
    assert report.saw_gap == pytest.approx(clr - math.sqrt(clr**2 - OUTER**2), rel=0.3)
    assert said(tube, "end-saw-gap-F") == [
        "At the F end a straight pass of a hole saw leaves gaps of 2.05 mm, as hoop is bent there or stands aside. "
        "Dress the cut by hand, or cut it to a template."
    ]


def test_how_long_a_carried_straight_is_has_no_share_in_what_was_measured(tmp_path: Path) -> None:
    """The neighbour has its part in it too, so the shares of the tube's own points would not add up."""
    (tmp_path / "job.toml").write_text(HEAD + RAIL, encoding="utf-8")
    (tube,) = solve(read_job(tmp_path / "job.toml"), why=Why()).tubes
    assert tube.why is not None
    drivers = tube.why.drivers
    assert drivers is not None
    assert np.isnan(drivers.straights[1]).all()
    assert np.isnan(drivers.developed_length).all()
    assert drivers.straights[0].sum() == pytest.approx(1.0)
    assert drivers.angles[0].sum() == pytest.approx(1.0)


def test_an_end_that_meets_something_is_not_asked_to_be_measured(tmp_path: Path) -> None:
    """The rail's front bracket is measured as a place of its last straight, and its end is on a post there or open."""
    (tmp_path / "shop.toml").write_text((SAMPLES / "shop.toml").read_text(encoding="utf-8"), encoding="utf-8")
    text = (SAMPLES / "stretcher-rail.toml").read_text(encoding="utf-8").replace("\nF ", "\nd2 ")
    last = '{ name = "F", what = "end", note = "front bracket" }'
    place = '{ name = "d2", what = "centre", leg = 4 },'
    post = '\n[[neighbour]]\nname = "post"\ntube = [ [52, 16, 10], [52, 16, 60] ]\nod = "1-3/4"\n'
    asked = []
    for rows, more in ((f'{place} {{ name = "F", what = "end", on = "post" }}', post), (place.rstrip(","), "")):
        file = tmp_path / "job.toml"
        file.write_text(text.replace(last, rows) + more, encoding="utf-8")
        read = read_job(file)
        assert read.frame is not None
        notices = measure_next(read, survey(read, read.frame, "in"), "in")
        asked.append([notice.text for notice in notices if "end" in notice.text])
    assert asked[0] == []
    assert asked[1]


@pytest.mark.parametrize("name", ["stretcher-frame", "trailer-rail"])
def test_the_samples_solve_and_every_end_is_cut(name: str) -> None:
    job = read_job(SAMPLES / f"{name}.toml")
    result = solve(job)
    assert result.exit_status == 0
    wanted = [(tube.name, meeting.end) for tube in job.tubes for meeting in tube.meetings]
    assert [(cut.tube, cut.end) for cut in cuts_of(job, result)] == wanted
    assert len(wanted) >= 8
    told = [met["end"] for tube in result_to_json(result)["tubes"] for met in tube["met"]]
    assert told == [end for _, end in wanted]
    assert not [notice for tube in result.tubes for notice in tube.notices if notice.code.startswith("not-fixed")]


def test_a_job_without_such_ends_loads_nothing_of_it() -> None:
    program = (
        "import sys; from plumbend.job.reader import read_job; from plumbend.solving import solve\n"
        f"solve(read_job({str(SAMPLES / 'stretcher-rail-points.toml')!r}))\n"
        "new = {'neighbourhood', 'joining', 'cut_ends', 'cutting', 'job.meetings', 'job.end_cuts', 'job.neighbours', "
        "'job.around'}\n"
        "print([name for name in sys.modules if name.removeprefix('plumbend.') in new or '.ends' in name])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"


def test_a_tube_whose_end_cannot_be_cut_is_not_said_to_be_lost(tmp_path: Path) -> None:
    thin = HEAD.replace("od = 48", "od = 30")
    on_rail = """
[[tube]]
name = "stay"
bends = 0
points = [
  { name = "A", what = "end", at = [500, 900, 600] },
  { name = "m", what = "centre", at = [500, 700, 600] },
  { name = "F", what = "end", on = "rail" },
]
"""
    rail, stay = result_of(tmp_path, thin + RAIL + on_rail).tubes
    assert rail.only_ends_refused
    assert not stay.only_ends_refused
    (refused,) = [notice.text for notice in stay.notices if notice.level == "refusal"]
    assert refused.startswith(
        "The F end is on rail, of which an end cannot be cut. Of rail is said: The F end cannot be cut"
    )


GRAZED = """
[[neighbour]]
name = "floor"
plate = [ [1000, 500, {up}] ]
faces = [0.05, 0, 1]
"""
SLOPING = """
[[tube]]
name = "strut"
bends = 0
points = [
  { name = "A", what = "end", at = [300, 500, 700] },
  { name = "b", what = "centre", at = [600, 500, 655] },
  { name = "F", what = "end", on = ["post", "floor"] },
]
"""


def test_a_second_thing_that_is_met_too_flat_is_a_refusal_of_that_end_alone(tmp_path: Path) -> None:
    flat = HEAD + GRAZED.format(up=580) + SLOPING + RAIL
    strut, rail = result_of(tmp_path, flat).tubes
    assert said(strut, "end-not-cut") == [
        'The F end cannot be cut to meet post and floor. The joint on "floor" is only 5.7 degrees between the axis and '
        "the plate: under 15 no saw or notcher makes the cut. Meet it at a larger angle."
    ]
    assert rail.solved


def test_what_has_no_part_in_a_cut_does_not_keep_its_template_from_being_drawn(tmp_path: Path) -> None:
    (strut,) = result_of(tmp_path, HEAD + GRAZED.format(up=540) + SLOPING).tubes
    assert said(strut, "end-not-touching") != []
    (cut,) = strut.cuts
    assert [neighbour.name for neighbour in cut.neighbours] == ["post"]
    assert len(template(cut).joints) == 1
