"""Good jobs and shops: what is read, settled and assumed."""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import pytest

from plumbend.errors import BadFile
from plumbend.job.model import Job, WantedTube
from plumbend.job.reader import read_job, read_shop
from plumbend.measuring.accuracies import TYPED_POINT, good_to_from_sd, sd_from_good_to
from plumbend.shop import Die
from plumbend.tubing import Tubing

SAMPLES = Path(__file__).parents[2] / "samples"

TOP = """\
units = "mm"
[tubing]
od = 38.1
"""
DIES = """\
[[die]]
name = "small"
od = 38.1
clr = "5-1/2"
[[die]]
name = "big"
clr = "152.4 mm"
od = 38.1
[[die]]
clr = "6 in"
od = "42.4 mm"
bent_clr = 155
max_wrap = 100
grip = 0
"""
ENDS = """\
  { name = "A", what = "end", at = [0, 0, 0] },
  { name = "F", what = "end", at = [500, 0, 0] },
"""


def job_of(text: str, folder: Path) -> Job:
    path = folder / "job.toml"
    path.write_text(text, encoding="utf-8")
    return read_job(path)


def tube_of(lines: str, folder: Path, top: str = TOP + DIES) -> WantedTube:
    (tube,) = job_of(f'{top}[[tube]]\nname = "rail"\n{lines}', folder).tubes
    return tube


def test_good_to_is_two_standard_deviations() -> None:
    assert sd_from_good_to(5.0) == 2.5 == TYPED_POINT
    assert good_to_from_sd(TYPED_POINT) == 5.0


def test_stretcher_rail() -> None:
    job = read_job(SAMPLES / "stretcher-rail-points.toml")
    assert (job.title, job.units, job.assumed) == ("Stretcher rail, left, by probe arm", "in", ())
    assert job.tubing == Tubing(1.5 * 25.4, 0.095 * 25.4, "mild steel")
    (rail,) = job.tubes
    assert (rail.name, rail.die.name, rail.bends, rail.program) == ("left rail", "5-1/2", 3, None)
    assert (rail.die.clr, rail.die.od, rail.die.max_wrap) == (139.7, 1.5 * 25.4, math.radians(120))
    assert rail.die.grip == pytest.approx(76.2)
    assert [point.what for point in rail.points].count("centre") == 8
    a, *_, e2, f = rail.points
    assert (a.name, a.what, f.name, f.what) == ("A", "end", "F", "end")
    np.testing.assert_allclose(a.at, np.array([0, 12.4375, 34.375]) * 25.4)
    np.testing.assert_allclose(a.cov, np.eye(3) * (25.4 / 16) ** 2)
    np.testing.assert_allclose(e2.cov, np.eye(3) * (25.4 / 8) ** 2)
    assert {point.leg for point in rail.points if point.what == "centre"} == {1, 2, 3, 4}


def test_stretcher_rail_placed_by_readings() -> None:
    job = read_job(SAMPLES / "stretcher-rail.toml")
    assert job.frame is not None
    assert [place.name for place in job.frame.places if place.base] == ["B1", "B2", "B3", "B4"]
    assert [reading.typed for reading in job.frame.readings][6:10] == [
        "A tape B1 36-9/16",
        "A tape B4 38-9/16",
        "A height 34-3/8",
        "A drop 0, L 12-1/2",
    ]
    assert len(job.frame.readings) == 38
    (rail,) = job.tubes
    assert (rail.points, rail.names) == ((), ["A", "a1", "b1", "b2", "c1", "c2", "d1", "F"])


def test_ladder_hoop_with_points_in_a_csv_and_a_program() -> None:
    job = read_job(SAMPLES / "ladder-hoop.toml")
    assert job.assumed == (
        "Typed points are taken as good to 5 mm, the usual for tape and plumb bob, since the job does not say.",
    )
    upper, lower = job.tubes
    assert [point.name for point in upper.points][:2] == ["left foot", "l1"]
    assert [point.bend for point in upper.points if point.what == "corner"] == [1, 2]
    np.testing.assert_array_equal(upper.points[-1].at, [-1211, -378, 1108])
    np.testing.assert_array_equal(upper.points[3].cov, np.eye(3) * 16.0)
    assert upper.die.radius == pytest.approx(152.0)
    assert lower.program is not None
    assert (lower.points, lower.bends) == ((), 2)
    np.testing.assert_allclose(lower.program.straights, [250, 310, 250])
    np.testing.assert_allclose(lower.program.angles, np.pi / 2)


