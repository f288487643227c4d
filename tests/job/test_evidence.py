"""Sides, outside points, readings of the tube itself and scans: what is read and what is assumed."""

from __future__ import annotations

import math
import re
from pathlib import Path

import numpy as np
import pytest

from plumbend.errors import BadFile
from plumbend.frames import FloatArray
from plumbend.job.model import Job, WantedTube
from plumbend.job.reader import read_job
from plumbend.job.scan_csv import read_scan
from plumbend.shape.tube_readings import (
    BendAngle,
    BendRotation,
    CornersApart,
    LegsApart,
    LegSlope,
    OutsideToEnd,
    TubeReading,
)
from plumbend.units import Units

SAMPLES = Path(__file__).parents[2] / "samples"

TOP = """\
units = "mm"
[tubing]
od = 40
[[die]]
clr = 150
"""
POINTS = """\
points = [
  { name = "A", what = "end", at = [0, 0, 0] },
  { name = "b", what = "corner", at = [900, 0, 0] },
  { name = "c", what = "corner", at = [900, 800, 0] },
  { name = "F", what = "end", at = [0, 800, 0] },
]
"""
ENDS = """\
  { name = "A", what = "end", at = [0, 0, 0] },
  { name = "F", what = "end", at = [500, 0, 0] },
"""


def job_of(lines: str, folder: Path, top: str = TOP) -> Job:
    path = folder / "job.toml"
    path.write_text(f'{top}[[tube]]\nname = "rail"\n{lines}', encoding="utf-8")
    return read_job(path)


def tube_of(lines: str, folder: Path, top: str = TOP) -> WantedTube:
    (tube,) = job_of(lines, folder, top).tubes
    return tube


def reading_of(row: str, folder: Path, points: str = POINTS) -> TubeReading:
    (reading,) = tube_of(f"{points}readings = [ {{ {row} }} ]\n", folder).readings
    return reading


def with_middle(row: str) -> str:
    """The rows of both ends with one between them."""
    first, last = ENDS.splitlines(keepends=True)
    return first + row + last


def given(side: FloatArray | None) -> FloatArray:
    assert side is not None
    return side


def side_of(typed: str, folder: Path) -> FloatArray:
    middle = f'  {{ name = "t", what = "centre", side = {typed}, at = [1, 2, 3] }},\n'
    points = tube_of(f"bends = 0\npoints = [\n{with_middle(middle)}]\n", folder).points
    return given(points[1].side)


@pytest.mark.parametrize(
    ("typed", "side"),
    [
        ('"top"', [0, 0, 1]),
        ('"Bottom"', [0, 0, -1]),
        ('"left"', [0, 1, 0]),
        ('"right"', [0, -1, 0]),
        *((f'"{word}"', [1, 0, 0]) for word in ("front", "fore", "forward")),
        *((f'"{word}"', [-1, 0, 0]) for word in ("rear", "back", "aft")),
        ("[3, 0, -4.0]", [0.6, 0, -0.8]),
        ("[1e300, 1e300, 0]", [math.sqrt(0.5), math.sqrt(0.5), 0]),
    ],
)
def test_side_of_a_centre_point(typed: str, side: list[float], tmp_path: Path) -> None:
    np.testing.assert_allclose(side_of(typed, tmp_path), side, rtol=1e-12)


def test_sides_outside_points_and_three_accuracies_in_a_csv(tmp_path: Path) -> None:
    (tmp_path / "points.csv").write_text(
        "name,what,leg,side,x,y,z,good_to\n"
        "A,end,,,0,0,0,2 4 6\n"
        "t,centre,1,aft,9,0,0,2/4/6\n"
        "u,centre,,0 3/-4,9,0,0,1/8 1/4 1/2\n"
        "o,outside,2,,9,0,0,1/8 / 1/4 / 1-1/2\n"
        "F,end,,,9,9,9,2\n",
        encoding="utf-8",
    )
    _, aft, tilted, outside, far = points = tube_of('points = "points.csv"\n', tmp_path).points
    assert (outside.what, outside.leg, outside.side) == ("outside", 2, None)
    np.testing.assert_array_equal(given(aft.side), [-1, 0, 0])
    np.testing.assert_allclose(given(tilted.side), [0, 0.6, -0.8])
    for point in points[:2]:
        np.testing.assert_array_equal(point.cov, np.diag([1.0, 4.0, 9.0]))
    np.testing.assert_allclose(tilted.cov, np.diag(np.square([3.175, 6.35, 12.7]) / 4))
    np.testing.assert_allclose(outside.cov, np.diag(np.square([3.175, 6.35, 38.1]) / 4))
    np.testing.assert_array_equal(far.cov, np.eye(3))


