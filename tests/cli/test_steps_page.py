"""The steps as they are printed: a man who reads the page makes the part, as near as its figures are rounded."""

from __future__ import annotations

import io
import math
import re
from pathlib import Path
from typing import Any, get_args

import numpy as np
import pytest

from plumbend.job.model import Job
from plumbend.job.reader import read_job
from plumbend.making.habit import Habit
from plumbend.shop import Begins, Marks, MeasuredFrom
from plumbend.solving import solve
from plumbend_cli.page import Table, show
from plumbend_cli.solve_page import solve_page
from support.bending_man import BENDERS, Man

JOB = """
units = "mm"
[tubing]
od = 40
[bender]
plane = "level"
swings = "right"
[[die]]
clr = 150
grip = 90
tail = 200
reference_offset = 12
[[tube]]
name = "rail"
program = [
  { straight = 300, bend = 40 },
  { straight = 350, turn = 70, bend = 60 },
  { straight = 280, turn = -110, bend = 35 },
  { straight = 400 },
]
"""


@pytest.fixture
def job(tmp_path: Path) -> Job:
    file = tmp_path / "rail.toml"
    file.write_text(JOB, encoding="utf-8")
    return read_job(str(file))


def page_of(job: Job, habit: Habit) -> str:
    out = io.StringIO()
    show(solve_page(job, solve(job, habit=habit), "mm"), out)
    return out.getvalue()


ROW = re.compile(r"^ +(\d) +([\d.]+)  (\w+) end +(?:none|([\d.]+) ((?:counter-)?clockwise)) +([\d.]+)$", re.MULTILINE)


@pytest.mark.parametrize(("begins", "front", "tail"), [("start", "start", "far"), ("far", "far", "start")])
def test_the_page_alone_makes_the_part(job: Job, begins: Begins, front: str, tail: str) -> None:
    page = page_of(job, Habit(begins=begins))
    words = " ".join(page.split())
    saw = re.search(r"Saw the tube to ([\d.]+) mm", words)
    trims = re.search(r"Trim ([\d.]+) mm off the start end and ([\d.]+) mm off the far end", words)
    assert saw is not None
    assert trims is not None
    assert f"the {front} end through the die; you stand at the {tail} end, the tail." in words
    assert "At bend" in words
    man = Man(float(saw[1]), ("start", "far"), BENDERS["level", "right"][0])
    rows = ROW.findall(page)
    assert len(rows) == 3
    zero: int | None = None
    for bend, at, hooked, degrees, way, finished in rows:
        step: dict[str, Any] = {"bend": int(bend), "front": front, "tail": tail, "zero": zero}
        man.place_part(step)
        if degrees:
            man.turn_tube(float(degrees), way)
        man.feed({"at": float(at), "from": hooked, "behind_reference": 0.0}, step, 12.0)
        angle = math.radians(float(finished))
        man.bend(angle, 150.0, 150.0 * angle, step)
        zero = int(bend)
    corners = man.corners((float(trims[1]), float(trims[2])))
    wanted = solve(job).tubes[0].corners
    assert wanted is not None
    a, b = corners - corners[0], wanted - wanted[0]
    assert np.abs(np.linalg.norm(a, axis=1) - np.linalg.norm(b, axis=1)).max() < 2.0
    volume = [np.linalg.det(np.diff(places, axis=0)[:3]) for places in (corners, wanted)]
    assert volume[0] == pytest.approx(volume[1], rel=0.02)


def test_no_direction_stands_without_its_viewpoint(job: Job) -> None:
    words = " ".join(page_of(job, Habit("middle", "last bend", "middle")).split())
    assert "left and right are as seen from the tail, looking to the die" in words
    assert "turn the tube end for end, so that the far end goes through the die" in words
    assert "MIDDLE of its bend" in words
    assert re.search(r"\bfrom\b.*\bbend\b.*\bend of 2\b", words)


def test_without_plane_and_swing_no_leg_points_anywhere(tmp_path: Path) -> None:
    file = tmp_path / "bare.toml"
    file.write_text(JOB.replace('plane = "level"\nswings = "right"\n', 'drive = "manual"\n'), encoding="utf-8")
    page = page_of(read_job(str(file)), Habit())
    assert "Level readings need the bender's plane and swings" in " ".join(page.split())
    assert not re.search(r"points (up|down)|past plumb|level reads", page)


def test_the_sample_of_a_calibrated_shop_has_marks_stops_and_levels() -> None:
    job = read_job(str(Path(__file__).parents[2] / "samples" / "stretcher-rail-marks.toml"))
    out = io.StringIO()
    show(solve_page(job, solve(job, habit=Habit("middle", "last bend", "middle", 25.4)), "in"), out)
    page = out.getvalue()
    for told in (
        "Saw the tube to",
        "stop at",
        "level reads",
        "MIDDLE of its bend",
        "behind",
        "a level bender that swings",
    ):
        assert told in " ".join(page.split())
    # whole sixteenths: no mark is rounded a second time on the page
    made = solve(job, habit=Habit("middle", "last bend", "middle", 25.4)).tubes[0].making
    assert made is not None
    lengths = [length for step in made.steps for mark in step.marks for length in (mark.at, mark.behind)]
    assert lengths == pytest.approx([1.5875 * round(length / 1.5875) for length in lengths], abs=1e-9)


@pytest.mark.parametrize("marks", get_args(Marks))
@pytest.mark.parametrize("measured", get_args(MeasuredFrom))
def test_every_row_of_the_steps_stays_on_one_line_of_80_columns(marks: Marks, measured: MeasuredFrom) -> None:
    job = read_job(str(Path(__file__).parents[2] / "samples" / "stretcher-rail-marks.toml"))
    blocks = list(solve_page(job, solve(job, habit=Habit("middle", marks, measured, 25.4)), "in"))
    tables = [block for block in blocks if isinstance(block, Table) and block.columns[0].head == "bend"]
    assert len(tables) == 3  # steps, turns, levels
    for table in tables:
        out = io.StringIO()
        show([table], out)
        assert len(out.getvalue().splitlines()) == 2 + len(table.rows)