def test_shop_of_the_samples() -> None:
    shop = read_shop(SAMPLES / "shop.toml")
    assert [(die.name, die.od) for die in shop.dies] == [
        ("5-1/2", pytest.approx(38.1)),
        ("150 metric", 42.4),
        ("110 grab", 33.7),
    ]


def test_title_is_the_file_name_where_none_is_given(tmp_path: Path) -> None:
    text = f'{TOP}[[die]]\nclr = 140\n[[tube]]\nname = "rail"\nbends = 0\npoints = [\n{ENDS}]\n'
    job = job_of(text, tmp_path)
    assert job.title == "job"
    assert job.tubes[0].die == Die("140", clr=140.0)


def test_assumed_accuracy_in_the_units_of_the_job(tmp_path: Path) -> None:
    text = TOP.replace('"mm"', '"in"').replace("38.1", "1.5") + '[[die]]\nclr = "6"\n'
    job = job_of(f'{text}[[tube]]\nname = "rail"\nbends = 0\npoints = [\n{ENDS}]\n', tmp_path)
    assert job.assumed == (
        "Typed points are taken as good to 3/16 in (5 mm), the usual for tape and plumb bob, "
        "since the job does not say.",
    )
    np.testing.assert_array_equal(job.tubes[0].points[0].cov, np.eye(3) * 6.25)


def test_good_to_by_axis_and_by_point(tmp_path: Path) -> None:
    top = TOP + "[good_to]\npoint = [2, 4, 6]\n" + DIES
    ends = ENDS.replace("[500, 0, 0] }", '[500, 0, 0], good_to = "8 mm" }')
    tube = tube_of(f'die = "small"\nbends = 0\npoints = [\n{ends}]\n', tmp_path, top)
    np.testing.assert_allclose(tube.points[0].cov, np.diag([1.0, 4.0, 9.0]))
    np.testing.assert_allclose(tube.points[1].cov, np.eye(3) * 16.0)


@pytest.mark.parametrize(
    ("choice", "name"),
    [
        ('die = "small"', "small"),
        ("die = 139.7", "small"),
        ('die = "5-1/2"', "small"),
        ("die = 152.4", "big"),
        ('die = "152.4"', "big"),
        ('die = "6 in"', "6 in"),
    ],
)
def test_die_by_name_or_by_radius(choice: str, name: str, tmp_path: Path) -> None:
    tube = tube_of(f"{choice}\nbends = 0\npoints = [\n{ENDS}]\n", tmp_path)
    assert tube.die.name == name


def test_die_left_out_is_the_only_one_that_takes_the_tube(tmp_path: Path) -> None:
    top = TOP.replace("38.1", "42.4") + DIES
    tube = tube_of(f"bends = 0\npoints = [\n{ENDS}]\n", tmp_path, top)
    assert (tube.die.name, tube.die.od, tube.die.bent_clr, tube.die.grip) == ("6 in", 42.4, 155.0, 0.0)
    assert tube.die.clr == pytest.approx(152.4)
    assert tube.die.max_wrap == math.radians(100)


def test_die_that_is_named_is_taken_though_it_does_not_fit(tmp_path: Path) -> None:
    tube = tube_of(f'die = "6 in"\nbends = 0\npoints = [\n{ENDS}]\n', tmp_path)
    assert tube.die.od == 42.4


@pytest.mark.parametrize(
    ("middle", "bends"),
    [
        ('{ name = "b", what = "corner", at = [1, 2, 3] },', 1),
        ('{ name = "b", what = "center", leg = 2, at = [1, 2, 3], note = "soft" },', None),
        (
            '{ name = "b", what = "corner", at = [1, 2, 3] },\n'
            '{ name = "b again", what = "corner", bend = 1, at = [1, 2, 3] },',
            1,
        ),
    ],
)
def test_bends_where_not_told(middle: str, bends: int | None, tmp_path: Path) -> None:
    points = ENDS.replace("},\n", f"}},\n{middle}\n", 1)
    tube = tube_of(f'die = "small"\npoints = [\n{points}]\n', tmp_path)
    assert tube.bends == bends
    assert tube.points[1].what in ("corner", "centre")


