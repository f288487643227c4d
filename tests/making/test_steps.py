"""A man who follows the words and figures of the steps makes the part that was wanted, and not its mirror."""

from __future__ import annotations

import math
from typing import Any, get_args

import numpy as np
import pytest

from plumbend.frames import FloatArray
from plumbend.job.making_json import making_to_json
from plumbend.making.buildable import Bench
from plumbend.making.habit import Habit
from plumbend.making.steps import making_of
from plumbend.shape.chain import Chain
from plumbend.shape.program import Program
from plumbend.shop import Begins, Bender, Die, Marks, MeasuredFrom, Springback
from plumbend.tubing import Tubing
from support.bending_man import BENDERS, made_by
from support.tubes import random_tube

SHOP = {"od": 44.45, "offset": 12.0, "radius": 155.0, "per_radian": 150.6, "constant": 0.018, "part": 0.03}
DIE = Die("6", 152.4, 44.45, 155.0, None, 90.0, 250.0, 12.0, Springback(0.018, 0.03), 150.6)
NAMES = ("A", "F")
TOLD = (("level", "left"), ("level", "right"), ("upright", "up"), ("upright", "down"))


def apart(made: FloatArray, wanted: FloatArray) -> float:
    """Largest distance of corners once the one is moved, never mirrored, onto the other."""
    a, b = made - made.mean(axis=0), wanted - wanted.mean(axis=0)
    u, _, vt = np.linalg.svd(a.T @ b)
    proper = np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ vt))])
    return float(np.linalg.norm(a @ (u @ proper @ vt) - b, axis=1).max())


def check(seed: int, begins: Begins) -> None:
    rng = np.random.default_rng(seed)
    tube = random_tube(rng, int(rng.integers(2, 6)), radius=SHOP["radius"])
    marks: Marks = ("start", "middle", "both")[seed % 3]
    measured: MeasuredFrom = ("end", "last bend")[seed % 2]
    for (plane, swings), machines in BENDERS.items():
        habit = Habit(marks, measured, begins, 30.0)
        bench = Bench(Tubing(SHOP["od"]), DIE, "mm", Bender(plane=plane, swings=swings), habit)
        sheet = making_to_json(making_of(tube, bench, NAMES))
        told = (plane, swings) in TOLD
        assert told == any(step["level"] for step in sheet["steps"])
        assert (told and plane == "level") or all(step["seam_from_inside"] in (None, 90.0) for step in sheet["steps"])
        for by in ("degrees", "arc"):
            corners = made_by(sheet, NAMES, SHOP, by, machines[seed % len(machines)])
            assert apart(corners, tube.corners()) < 1e-6
            if tube.bends > 2:
                assert apart(corners * [1, 1, -1], tube.corners()) > 1e-3


@pytest.mark.parametrize("begins", ["start", "far", "middle"])
@pytest.mark.parametrize("seed", range(8))
def test_the_man_makes_the_wanted_part(seed: int, begins: Begins) -> None:
    check(seed, begins)


def sheet_of(habit: Habit, die: Die) -> dict[str, Any]:
    tube = random_tube(np.random.default_rng(5), 3, radius=SHOP["radius"])
    return making_to_json(making_of(tube, Bench(Tubing(44.45), die, "mm", Bender(), habit), NAMES))


def test_nothing_is_made_up_where_the_shop_is_silent() -> None:
    sheet = sheet_of(Habit(), Die("6", 155.0))
    assert sheet["saw_length"] is None
    for step in sheet["steps"]:
        assert (step["marks"], step["stop"], step["level"]) == (None, None, None)


def test_the_worked_test_bend_has_its_mark_where_it_was_drawn() -> None:
    program = Program(np.array([412.0, 400.0]), np.zeros(1), np.array([math.pi / 2]))
    die = Die("6", 152.4, reference_offset=12.0)
    made = making_of(
        Chain.from_program(program, 152.4), Bench(Tubing(44.45), die, "mm", Bender(), Habit(trim=0)), NAMES
    )
    assert made.steps[0].starts.at == pytest.approx(412.0)
    assert made.steps[0].marks[0].at == pytest.approx(400.0)


@pytest.mark.parametrize("begins", get_args(Begins))
def test_a_straight_tube_is_sawn_whichever_bend_would_come_first(begins: Begins) -> None:
    straight = Chain.from_program(Program(np.array([500.0]), np.zeros(0), np.zeros(0)), 150.0)
    bench = Bench(Tubing(40.0), Die("6", 150.0), "mm", habit=Habit(begins=begins, trim=10.0))
    made = making_of(straight, bench, ("A end", "F end"))
    assert (made.steps, made.saw_length) == ((), pytest.approx(520.0))
