"""Check sizes of finished parts."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbend.making.checks import ANGLE_SD, MARK_SD, TURN_SD, checks_of
from plumbend.shape.chain import Chain
from plumbend.shape.program import Program

ENDS = ("A end", "F end")


def part(straights: list[float], turns: list[float], bends: list[float]) -> Chain:
    program = Program(np.array(straights), np.radians(turns), np.radians(bends))
    return Chain.from_program(program, 100.0)


def test_a_flat_hoop_measures_as_a_tape_would() -> None:
    checks = checks_of(part([300.0, 400.0, 300.0], [0, 0], [90, 90]), 40.0, ENDS)
    assert checks.end_to_end == pytest.approx(600.0)
    # from the rim of one end, outside, over the far shoulder: an outer arc of radius 120 about its centre
    reach = math.hypot(500.0 + 20.0, 300.0) + 120.0
    assert checks.longest == pytest.approx(reach, abs=0.05)
    assert checks.lying is None


def test_the_free_end_of_a_part_bent_out_of_plane_proves_its_hand() -> None:
    right_way = checks_of(part([300.0, 400.0, 300.0], [0, 90], [90, 90]), 40.0, ENDS).lying
    mirror = checks_of(part([300.0, 400.0, 300.0], [0, -90], [90, 90]), 40.0, ENDS).lying
    assert right_way is not None
    assert mirror is not None
    assert right_way.on == mirror.on == ("A end", "bend 1", "bend 2")
    assert right_way.tops == mirror.tops
    # the plumb leg rises 100 + 300 over the lower legs' centreline, which lies half a tube over the table
    assert right_way.tops == (("F end", pytest.approx(420.0)),)
    # turned clockwise seen from the start end, the second bend of a part that turns left goes up, from its left
    assert {right_way.turns, mirror.turns} == {"left", "right"}
    chain = part([300.0, 400.0, 300.0], [0, 90], [90, 90])
    assert (chain.far_end[2] > 0) == (right_way.turns == "left")


def test_the_expected_miss_holds_nineteen_times_of_twenty() -> None:
    rng = np.random.default_rng(3)
    wanted = part([400.0, 300.0, 500.0, 350.0], [0, 70, -120], [40, 90, 60])
    misses = []
    for _ in range(1000):
        made = Chain.from_program(
            Program(
                wanted.straights + MARK_SD * rng.normal(size=4),
                wanted.rotations + TURN_SD * np.array([0.0, *rng.normal(size=2)]),
                wanted.angles + ANGLE_SD * rng.normal(size=3),
            ),
            wanted.radius,
        )
        misses.append(float(np.linalg.norm(made.far_end - wanted.far_end)))
    assert checks_of(wanted, 40.0, ENDS).miss == pytest.approx(float(np.quantile(misses, 0.95)), rel=0.08)
