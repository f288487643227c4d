"""Check sizes of finished parts."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.spatial import ConvexHull
from scipy.spatial.distance import pdist

from plumbend.frames import FloatArray, cross
from plumbend.making.checks import ANGLE_SD, MARK_SD, TURN_SD, checks_of
from plumbend.shape.chain import Chain
from plumbend.shape.program import Program
from support.tubes import random_tube

ENDS = ("A end", "F end")


def part(straights: list[float], turns: list[float], bends: list[float]) -> Chain:
    program = Program(np.array(straights), np.radians(turns), np.radians(bends))
    return Chain.from_program(program, 100.0)


def test_a_flat_hoop_measures_as_a_tape_would() -> None:
    checks = checks_of(part([300.0, 400.0, 300.0], [0, 0], [90, 90]), 40.0, ENDS)
    assert checks.end_to_end == pytest.approx(600.0)
    # from the rim of one end, outside, over the far shoulder: an outer arc of radius 120 about its centre
    reach = math.hypot(500.0 + 20.0, 300.0) + 120.0
    assert checks.longest == pytest.approx(reach, abs=0.08)
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


def rings(tube: Chain, od: float, round_it: int = 48) -> tuple[FloatArray, FloatArray]:
    """Places on the centreline (m, 3) and on the outside there (m, k, 3), walked by hand from corner to corner."""
    corners = tube.corners()
    legs = np.diff(corners, axis=0)
    ways = legs / np.linalg.norm(legs, axis=1)[:, None]
    places, tangents = [corners[:1]], [ways[:1]]
    for k in range(1, len(corners) - 1):
        before, after = ways[k - 1], ways[k]
        angle = math.acos(float(before @ after))
        axis = cross(before, after) / math.sin(angle)
        start = corners[k] - tube.radius * math.tan(angle / 2) * before
        swept = np.linspace(0.0, angle, 101)[:, None]
        inward = cross(axis, before)
        places.append(start + tube.radius * (np.sin(swept) * before + (1 - np.cos(swept)) * inward))
        tangents.append(np.cos(swept) * before + np.sin(swept) * inward)
    middle, along = np.concatenate([*places, corners[-1:]]), np.concatenate([*tangents, ways[-1:]])
    first = np.cross(along, np.eye(3)[np.abs(along).argmin(axis=1)])
    first /= np.linalg.norm(first, axis=1)[:, None]
    second = np.cross(along, first)
    turn = np.linspace(0.0, 2 * np.pi, round_it, endpoint=False)[:, None, None]
    outside = middle + od / 2 * (np.cos(turn) * first + np.sin(turn) * second)
    return middle, np.swapaxes(outside, 0, 1)


def named_rows(bends: int) -> list[int]:
    """Which rings are the start end, the middle of every bend, and the far end."""
    return [0, *(51 + 101 * k for k in range(bends)), 1 + 101 * bends]


@pytest.mark.parametrize("seed", range(5))
def test_sizes_and_heights_are_those_of_the_outside_gone_over_place_by_place(seed: int) -> None:
    rng = np.random.default_rng(seed)
    od = float(rng.uniform(25.0, 55.0))
    tube = random_tube(rng, int(rng.integers(2, 6)), angles=(15.0, 120.0))
    middle, outside = rings(tube, od)
    checks = checks_of(tube, od, ENDS)
    assert checks.end_to_end == pytest.approx(np.linalg.norm(middle[-1] - middle[0]))
    skin = outside.reshape(-1, 3)
    fewer = outside[:, ::2].reshape(-1, 3)
    hull = fewer[ConvexHull(fewer).vertices]
    out = np.linalg.norm(hull - middle[[0, -1]].mean(axis=0), axis=1)
    # no place nearer in is at either end of a distance as long as that
    far_out = hull[out >= checks.longest - out.max() - 1.0]
    assert checks.longest == pytest.approx(pdist(far_out).max(), abs=0.3)
    lying = checks.lying
    assert lying is not None
    k = lying.bend - 1
    legs = np.diff(tube.corners(), axis=0)
    plumb = cross(legs[k], legs[k + 1])
    plumb = plumb / np.linalg.norm(plumb)
    names = [ENDS[0], *(f"bend {i + 1}" for i in range(tube.bends)), ENDS[1]]
    rows = dict(zip(names, named_rows(tube.bends), strict=True))
    # a bend turns to the left as seen from where its first leg and its second, crossed, point
    up = plumb if lying.turns == "left" else -plumb
    down = outside[[0, 1] if k == 0 else [101 * k, 1 + 101 * k]] @ up
    table = float(down.min())
    assert table == pytest.approx(float(middle[1 + 101 * k] @ up) - od / 2, abs=0.08)
    assert lying.tops == tuple(
        (name, pytest.approx(float((outside[row] @ up).max()) - table, abs=0.08))
        for name, row in rows.items()
        if name not in (names[k], names[k + 1], names[k + 2])
    )
    assert lying.on == tuple(names[k : k + 3])
    assert lying.highest == max(lying.tops, key=lambda top: top[1])[0]
    hangs = table - float((skin @ up).min())
    if lying.blocks:
        assert hangs - 0.05 <= lying.blocks <= hangs + od / 2
    else:
        assert hangs <= 1.0
    mirror = Chain.from_program(Program(tube.straights, -tube.rotations, tube.angles), tube.radius)
    other = checks_of(mirror, od, ENDS).lying
    assert other is not None
    assert (other.bend, other.highest, other.blocks) == (lying.bend, lying.highest, pytest.approx(lying.blocks))
    assert other.turns != lying.turns
