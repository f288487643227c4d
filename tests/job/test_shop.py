"""What a shop file says of the bender and of how its dies behave."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from plumbend.errors import BadFile
from plumbend.job.reader import read_job, read_shop
from plumbend.shop import Bender, Notcher, Springback

SHOP = """
units = "in"

[bender]
drive = "manual"
plane = "level"
swings = "Left"
dial_step = 0.5
dial_slack = 1
tape_step = "1/16"

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
