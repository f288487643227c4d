"""Ends as they are cut: on one thing or several, of the tube as it will be made."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from plumbend.cutting import cuts_of
from plumbend.ends.outline import outline
from plumbend.frames import unit
from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.making.habit import Habit
from plumbend.making.setting import TAPE_STEP
from plumbend.shop import Begins, MeasuredFrom
from plumbend.solving import solve
from support.end_jobs import (
    CLR,
    HEAD,
    HOOP,
    OUTER,
    RAIL,
    TRIM,
    met_at,
    result_of,
    said,
    solved,
    straights,
    tube_table,
)

SAMPLES = Path(__file__).parents[2] / "samples"


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
        'The F end cannot be cut to meet post. One side of the tube stands 9 mm past the side of "post" and '
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
    rail = tube_table(
        "rail",
        2,
        "A end at = [300, 300, 50]" + ', on = "deck"' * (on != "post"),
        "B corner at = [300, 300, 600]",
        "C corner at = [600, 500, 600]",
        "c centre at = [900, 500, 600]",
        "F end at = [1030, 500, 600]" + ', on = "post"' * (on != "deck"),
    )
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
    rung = tube_table(
        "rung",
        0,
        f'A end {at[0]}on = "hoop"',
        f"b centre at = [1000, 600, {third[0]}]",
        f"c centre at = [1000, 400, {third[1]}]",
        f'F end {at[1]}on = "hoop"',
    )
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
    post = tube_table(
        "rail", 0, "A end at = [1000, 500, 900], square = true", 'F end at = [1000, 620, 10], on = ["deck", "step"]'
    )
    tube = solved(tmp_path, HEAD + plates + post)
    assert [one.name for one in tube.end_reports[1].settings] == ["deck", "step"]
    assert not said(tube, "end-not-touching")


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
