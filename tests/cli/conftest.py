"""Results made by hand, so that a page is held to its words whatever the solver finds."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from plumbend.job.model import Job, WantedTube
from plumbend.job.results import (
    FitReport,
    PartRadius,
    PointMiss,
    ReadingMiss,
    Result,
    ScanReport,
    TubeResult,
)
from plumbend.making.legible import Legible, PointCost
from plumbend.making.setting import Steps
from plumbend.notices import Notice
from plumbend.shape.certainty import Certainty
from plumbend.shape.chain import Chain
from plumbend.shape.points import Point, PointKind
from plumbend.shape.program import Program
from plumbend.shape.tube_readings import (
    BendAngle,
    BendRotation,
    CornersApart,
    LegsApart,
    LegSlope,
    OutsideToEnd,
    TubeReading,
)
from plumbend.shop import Die
from plumbend.tubing import Tubing

GOLDEN = Path(__file__).parent / "golden"
INCH = 25.4

Solved = tuple[Job, Result]


@pytest.fixture
def check_golden() -> Callable[[str, str], None]:
    """Compare a whole page with tests/cli/golden/NAME.

    With WRITE_GOLDEN set the page is written instead, and the test fails all the same: it cannot be left on.
    """

    def check(name: str, page: str) -> None:
        golden = GOLDEN / name
        if "WRITE_GOLDEN" in os.environ:
            golden.write_text(page, encoding="utf-8", newline="\n")
            pytest.fail(f"{golden} written; read it, then run again without WRITE_GOLDEN")
        assert page == golden.read_text(encoding="utf-8")

    return check


def point(name: str, what: PointKind, *inches: float) -> Point:
    return Point(name, what, INCH * np.array(inches), np.eye(3))


DIE = Die("5-1/2", 5.5 * INCH, od=1.5 * INCH)
TUBING = Tubing(1.5 * INCH, 0.095 * INCH, "mild steel")
PROGRAM = Program(
    INCH * np.array([13.63, 11.60, 10.63, 13.10]),
    np.radians([0.0, -149.1, 30.0]),
    np.radians([13.7, 31.5, 27.0]),
)
POINTS = (
    point("A", "end", 0, 12.5, 34.375),
    point("B", "corner", 14, 12.5, 37.25),
    point("c2", "centre", 34.4375, -15, 42.125),
    point("F", "end", 52, -16, 34),
)
MISSES = (1.2, 0.4, 6.35, 0.0)


def certainty(program: Program) -> Certainty:
    """A first straight that nothing fixes and a second bend held at its limit, the rest known this or that well."""
    n = program.bends
    sd = {"straights": 1.5 * np.ones(n + 1), "angles": np.radians(0.4) * np.ones(n)}
    sd["straights"][0] = np.nan
    if n > 1:
        sd["straights"][1], sd["angles"][1] = 14.0, np.nan
    return Certainty(
        sd["straights"],
        np.radians(np.concatenate([[0.0], np.full(n - 1, 1.2)])) if n else np.zeros(0),
        sd["angles"],
        np.full((n + 2, 3), 2.0),
        np.column_stack([np.full(n, np.nan), np.full(n, 3.0)]),
        np.full((n + 1, 2, 3), 2.0),
        np.nan,
        np.eye(max(3 * n, 1)),
        frozenset({"bend-2"}) if n > 1 else frozenset(),
    )


def tube_result(solved: bool, program: Program | None, *notices: Notice) -> TubeResult:
    fit = FitReport(3.1, 5, tuple(PointMiss(p.name, p.what, m) for p, m in zip(POINTS, MISSES, strict=True)), 2)
    return TubeResult(
        name="left rail",
        solved=solved,
        die=DIE,
        od=TUBING.od,
        ends=("A", "F"),
        program=program,
        corners=None,
        tangents=None,
        developed_length=None if program is None else program.developed_length(DIE.radius),
        fit=None if program is None else fit,
        notices=notices,
        certainty=None if program is None or not solved else certainty(program),
        points=POINTS,
    )


def solved_job(tube: TubeResult, *more: TubeResult) -> Solved:
    wanted = WantedTube("left rail", DIE, POINTS, bends=3)
    job = Job(
        "Stretcher rail, left",
        "in",
        TUBING,
        (wanted, *(WantedTube(t.name, t.die, program=t.program) for t in more)),
        assumed=("Typed points are taken as good to 3/16 in, since the job does not say.",),
    )
    return job, Result(job.title, (tube, *more))


@pytest.fixture
def refused_for() -> Callable[..., Solved]:
    """Makes a refused rail that says the notices given."""
    return lambda *notices: solved_job(tube_result(False, PROGRAM, *notices))


@pytest.fixture
def good() -> Solved:
    """Two tubes: one from points with a caution, a note and a check not made, and one from a program."""
    hoop = Program(np.array([400.0, 600.0, 400.0]), np.array([0.0, math.pi]), np.array([math.pi / 2, math.pi]))
    big = Die("big one", 152.4, bent_clr=154.0)
    from_program = TubeResult(
        "hoop",
        True,
        big,
        TUBING.od,
        ("start", "far"),
        hoop,
        None,
        None,
        hoop.developed_length(154.0),
        None,
        (),
    )
    tube = tube_result(
        True,
        PROGRAM,
        Notice("fit-poor", "caution", "Point c2 lies 1/4 in off the tube. Measure it again."),
        Notice("held-bend-2", "note", "Bend 2 is held at the most that the die reaches."),
        Notice("few-points", "note", "Every bend is fixed by more points than it needs."),
        Notice("no-wrap", "not-checked", "The reach of the die: the shop file gives no max_wrap."),
        Notice("no-grip", "not-checked", "The grip: the shop file gives none, and 3-3/8 in was taken."),
    )
    return solved_job(tube, from_program)


@pytest.fixture
def to_set() -> Solved:
    """Two tubes with numbers to set: straights and angles by a tape in sixteenths, marks and stops by finer ones."""
    sixteenth, degree = INCH / 16, math.radians(1.0)
    program = Program(
        sixteenth * np.array([218, 186, 170, 210]), degree * np.array([0, -149, 30]), degree * np.array([14, 31, 27])
    )
    points = tuple(
        PointCost(p.name, m, m + more, m - 3 * more)
        for p, m, more in zip(POINTS, MISSES, (0.4, -0.9, 0.0, 0.8), strict=True)
    )
    steps = Steps(sixteenth, degree, degree)
    chain = Chain.from_program(program, 139.7)
    plain = Legible(program, np.zeros((5, 3)), steps, None, None, None, 1.3, 9.8, points, True, chain)
    marked = replace(
        plain,
        steps=Steps(0.5, degree, degree / 2),
        marks=np.array([334.5, 653.0, 1000.5]),
        far_end=1399.5,
        stops=degree * np.array([15.5, 33.0, 28.5]),
        points=(),
    )
    rail = replace(tube_result(True, PROGRAM), legible=plain)
    return solved_job(rail, replace(rail, name="right rail", fit=None, points=(), legible=marked))


@pytest.fixture
def refused() -> Solved:
    """One tube that cannot be bent, with the nearest that can."""
    text = (
        "The straight between bend 2 and bend 3 is 1-1/4 in, and the clamp needs 4 in: 2-3/4 in short. "
        "Move a point, or use a die with a smaller radius."
    )
    return solved_job(tube_result(False, PROGRAM, Notice("short-straight", "refusal", text)))


@pytest.fixture
def lost() -> Solved:
    """One tube for which nothing was found at all."""
    return solved_job(
        tube_result(False, None, Notice("no-shape", "refusal", "Corners B and C are one place. Give one of them."))
    )


@pytest.fixture
def straight() -> Solved:
    """A tube without a bend."""
    program = replace(PROGRAM, straights=np.array([1000.0]), rotations=np.zeros(0), angles=np.zeros(0))
    job, result = solved_job(tube_result(True, program))
    return job, result


EVIDENCE = (
    (point("o1", "outside", 0, 0.75, 0), 1.6),
    (point("o2", "outside", 4, 0, 0.75), -0.8),
    (point("o3", "outside", 9, 0, 0.75), 0.1),
    (replace(point("s1", "centre", 24, 6, 0.75), side=np.array([0.0, 0.0, 1.0])), 0.9),
    (replace(point("s2", "centre", 24, 9, 0.75), side=np.array([0.6, 0.0, 0.8])), 0.3),
    (point("slip", "centre", 24, 12, 0), 25.4),
    (point("F", "end", 24, 24, 30), 0.2),
)
READINGS: tuple[tuple[TubeReading, float], ...] = (
    (BendAngle(1, math.radians(31.5), 0.01), math.radians(-0.4)),
    (BendRotation(2, math.radians(-128.0), 0.01), math.radians(1.2)),
    (LegSlope(1, math.radians(16.5), 0.01, unsigned=True), 0.0),
    (LegSlope(2, math.radians(-3.0), 0.01), math.radians(0.3)),
    (CornersApart(1, 2, 16.75 * INCH, 1.0), 1.6),
    (LegsApart(1, 3, 36 * INCH, 1.0, TUBING.od, "outside"), -3.2),
    (OutsideToEnd(2, True, 8.875 * INCH, 1.0, TUBING.od), 0.0),
)


@pytest.fixture
def evidence() -> Solved:
    """A copy, from evidence of every kind, with a point left out."""
    misses = tuple(PointMiss(p.name, p.what, mm, suspect=p.name == "slip") for p, mm in EVIDENCE)
    readings = tuple(ReadingMiss(reading.name, miss, reading.is_angle) for reading, miss in READINGS)
    fit = FitReport(3.1, 5, misses, 0, readings, ScanReport(1060, 2, 0.6, -1.4))
    tube = replace(
        tube_result(True, PROGRAM, Notice("held-bend-2", "note", "Bend 2 is held at the most that the die reaches.")),
        ends=("o1", "F"),
        fit=fit,
        part=PartRadius(5.4 * INCH, 1.3),
        points=tuple(p for p, _ in EVIDENCE),
    )
    wanted = WantedTube(
        "left rail",
        DIE,
        tuple(p for p, _ in EVIDENCE),
        bends=3,
        readings=tuple(reading for reading, _ in READINGS),
        copied=True,
    )
    return Job("Grab rail", "in", TUBING, (wanted,)), Result("Grab rail", (tube,))