def test_side_and_accuracies_with_decimal_commas(tmp_path: Path) -> None:
    (tmp_path / "points.csv").write_text(
        "name;what;side;x;y;z;good_to\nA;end;;0;0;0;2,5 4 6\nt;centre;0,6 0 0,8;9;0;0;\nF;end;;9;9;9;\n",
        encoding="utf-8",
    )
    first, touched, _ = tube_of('points = "points.csv"\n', tmp_path).points
    np.testing.assert_allclose(given(touched.side), [0.6, 0, 0.8])
    np.testing.assert_array_equal(first.cov, np.diag([1.25**2, 4.0, 9.0]))


@pytest.mark.parametrize("what", ["centre", "outside"])
def test_bends_are_left_to_be_found_from_points_along_the_tube(what: str, tmp_path: Path) -> None:
    middle = f'  {{ name = "m", what = "{what}", at = [1, 2, 3] }},\n'
    tube = tube_of(f"points = [\n{with_middle(middle)}]\n", tmp_path)
    assert (tube.bends, tube.points[1].what) == (None, what)


ANGLE, ROTATION, TAPE = math.radians(0.7), math.radians(1.0), 1.2


@pytest.mark.parametrize(
    ("row", "reading"),
    [
        ("bend = 2, angle = 31.5", BendAngle(2, math.radians(31.5), ANGLE)),
        ("bend = 1, angle = 180, good_to = 0.5", BendAngle(1, math.pi, math.radians(0.25))),
        ("bend = 2, rotation = -30", BendRotation(2, math.radians(-30), ROTATION)),
        ('bend = 2, rotation = "25 cw", good_to = 1', BendRotation(2, math.radians(25), math.radians(0.5))),
        ("leg = 2, slope = 24.5", LegSlope(2, math.radians(24.5), ANGLE, unsigned=True)),
        ('leg = 2, slope = "24-1/2 up"', LegSlope(2, math.radians(24.5), ANGLE)),
        ('leg = 3, slope = "Down 24.5", note = "cold"', LegSlope(3, math.radians(-24.5), ANGLE)),
        ("corners = [1, 2], tape = 800", CornersApart(1, 2, 800.0, TAPE)),
        ("corners = [0, 3], tape = 800, good_to = 1", CornersApart(0, 3, 800.0, 0.5)),
        ('corners = ["A", "b"], tape = "1 m"', CornersApart(0, 1, 1000.0, TAPE)),
        ('corners = ["c", "F"], tape = 900', CornersApart(2, 3, 900.0, TAPE)),
        ('corners = ["start", "far"], tape = 800', CornersApart(0, 3, 800.0, TAPE)),
        ("legs = [1, 3], outside = 840", LegsApart(1, 3, 840.0, TAPE, 40.0, "outside")),
        ("legs = [3, 1], inside = 760", LegsApart(3, 1, 760.0, TAPE, -40.0, "inside")),
        ("legs = [1, 3], centres = 800, good_to = 3", LegsApart(1, 3, 800.0, 1.5, 0.0, "centres")),
        ('leg = 2, outside_to_end = 900, end = "A"', OutsideToEnd(2, False, 900.0, TAPE, 40.0)),
        ('leg = 2, outside_to_end = 900, end = "F"', OutsideToEnd(2, True, 900.0, TAPE, 40.0)),
        ('leg = 2, outside_to_end = 900, end = "far", good_to = 2', OutsideToEnd(2, True, 900.0, 1.0, 40.0)),
        ("leg = 1, outside_to_end = 900, end = 'F'", OutsideToEnd(1, True, 900.0, TAPE, 40.0)),
    ],
)
def test_reading_of_the_tube(row: str, reading: TubeReading, tmp_path: Path) -> None:
    assert reading_of(row, tmp_path) == reading


@pytest.mark.parametrize(("leg", "far"), [(2, False), (3, True)])
def test_end_left_out_is_the_one_whose_leg_is_next(leg: int, far: bool, tmp_path: Path) -> None:
    tube = tube_of(f"bends = 3\nreadings = [ {{ leg = {leg}, outside_to_end = 600 }} ]\n", tmp_path)
    assert tube.readings == (OutsideToEnd(leg, far, 600.0, TAPE, 40.0),)


