"""What a shop file says of the bender and of how its dies behave."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from plumbend.errors import BadFile
from plumbend.job.reader import read_job, read_shop
from plumbend.job.result_json import result_to_json
from plumbend.job.results import TubeResult
from plumbend.making.habit import Habit, habit_of
from plumbend.shop import Bender, Notcher, Springback, Ways
from plumbend.solving import solve

SHOP = """
units = "in"

[bender]
drive = "manual"
plane = "level"
swings = "Left"
dial_step = 0.5
dial_slack = 1
tape_step = "1/16"

[habit]
begin = "far"
measure = "Last  bend"
trim = "1/2"

[[die]]
clr = 6
od = "1-3/4"
tail = 8
reference_offset = "-15/32"
springback = { degrees = 1, percent = 2.5 }
stock_per_degree = "2.627 mm"
"""
JOB = """
units = "mm"
shop = "shop.toml"
[tubing]
od = 44.45
[[tube]]
name = "hoop"
program = [ { straight = 300, bend = 90 }, { straight = 300 } ]
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "shop.toml").write_text(SHOP, encoding="utf-8")
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    return tmp_path


def test_bender_and_die_are_read_in_mm_and_radians(folder: Path) -> None:
    shop = read_shop(folder / "shop.toml")
    assert shop.bender == Bender("manual", "level", "left", math.radians(0.5), math.radians(1), 1.5875)
    (die,) = shop.dies
    assert die.tail == pytest.approx(203.2)
    assert die.reference_offset == pytest.approx(-11.90625)
    assert die.stock_per_radian == pytest.approx(2.627 * 180 / math.pi)
    assert die.springback == Springback(math.radians(1), 0.025)
    assert math.degrees(die.springback.opens(math.radians(90))) == pytest.approx(3.25)


def test_a_job_has_the_bender_of_its_shop(folder: Path) -> None:
    assert read_job(folder / "job.toml").bender == read_shop(folder / "shop.toml").bender