def test_program_may_turn_either_way_and_bend_back(tmp_path: Path) -> None:
    rows = '{ straight = "12 in", bend = 180 }, { straight = 0, turn = "25 ccw", bend = "31 1/2" }, { straight = 9 }'
    program = tube_of(f'die = "small"\nprogram = [ {rows} ]\n', tmp_path).program
    assert program is not None
    np.testing.assert_allclose(program.straights, [304.8, 0, 9])
    np.testing.assert_allclose(np.degrees(program.rotations), [0, -25])
    np.testing.assert_allclose(np.degrees(program.angles), [180, 31.5])


def test_program_of_a_straight_tube(tmp_path: Path) -> None:
    program = tube_of('die = "small"\nprogram = [ { straight = 900 } ]\n', tmp_path).program
    assert program is not None
    assert program.bends == 0


def test_byte_order_mark_and_line_ends_of_windows(tmp_path: Path) -> None:
    text = f'\ufeff{TOP}{DIES}[[tube]]\nname = "rail"\ndie = "small"\nbends = 0\npoints = [\n{ENDS}]\n'
    (tmp_path / "job.toml").write_bytes(text.replace("\n", "\r\n").encode())
    assert read_job(tmp_path / "job.toml").tubes[0].name == "rail"


def mutated(text: str, random_: random.Random) -> str:
    """The text with one to three letters or lines lost, doubled or swapped for others."""
    for _ in range(random_.randint(1, 3)):
        start = random_.randrange(len(text) + 1)
        end = start + random_.choice([0, 1, 1, 2, 8, 40])
        new = random_.choice(["", "", text[start:end] * 2, random_.choice("[]{}\"'=,.#-/ \n\\ x9\u00e4\0")])
        text = text[:start] + new + text[end:]
    return text


@pytest.mark.parametrize(
    ("name", "job_name"),
    [
        ("stretcher-rail.toml", "stretcher-rail.toml"),
        ("stretcher-rail-points.toml", "stretcher-rail-points.toml"),
        ("ladder-hoop.toml", "ladder-hoop.toml"),
        ("shop.toml", "ladder-hoop.toml"),
        ("ladder-hoop-points.csv", "ladder-hoop.toml"),
        ("grab-rail.toml", "grab-rail.toml"),
        ("grab-rail-scan.csv", "grab-rail.toml"),
        ("boarding-hoop.toml", "boarding-hoop.toml"),
    ],
)
def test_mutated_samples_are_read_or_refused_in_words(name: str, job_name: str, tmp_path: Path) -> None:
    for sample in SAMPLES.iterdir():
        (tmp_path / sample.name).write_bytes(sample.read_bytes())
    text = (SAMPLES / name).read_text(encoding="utf-8")
    job = tmp_path / job_name
    random_ = random.Random(name)
    faults: list[BadFile] = []
    for _ in range(150):
        (tmp_path / name).write_text(mutated(text, random_), encoding="utf-8", newline="")
        try:
            read_job(job)
        except BadFile as fault:
            faults.append(fault)
    assert len(faults) > 30
    assert all(fault.mistakes for fault in faults)
    assert all(mistake.what and mistake.mend for fault in faults for mistake in fault.mistakes)


def test_points_that_reach_farther_than_any_tube_ask_for_their_units(tmp_path: Path) -> None:
    """25 November 2026: millimetres typed into a job in inches gave a rail of 109 feet without a word."""
    text = (SAMPLES / "stretcher-rail-points.toml").read_text(encoding="utf-8")
    (tmp_path / "shop.toml").write_bytes((SAMPLES / "shop.toml").read_bytes())
    job = tmp_path / "job.toml"
    job.write_text(text.replace('at = ["51-15/16", "L 16", 34]', 'at = [1319, "L 16", 34]'), encoding="utf-8")
    with pytest.raises(BadFile) as fault:
        read_job(job)
    assert str(fault.value) == (
        f'{job}, line 20 (tube "left rail", points): the points reach over 1319 in, 34 m. Write units = "mm" if '
        "they are in mm, or its unit with each figure that has lost it."
    )