@pytest.mark.parametrize(
    ("rows", "bends"),
    [
        ("{ bend = 3, angle = 20 }", 3),
        ("{ bend = 2, rotation = 20 }", 2),
        ("{ leg = 3, slope = 20 }", 2),
        ("{ legs = [1, 4], inside = 500 }", 3),
        ("{ corners = [0, 3], tape = 500 }", 2),
        ('{ bend = 1, angle = 90 }, { leg = 2, outside_to_end = 500, end = "start" }', 1),
    ],
)
def test_readings_alone_tell_the_bends(rows: str, bends: int, tmp_path: Path) -> None:
    tube = tube_of(f"planar = true\nreadings = [ {rows} ]\n", tmp_path)
    assert (tube.bends, tube.points, tube.planar) == (bends, (), True)


def test_readings_leave_the_bends_of_measured_points_to_be_found(tmp_path: Path) -> None:
    tube = tube_of(f"points = [\n{ENDS}]\nreadings = [ {{ bend = 1, angle = 90 }} ]\n", tmp_path)
    assert (tube.bends, len(tube.points), len(tube.readings)) == (None, 2, 1)


GOOD_TO = """\
[good_to]
point = 2
tape = 3
angle = 1
slope = 2
rotation = 3
scan = 0.4
"""
ALL_KINDS = f"""\
{POINTS}scan = "scan.csv"
readings = [
  {{ bend = 2, angle = 90 }},
  {{ bend = 2, rotation = 0 }},
  {{ leg = 2, slope = 0 }},
  {{ corners = [1, 2], tape = 800 }},
  {{ legs = [1, 3], outside = 840 }},
  {{ leg = 2, outside_to_end = 900, end = "A" }},
]
"""


def test_accuracies_of_the_job(tmp_path: Path) -> None:
    (tmp_path / "scan.csv").write_text("1,2,3\n", encoding="utf-8")
    job = job_of(ALL_KINDS, tmp_path, TOP + GOOD_TO)
    (tube,) = job.tubes
    half, one, one_and_a_half = np.radians([0.5, 1.0, 1.5]).tolist()
    assert [reading.sd for reading in tube.readings] == pytest.approx([half, one_and_a_half, one, 1.5, 1.5, 1.5])
    assert tube.scan is not None
    assert (tube.scan.sd, job.assumed) == (0.2, ())
    own = tube_of(ALL_KINDS + "scan_good_to = 3\n", tmp_path, TOP + GOOD_TO).scan
    assert own is not None
    assert own.sd == 1.5
    alike = tube_of(ALL_KINDS + "scan_alike = 50\n", tmp_path, TOP + GOOD_TO).scan
    assert alike is not None
    assert (alike.alike, own.alike) == (50.0, None)


@pytest.mark.parametrize(
    ("units", "sizes"),
    [
        ("mm", ("5 mm", "2.4 mm", "1 mm")),
        ("in", ("3/16 in (5 mm)", "3/32 in (2.4 mm)", "1/32 in (1 mm)")),
    ],
)
def test_each_accuracy_that_is_assumed_is_said_once(units: str, sizes: tuple[str, ...], tmp_path: Path) -> None:
    (tmp_path / "scan.csv").write_text("1,2,3\n", encoding="utf-8")
    point, tape, scan = sizes
    top = TOP.replace('"mm"', f'"{units}"').replace("od = 40", 'od = "40 mm"').replace("clr = 150", 'clr = "150 mm"')
    # a tenth of each place where these are inches, for no tube is as long
    kinds = ALL_KINDS if units == "mm" else re.sub(r"\b(\d+)00\b", r"\g<1>0", ALL_KINDS)
    assert job_of(kinds, tmp_path, top).assumed == tuple(
        f"{what}, since the job does not say."
        for what in (
            f"Typed points are taken as good to {point}, the usual for tape and plumb bob",
            f"Lengths taped on the tube are taken as good to {tape}, the usual for a tape",
            "Angles of bends are taken as good to 1.4 degrees, the usual for a gravity angle finder",
            "Slopes of legs are taken as good to 1.4 degrees, the usual for a gravity angle finder",
            "Turns between bends are taken as good to 2 degrees, the usual for an angle finder",
            f"Scanned points are taken as good to {scan}, the usual for a scanning probe",
        )
    )


