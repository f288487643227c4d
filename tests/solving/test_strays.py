"""Scans with places off the tube, solved: what is left out is counted and told."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.job.model import Job, WantedTube
from plumbend.job.result_json import result_to_json
from plumbend.job.results import TubeResult
from plumbend.shape.chain import Chain
from plumbend.shape.points import Point
from plumbend.shape.program import Program
from plumbend.shape.scan import Scan
from plumbend.shop import Die
from plumbend.solving import solve
from plumbend.tubing import Tubing
from support.tubes import OD, RADIUS, assert_same_program, scan_places

DIE = Die("140", clr=RADIUS, od=OD, max_wrap=np.pi, grip=60.0)
TUBE = Chain.from_program(Program(np.array([400.0, 300, 400]), np.radians([0, 25]), np.radians([60.0, 50])), RADIUS)
SD = 0.3
ENDS = (Point("A", "end", TUBE.origin, np.eye(3)), Point("F", "end", TUBE.far_end, np.eye(3)))


def vice(count: int, rng: np.random.Generator) -> np.ndarray:
    """Places on two jaws 60 mm either side of the first leg's middle."""
    at = rng.uniform([150, 60, -50], [250, 61, 50], (count, 3))
    at[: count // 2, 1] *= -1
    return at


def scan_with(strays: np.ndarray, rng: np.random.Generator, count: int = 600) -> Scan:
    return Scan(np.concatenate([scan_places(TUBE, count, rng, SD), strays]), SD)


def solved(wanted: WantedTube) -> TubeResult:
    return solve(Job("test", "mm", Tubing(OD), (wanted,))).tubes[0]


def test_a_vice_in_the_scan_is_counted_and_its_place_is_told() -> None:
    rng = np.random.default_rng(3)
    wanted = WantedTube("tube", DIE, ENDS, bends=2, scan=scan_with(vice(200, rng), rng))
    result = solve(Job("test", "mm", Tubing(OD), (wanted,)))
    (found,) = result.tubes
    assert found.solved
    assert found.program is not None
    assert_same_program(Chain.from_program(found.program, RADIUS), TUBE, 1.5, 0.1)
    notices = [notice for notice in found.notices if notice.code == "scan-left-out"]
    assert [(notice.level, notice.text) for notice in notices] == [
        (
            "caution",
            "200 of the 800 places of the scan are not on the tube and were left out. 100 of them lie together round "
            "forward 207.7, left R 60.5, up 3.0. See that this is no part of the tube.",
        )
    ]
    assert found.fit is not None
    assert found.fit.scan is not None
    assert (found.fit.scan.count, found.fit.scan.dropped) == (600, 200)
    assert abs(found.fit.scan.worst) < 4.5 * SD
    (tube,) = result_to_json(result)["tubes"]
    assert tube["fit"]["scan"]["dropped"] == 200


def test_one_stray_is_a_note() -> None:
    rng = np.random.default_rng(4)
    found = solved(WantedTube("tube", DIE, ENDS, bends=2, scan=scan_with(np.array([[200.0, 300, 10]]), rng)))
    (notice,) = [notice for notice in found.notices if notice.code == "scan-left-out"]
    assert (notice.level, notice.text) == (
        "note",
        "1 of the 601 places of the scan is not on the tube and was left out.",
    )


def test_a_copied_part_with_a_vice_in_its_scan() -> None:
    rng = np.random.default_rng(5)
    part = replace(TUBE, radius=125.0)
    ends = (Point("A", "end", part.origin, np.eye(3)), Point("F", "end", part.far_end, np.eye(3)))
    at = np.concatenate([scan_places(part, 1500, rng, SD), vice(400, rng)])
    found = solved(WantedTube("tube", DIE, ends, bends=2, scan=Scan(at, SD), copied=True))
    assert found.part is not None
    assert abs(found.part.radius - 125.0) < 3 * found.part.doubt
    assert found.fit is not None
    assert found.fit.scan is not None
    assert found.fit.scan.dropped == 400


def test_with_half_of_the_scan_off_the_tube_it_is_refused() -> None:
    rng = np.random.default_rng(6)
    anywhere = rng.uniform(-300, 1300, (150, 3))
    found = solved(WantedTube("tube", DIE, ENDS, bends=2, scan=scan_with(anywhere, rng, 150)))
    assert not found.solved
    assert [(notice.code, notice.text) for notice in found.notices if notice.level == "refusal"] == [
        (
            "scan-not-one-tube",
            "150 of the 300 places of the scan are not on the tube: with so many it is not sure that the rest are of "
            "the tube you want. Ways out: take out of the scan what is not the tube, give the tube's ends as points, "
            "or correct bends and clr.",
        )
    ]
