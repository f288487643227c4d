"""The numbers to set in a job's result: for a tube that can be bent, and as the shop's own figures have them."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from plumbend.job.model import Job, WantedTube
from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.shape.program import Program
from plumbend.shop import Bender, Die, Springback
from plumbend.solving import solve
from plumbend.tubing import Tubing
from plumbend.units import MM_PER_INCH, Units
from support.tubes import OD, RADIUS, leg_points, random_tube

SAMPLES = Path(__file__).parents[2] / "samples"

BARE = Die("140", RADIUS, od=OD, grip=100.0, max_wrap=np.radians(120.0))
KNOWN = Die(
    "140",
    RADIUS,
    od=OD,
    grip=100.0,
    max_wrap=np.radians(120.0),
    reference_offset=12.0,
    springback=Springback(np.radians(1.0), 0.03),
)


def solved(die: Die, units: Units = "mm", bender: Bender | None = None, **told: Any) -> dict[str, Any]:
    """The JSON of one tube, from points unless told otherwise."""
    rng = np.random.default_rng(8)
    tube = random_tube(rng, 2, angles=(30.0, 80.0))
    told = told or {"points": tuple(leg_points(tube, 4, rng, 1.6)), "bends": 2}
    wanted = WantedTube("tube", die, **told)
    found = solve(Job("test", units, Tubing(OD, 2.4), (wanted,), bender=bender or Bender()))
    one: dict[str, Any] = result_to_json(found)["tubes"][0]
    return one


def test_steps_are_assumed_where_the_shop_says_nothing() -> None:
    tube = solved(BARE)
    legible = tube["legible"]
    assert tube["solved"]
    assert legible["steps"] == {"length": 1.0, "rotation": 1.0, "angle": 1.0}
    assert solved(BARE, "in")["legible"]["steps"]["length"] == pytest.approx(MM_PER_INCH / 16)
    assert legible["set"] == {"marks": None, "far_end": None, "turns": legible["rotations"], "stops": None}
    for key in ("straights", "rotations", "angles"):
        assert all(value == round(value) for value in legible[key])
        assert np.abs(np.subtract(legible[key], tube[key])).max() < 4.0
    assert np.shape(legible["laid"]) == (4, 3)
    assert 0.0 < legible["chi2_added"] <= legible["chi2_added_by_rounding"]
    assert [point["name"] for point in legible["points"]] == [point["name"] for point in tube["fit"]["points"]]
    exact = [abs(point["miss"]) for point in tube["fit"]["points"]]
    assert [abs(point["exact"]) for point in legible["points"]] == pytest.approx(exact)


def test_marks_and_stops_stand_on_the_shop_s_own_steps() -> None:
    legible = solved(KNOWN, bender=Bender(dial_step=np.radians(0.5), tape_step=2.0))["legible"]
    told = legible["set"]
    assert legible["steps"] == {"length": 2.0, "rotation": 1.0, "angle": 0.5}
    assert all(mark % 2 == 0 for mark in [*told["marks"], told["far_end"]])
    assert all(stop % 0.5 == 0 for stop in told["stops"])
    assert told["stops"] == pytest.approx(np.array(legible["angles"]) * 1.03 + 1.0)
    first, second, _ = legible["straights"]
    # where the stock of a bend is not known it is the arc's length
    arc = RADIUS * np.radians(legible["angles"][0])
    assert told["marks"] == pytest.approx([first - 12.0, first + arc + second - 12.0])


def test_a_typed_program_and_a_tube_that_cannot_be_bent_have_none() -> None:
    program = Program(np.array([300.4, 250.0]), np.zeros(1), np.radians([30.3]))
    assert solved(BARE, program=program)["legible"] is None
    small = Die("140", RADIUS, od=OD, grip=100.0, max_wrap=np.radians(20.0))
    refused = solved(small)
    assert not refused["solved"]
    assert refused["legible"] is None


def test_what_no_tape_shows_is_not_told_as_something_that_is_not_kept() -> None:
    (rail,) = solve(read_job(SAMPLES / "stretcher-rail-mudguard.toml")).tubes
    off = [notice.text for notice in rail.notices if notice.code == "numbers-off"]
    assert (
        off == []
    )  # with the numbers to set the lamp bracket is a tenth of a millimetre too near, which no tape shows