PLACES = np.array([[1.5, -20.25, 3000.0], [0.0, 4.125, -5.0], [7.0, 8.0, 1500.0]])
PLAIN = "1.5,-20.25,3000\n0,4.125,-5\n7,8,1.5e3\n"


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(PLAIN.encode(), id="plain"),
        pytest.param(f"x,y,z\n{PLAIN}".encode("utf-8-sig"), id="headings and BOM"),
        pytest.param(f"# of Monday\n\nForward,left,up\n{PLAIN}\n".encode(), id="remark, words, blank lines"),
        pytest.param(f"x,y,z\n{PLAIN}".replace("\n", "\r\n").encode("utf-16"), id="UTF-16 and CRLF"),
        pytest.param(PLAIN.replace("\n", "\r").encode(), id="CR alone"),
        pytest.param(PLAIN.replace(",", ";").encode(), id="semicolons and points"),
        pytest.param(f"sep=;\n{PLAIN}".replace(",", ";").replace(".", ",").encode(), id="semicolons and commas"),
        pytest.param(b"x\ty\tz\n1,5\t-20,25\t3000\n0\t4,125\t-5\n7\t8\t1500,\n", id="tabs and commas"),
        pytest.param(b"no,z,y,x\n1,3000,-20.25,1.5\n2,-5,4.125,0\n3,1500,8,7\n", id="other columns"),
        pytest.param(b"name,x,y,z\na,1.5,R 20.25,3 m\nb,0,4.125,-5\nc,7,8,1.5e3\n", id="figures as typed"),
        pytest.param(f"x,y,z\n{PLAIN}# and no more\n".encode(), id="remark below"),
        pytest.param(b'"x","y","z"\n"1.5","-20.25","3000"\n0,4.125,-5\n7,8,1500\n', id="quoted"),
    ],
)
def test_scan_of_any_spreadsheet(data: bytes, tmp_path: Path) -> None:
    (tmp_path / "scan.csv").write_bytes(data)
    np.testing.assert_allclose(read_scan(tmp_path / "scan.csv", "", "mm"), PLACES, rtol=1e-15)


@pytest.mark.parametrize(("units", "mm"), [("mm", 1.0), ("in", 25.4)])
def test_units_of_a_scan_are_those_of_the_job(units: Units, mm: float, tmp_path: Path) -> None:
    (tmp_path / "scan.csv").write_text("1,2,3\n", encoding="utf-8")
    np.testing.assert_allclose(read_scan(tmp_path / "scan.csv", "", units), [[mm, 2 * mm, 3 * mm]])


def test_only_the_first_mistakes_of_a_scan_are_told(tmp_path: Path) -> None:
    (tmp_path / "scan.csv").write_text("x,y,z\n" + "1,2,up\n" * 500, encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        read_scan(tmp_path / "scan.csv", "", "mm")
    assert [mistake.line for mistake in caught.value.mistakes] == list(range(2, 12))


def test_scan_over_a_gigabyte_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "scan.csv"
    with path.open("wb") as file:
        file.truncate(1_000_000_001)  # holds no room on the disk
    with pytest.raises(BadFile) as caught:
        read_scan(path, "", "mm")
    assert caught.value.mistakes[0].what == "this file is over 1000 MB"


def test_grab_rail_to_copy() -> None:
    job = read_job(SAMPLES / "grab-rail.toml")
    (rail,) = job.tubes
    assert job.assumed == (
        "Scanned points are taken as good to 1 mm, the usual for a scanning probe, since the job does not say.",
    )
    assert (rail.copied, rail.bends, rail.die.name) == (True, 2, "110 grab")
    assert [point.what for point in rail.points] == ["end", "end"]
    assert rail.scan is not None
    assert rail.scan.at.shape == (60, 3)


def test_boarding_hoop_by_readings_alone() -> None:
    job = read_job(SAMPLES / "boarding-hoop.toml")
    (hoop,) = job.tubes
    assert (hoop.points, hoop.bends, hoop.planar, hoop.copied) == ((), 2, True, False)
    assert hoop.readings[2:] == (
        LegsApart(1, 3, 653.0, 1.0, 42.4, "outside"),
        OutsideToEnd(2, False, 512.0, 1.0, 42.4),
        OutsideToEnd(2, True, 514.0, 1.0, 42.4),
    )