def test_two_benders_are_one_too_many(folder: Path) -> None:
    job = folder / "job.toml"
    job.write_text(JOB.replace("[tubing]", '[bender]\nplane = "upright"\n[tubing]'), encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        read_job(job)
    assert str(caught.value) == (
        f"{job}, line 4 (bender): the shop file and this file both say what the bender is. "
        "Leave [bender] to the shop file."
    )


def test_notcher_of_the_shop_and_of_the_job(folder: Path) -> None:
    shop, job = folder / "shop.toml", folder / "job.toml"
    own = '\n[notcher]\nmost_off_square = 50\nclamp = 4\ncup = "42 mm"\n'
    shop.write_text(shop.read_text(encoding="utf-8") + own, encoding="utf-8")
    assert read_shop(shop).notcher == Notcher(math.radians(50), pytest.approx(101.6), 42.0)
    assert read_job(job).notcher == read_shop(shop).notcher
    job.write_text(JOB.replace("[tubing]", "[notcher]\ncup = 2\n[tubing]"), encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        read_job(job)
    assert str(caught.value) == (
        f"{job}, line 4 (notcher): the shop file and this file both say what the notcher is. "
        "Leave [notcher] to the shop file."
    )


def test_how_he_works_is_said_once_in_the_shop(folder: Path) -> None:
    assert read_shop(folder / "shop.toml").ways == Ways(None, "last bend", "far", 12.7)
    made = solve(read_job(folder / "job.toml")).tubes[0].making
    assert made is not None
    assert made.habit == Habit("start", "last bend", "far", 12.7)
    assert made.hooked == "far"


def test_the_job_overrules_the_shop_key_by_key(folder: Path) -> None:
    job = folder / "job.toml"
    job.write_text(JOB.replace("[tubing]", '[habit]\nmarks = "both"\ntrim = 0\n[tubing]'), encoding="utf-8")
    assert read_job(job).ways == Ways("both", "last bend", "far", 0.0)


def test_where_nothing_is_said_an_inch_or_25_mm_is_trimmed() -> None:
    assert habit_of(Ways(), "in") == Habit(trim=25.4)
    assert habit_of(Ways(), "mm") == Habit(trim=25.0)


def test_stops_carry_what_test_bends_say_they_are_good_to(folder: Path) -> None:
    shop = folder / "shop.toml"
    kept = 'calibrated = { date = "2026-05-31", batch = "H1", good_to = { reference_offset = 0.03, springback = 0.5 } }'
    shop.write_text(f"{SHOP}{kept}\nearlier = [ {{ reference_offset = 0.3 }} ]\n", encoding="utf-8")
    result = solve(read_job(folder / "job.toml"))
    made = result.tubes[0].making
    assert made is not None
    assert [step.stop_sd for step in made.steps] == pytest.approx([math.radians(0.25)] * len(made.steps))
    assert result_to_json(result)["tubes"][0]["making"]["stop_doubt"] == pytest.approx(0.25)


def test_a_stop_is_as_good_as_the_springback_of_its_own_angle() -> None:
    # a line known at 0 within 0.3 degrees and at its slope within 0.4 degrees in 100, independently
    def sd(degrees: float) -> float:
        return math.radians(math.hypot(0.3, 0.004 * degrees))

    line = Springback(math.radians(1), 0.02, (sd(30), sd(90), sd(180)))
    for degrees in (5.0, 30.0, 47.0, 90.0, 135.0, 180.0):
        assert line.sd(math.radians(degrees)) == pytest.approx(sd(degrees))
    assert Springback(0.01, 0.02).sd(1.0) is None


def typed_over(folder: Path, springback: str) -> TubeResult:
    """The tube of a die that was calibrated with a springback of 1 degree and 2.5 %, and may have another now."""
    shop = folder / "shop.toml"
    told = 'figures = { springback = { degrees = 1, percent = 2.5 }, reference_offset = "-15/32" }'
    kept = f'calibrated = {{ date = "2026-05-31", good_to = {{ springback = 0.5 }}, {told} }}'
    shop.write_text(f"{SHOP.replace('springback = { degrees = 1,', springback)}{kept}\n", encoding="utf-8")
    return solve(read_job(folder / "job.toml")).tubes[0]


def test_figures_typed_over_since_calibrating_have_no_pm_of_test_bends(folder: Path) -> None:
    kept, typed = (typed_over(folder, f"springback = {{ degrees = {one},") for one in ("1.0", "1.5"))
    notes = [[note.text for note in tube.notices if note.code == "figures-typed-over"] for tube in (kept, typed)]
    assert notes == [
        [],
        [
            "Of the die 6, springback is no longer what test bends told on 2026-05-31: typed over since. It counts as "
            "it stands, and no ± is told of the stops. To go back to the test bends, run plumbend calibrate on the "
            "shop file."
        ],
    ]
    assert kept.making is not None
    assert typed.making is not None
    for was, now in zip(kept.making.steps, typed.making.steps, strict=True):
        assert was.stop_sd == pytest.approx(math.radians(0.25))
        assert now.stop_sd is None


def test_what_calibrating_left_is_checked_like_all_else(folder: Path) -> None:
    shop = folder / "shop.toml"
    kept = 'calibrated = { dat = "2026-05-31", good_to = { springback = 0, offset = 1 } }'
    shop.write_text(f"{SHOP}{kept}\nearlier = [ {{ reference_offset = 0.3, grip = 2 }} ]\n", encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        read_shop(shop)
    assert str(caught.value).replace(str(shop), "shop.toml").splitlines() == [
        'shop.toml, line 24 (die 1, calibrated, dat): "dat" is not known here. Did you mean "date"?',
        'shop.toml, line 24 (die 1, calibrated, good_to, springback): "0" must be more than nothing. Take it out where '
        "nothing is known of it.",
        'shop.toml, line 24 (die 1, calibrated, good_to, offset): "offset" is not known here. Known here: '
        "reference_offset, bent_clr, stock_per_degree, springback.",
        'shop.toml, line 25 (die 1, earlier figures 1, grip): "grip" is not known here. Known here: reference_offset, '
        "bent_clr, stock_per_degree, springback, date, batch.",
    ]
