"""Ends that cannot be cut to what they are on, and what is said of them."""

from __future__ import annotations

from pathlib import Path

import pytest

from plumbend.cutting import cuts_of
from plumbend.ends.template import template
from plumbend.errors import Refused
from plumbend.job.reader import read_job
from plumbend.solving import solve
from support.end_jobs import (
    HEAD,
    HOOP,
    ON_HOOP,
    RAIL,
    result_of,
    said,
    solved,
    tube_table,
)


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
            'The tube runs past "post", 256 mm clear of it. Check the places.',
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
            'The tube is 40 mm OD and "post" is only 30 mm: a saddle cannot be cut. Let this '
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


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("[1000, 500, 1500] ]", "[1000, 500, 300] ]", 'The tube runs past "post", 10-3/32 in clear of it.'),
        ("[1000, 500, 1500] ]", "[1000, 500, 555.9] ]", 'The tube runs past "post", a hair clear of it.'),
        ("od = 48", "od = 30", 'The tube is 1-9/16 in OD and "post" is only 1-3/16 in: a saddle cannot be cut.'),
        (
            "od = 48",
            "od = 40.001",
            'One side of the tube stands 11/32 in past the side of "post" and meets nothing there.',
        ),
    ],
)
def test_why_an_end_cannot_be_cut_is_told_in_the_units_asked_for(tmp_path: Path, old: str, new: str, why: str) -> None:
    assert HEAD.count(old) == 1
    rail = RAIL.replace("500, ", "509, ") if new == "od = 40.001" else RAIL
    (tmp_path / "job.toml").write_text(HEAD.replace(old, new) + rail, encoding="utf-8")
    (tube,) = solve(read_job(tmp_path / "job.toml"), units="in").tubes
    (told,) = said(tube, "end-not-cut")
    assert told.startswith(f"The F end cannot be cut to meet post. {why} ")


def test_a_post_that_readings_place_too_short_is_told_in_the_units_asked_for(tmp_path: Path) -> None:
    placed = HEAD.replace("[1000, 500, 0], [1000, 500, 1500]", '"P1", "P2"')
    lines = ("P1 drop 1000, 500", "P1 height 300", "P2 drop 1000, 500", "P2 height 320")
    readings = "\n".join(('readings = """', *lines, '"""'))
    (tmp_path / "job.toml").write_text(readings + placed + RAIL, encoding="utf-8")
    (tube,) = solve(read_job(tmp_path / "job.toml"), units="in").tubes
    assert said(tube, "neighbour-not-placed") == [
        'The F end is on post, and "post" is given by two places 25/32 in apart, nearer than its OD of 1-7/8 in. Ways '
        'out: check its places, or take out "on" and say with "at" where the F end stops.'
    ]


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


def test_a_tube_whose_end_cannot_be_cut_is_not_said_to_be_lost(tmp_path: Path) -> None:
    thin = HEAD.replace("od = 48", "od = 30")
    on_rail = tube_table("stay", 0, "A end at = [500, 900, 600]", "m centre at = [500, 700, 600]", 'F end on = "rail"')
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
SLOPING = tube_table(
    "strut", 0, "A end at = [300, 500, 700]", "b centre at = [600, 500, 655]", 'F end on = ["post", "floor"]'
)


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
