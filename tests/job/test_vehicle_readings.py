"""Bases and readings of the vehicle: what is read in each of their three forms, and what is assumed."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from plumbend.errors import BadFile
from plumbend.job.model import Job, PlacedPoint, StruckOut, VehicleFrame, Written
from plumbend.job.reader import read_job
from plumbend.measuring.adjustment import adjust
from plumbend.measuring.lengths import Along, Datum, Down, Gap, Height, Off, OffPlane, Tape
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Below, Coordinate, Drop, InLine, Level, SymmetricPair
from plumbend.measuring.tapes import TAPES, TapeHabits
from plumbend.measuring.touched import Touched
from support.spoiling import spoiled

IN = 25.4

TABLES = """\
[tubing]
od = 40
[[base]]
name = "B1"
at = [0, 0, 0]
[[base]]
name = "B2"
at = [2000, 0, "?"]
[[base]]
name = "sill mark"
[[datum]]
name = "laser"
at = 900
[[die]]
clr = 150
[[tube]]
name = "rail"
bends = 1
points = [
  { name = "A", what = "end" },
  { name = "m", what = "centre", at = [500, 10, 700], good_to = 2 },
  { name = "C", what = "corner" },
  { name = "F", what = "end", at = [900, 800, 700], good_to = [2, 4, 6], hint = "above" },
]
"""

ROWS = [
    # TOML, line, CSV: point, how, value, value2, from, touched, good_to, note
    ('to = "A", from = "B1", tape = "36-9/16"', "A tape B1 36-9/16", "A,tape,36-9/16,,B1,,,"),
    ('to = "A", from = "floor", height = 873', "A height floor 873", "A,height,873,,floor,,,"),
    ('to = "A", drop = [0, "L 318"]', "A drop 0, L 318", "A,drop,0,L 318,,,,"),
    (
        'to = "F", from = "laser", down = 40, touched = "top", od = 60.3, good_to = 1',
        "F down laser 40 touched top od 60.3 good to 1",
        "F,down,40,,laser,top od 60.3,1,",
    ),
    ('to = "C", forward = 700', "C forward 700", "C,forward,700,,,,,"),
    ('to = "C", left = "R 20"', "C left R 20", "C,left,R 20,,,,,"),
    ('to = "C", up = "702 mm"', "C up 702 mm", "C,Up,702 mm,,,,,"),
    ('to = "C", from = ["B1", "B2"], along = 690', "C along B1 B2 690", "C,along,690,,B1 / B2,,,"),
    ('to = "C", from = ["B1", "sill mark"], off = "L 5"', 'C off B1 "sill mark" L 5', "C,off,L 5,,B1/sill mark,,,"),
    ('to = "F", from = "centre plane", off = 800', "F off centre plane 800", "F,off,800,,centre plane,,,"),
    ('to = "F", from = "m", gap = 30, away = "left"', "F gap m 30 away left", "F,gap,30,left,m,,,"),
    ('to = "F", from = "m", gap = 30, away = [0, 3, 4]', "F gap m 30 away 0 3 4", "F,gap,30,0 3 4,m,,,"),
    ('to = "A", level = "C"', "A level C", "A,level,,,C,,,"),
    ('to = "A", level = "C", step = "up 171"', "A level C up 171", "A,level,up 171,,C,,,"),
    ('to = "sill mark", below = "C"', '"sill mark" below C', "sill mark,below,,,C,,,"),
    ('to = "C", line = ["A", "m"]', "C in line A m", "C,in line,,,A / m,,,"),
    ('to = "A", pair = "A right"', 'A pair "A right"', "A,pair,,,A right,,,"),
    (
        'to = "A right", from = "A", tape = 650, touched = "near", od = 40, from_touched = "far side"',
        '"A right" tape A 650 touched near side od 40 from_touched far side',
        "A right,tape,650,,A,near side od 40 from_touched far,,",
    ),
]
LIST = "readings = [\n{}]\n".format("".join(f"  {{ {row} }},\n" for row, _, _ in ROWS))
LINES = 'readings = """\n{}"""\n'.format("".join(f"{line}\n" for _, line, _ in ROWS))
CSV = "point,how,value,value2,from,touched,good_to,note\n{}".format("".join(f"{row}\n" for *_, row in ROWS))


def job_of(readings: str, folder: Path, tables: str = TABLES, units: str = "mm") -> Job:
    path = folder / "job.toml"
    path.write_text(f'units = "{units}"\n{readings}{tables}', encoding="utf-8")
    return read_job(path)


def frame_of(readings: str, folder: Path, tables: str = TABLES, units: str = "mm") -> VehicleFrame:
    frame = job_of(readings, folder, tables, units).frame
    assert frame is not None
    return frame


def reading_of(line: str, folder: Path, tables: str = TABLES, units: str = "mm") -> Reading:
    """The reading of one line, beside those that place the points."""
    frame = frame_of(f'readings = """\n{line}\n{PLACED}"""\n', folder, tables, units)
    return frame.readings[0]


PLACED = "A height floor 1\nC up 1\nA pair A2\n"


def test_one_network_written_in_three_ways(tmp_path: Path) -> None:
    listed = frame_of(LIST, tmp_path)
    lines = frame_of(LINES, tmp_path)
    (tmp_path / "readings.csv").write_text(CSV, encoding="utf-8")
    sheet = frame_of('readings = "readings.csv"\n', tmp_path)
    assert listed.readings == lines.readings == sheet.readings
    assert listed.places == lines.places == sheet.places
    assert [reading.typed for reading in lines.readings] == [
        line.split(" touched")[0].replace(" in line", " line") for _, line, _ in ROWS
    ]
    job = tmp_path / "job.toml"
    for index in range(len(ROWS)):
        assert listed.written[index] == Written(str(job), index + 3, "rows", index)
        assert lines.written[index] == Written(str(job), index + 3, "lines", index)
        assert sheet.written[index] == Written(str(tmp_path / "readings.csv"), index + 2, "csv", index)


def test_what_each_line_reads(tmp_path: Path) -> None:
    tape, height, drop, typed = 1.2, 1.0, 1.5, 2.5
    top, near, far = Touched("top", 60.3), Touched("near side", 40.0), Touched("far side", 40.0)
    made = [
        Tape("A", "B1", value=36.5625 * IN, sd=tape),
        Height("A", Datum("floor"), value=873.0, sd=height),
        Drop("A", 0.0, 318.0, sd=drop),
        Down("F", Datum("laser", 900.0), value=40.0, sd=0.5, touched=top),
        Coordinate("C", "forward", 700.0, sd=typed),
        Coordinate("C", "left", -20.0, sd=typed),
        Coordinate("C", "up", 702.0, sd=typed),
        Along("C", "B1", "B2", value=690.0, sd=tape),
        Off("C", "B1", "sill mark", value=5.0, sd=tape),
        OffPlane("F", "centre plane", value=800.0, sd=tape),
        Gap("F", "m", (0.0, 1.0, 0.0), value=30.0, sd=tape),
        Gap("F", "m", (0.0, 0.6, 0.8), value=30.0, sd=tape),
        Level("A", "C", 0.0, sd=height),
        Level("A", "C", 171.0, sd=height),
        Below("sill mark", "C", sd=drop),
        InLine("C", "A", "m", sd=tape),
        SymmetricPair("A", "A right", sd=typed),
        Tape("A right", "A", value=650.0, sd=tape, touched=near, start_touched=far),
    ]
    frame = frame_of(LIST, tmp_path)
    assert [_untyped(reading) for reading in frame.readings] == [_untyped(reading) for reading in made]
    assert frame.planes == (CentrePlane("centre plane"),)


def _untyped(reading: Reading) -> tuple[object, ...]:
    """A reading without its line; its numbers to the last digit but two."""
    fields = [getattr(reading, name) for name in reading.__dataclass_fields__ if name != "typed"]
    rounded = [
        tuple(np.round(part, 12)) if isinstance(part, tuple) else round(part, 9) if isinstance(part, float) else part
        for part in fields
    ]
    return type(reading), *rounded


def test_places_of_the_frame(tmp_path: Path) -> None:
    frame = frame_of(LIST, tmp_path)
    assert frame.places == (
        Place("B1", (0.0, 0.0, 0.0), base=True),
        Place("B2", (2000.0, 0.0, None), base=True),
        Place("sill mark", base=True),
        Place("A"),
        Place("m", (500.0, 10.0, 700.0), (1.0, 1.0, 1.0)),
        Place("C"),
        Place("F", (900.0, 800.0, 700.0), (1.0, 2.0, 3.0), hints=("above",)),
        Place("A right"),
    )
    assert frame.words == (
        "Forward, left and up are as B1, m and F are given. B2 is given in part. "
        "Heights are from the floor and laser. Up is plumb."
    )


def test_points_that_readings_place_wait_for_their_place(tmp_path: Path) -> None:
    lines = "A height floor 870\nA drop 0, 300\nF down laser 40\nC drop 700, 300\nC up 700\n"
    (rail,) = job_of(f'readings = """\n{lines}"""\n', tmp_path).tubes
    assert [point.name for point in rail.points] == ["m"]
    first, corner, last = rail.placed
    assert (first, corner) == (PlacedPoint(0, "A", "end"), PlacedPoint(2, "C", "corner"))
    assert (last.index, last.name, last.what, rail.bends) == (3, "F", "end", 1)
    covariance = np.arange(81.0).reshape(9, 9)
    whole = rail.with_places(np.arange(9.0).reshape(3, 3), covariance + covariance.T)
    assert [point.name for point in whole.points] == ["A", "m", "C", "F"]
    assert whole.placed == ()
    np.testing.assert_array_equal(whole.points[2].at, [3.0, 4.0, 5.0])
    np.testing.assert_array_equal(whole.points[2].cov, (covariance + covariance.T)[3:6, 3:6])
    assert whole.joint is not None
    np.testing.assert_array_equal(whole.joint[3:6, 3:6], np.eye(3))
    np.testing.assert_array_equal(whole.joint[3:6, 6:], 0)
    np.testing.assert_array_equal(whole.joint[9:, 0:3], (covariance + covariance.T)[6:, :3])
    assert whole.with_places(np.zeros((0, 3)), np.zeros((0, 0))) is whole


def test_a_point_at_a_base_is_that_base(tmp_path: Path) -> None:
    tables = TABLES.replace('name = "B2"', 'name = "C"').replace("[[datum]]", "[[datum]] # none")
    job = job_of('readings = """\nA drop 0, 0\nA height floor 5\nF tape A 900\n"""\n', tmp_path, tables)
    assert job.frame is not None
    assert [place.name for place in job.frame.places] == ["B1", "C", "sill mark", "A", "F"]
    assert [placed.name for placed in job.tubes[0].placed] == ["A", "C", "F"]


def test_a_centre_that_readings_place_keeps_its_side_and_leg(tmp_path: Path) -> None:
    tables = TABLES.replace('"m", what = "centre"', '"m", what = "centre", side = "left", leg = 1')
    lines = f"m tape A 9\n{PLACED}F up 3\n"
    (rail,) = job_of(f'readings = """\n{lines}"""\n', tmp_path, tables).tubes
    middle = rail.placed[1]
    assert (middle.name, middle.leg) == ("m", 1)
    point = middle.at(np.zeros(3), np.eye(3))
    assert point.side is not None
    np.testing.assert_array_equal(point.side, [0, 1, 0])


def test_readings_of_a_frame_are_adjusted(tmp_path: Path) -> None:
    lines = """\
B2 height floor 100
A tape B1 500
A height floor 300
A drop 0, L 400
A tape B2 2049.4
C drop 700, 300
C height floor 700
F down laser 200
"""
    tables = TABLES.replace('[[base]]\nname = "sill mark"\n', "")
    job = job_of(f'readings = """\n{lines}"""\n', tmp_path, tables)
    assert job.frame is not None
    found = adjust(job.frame.places, job.frame.readings, job.frame.planes)
    np.testing.assert_allclose(found.place("A"), [0, 400, 300], atol=0.05)
    np.testing.assert_allclose(found.place("B2"), [2000, 0, 100], atol=0.05)
    (rail,) = job.tubes
    whole = rail.with_places(*found.joint([placed.name for placed in rail.placed]))
    np.testing.assert_allclose(whole.points[3].at, [900, 800, 700], atol=0.05)
    assert [point.name for point in whole.points] == ["A", "m", "C", "F"]


def test_notes_blank_lines_and_remarks_of_a_text_block(tmp_path: Path) -> None:
    lines = "A tape B1 500  # from the sill\n\n  # bases are punched\nC height floor 5 #\n\tA drop 1, R 2"
    frame = frame_of(f"readings = '''{lines}'''\n", tmp_path)
    job = str(tmp_path / "job.toml")
    assert frame.written == (
        Written(job, 2, "lines", 0, "from the sill"),
        Written(job, 5, "lines", 3),
        Written(job, 6, "lines", 4),
    )


def test_readings_struck_out(tmp_path: Path) -> None:
    rows = '{ to = "A", tape = "4l", out = true, note = "hook slipped" }, { to = "A", height = 3, out = false }'
    tables = TABLES.replace('[[datum]]\nname = "laser"\nat = 900\n', "").replace('{ name = "C", what = "corner" },', "")
    listed = frame_of(f"readings = [ {rows} ]\n", tmp_path, tables)
    job = str(tmp_path / "job.toml")
    assert listed.struck_out == (StruckOut("A tape 4l", Written(job, 2, "rows", 0, "hook slipped")),)
    assert [written.index for written in listed.written] == [1]
    assert (listed.struck_numbers, listed.numbers) == ((1,), (2,))
    nothing = '{ to = "A", out = true }, { to = "A", height = 3 }'
    assert frame_of(f"readings = [ {nothing} ]\n", tmp_path, tables).struck_out[0].typed == '{ to = "A", out = true }'
    lines = frame_of('readings = """\nOut A tape  4l # hook slipped\nA height 3"""\n', tmp_path, tables)
    assert lines.struck_out == (StruckOut("A tape 4l", Written(job, 3, "lines", 0, "hook slipped")),)
    (tmp_path / "readings.csv").write_text(
        "point,how,value,from,note\nA,tape,4l,B1,Out: hook slipped\nA,height,3,,outside of the sill\nA,,,,out\n",
        encoding="utf-8",
    )
    sheet = frame_of('readings = "readings.csv"\n', tmp_path, tables)
    csv = str(tmp_path / "readings.csv")
    assert sheet.struck_out == (
        StruckOut("A tape B1 4l", Written(csv, 2, "csv", 0, "Out: hook slipped")),
        StruckOut("A", Written(csv, 4, "csv", 2, "out")),
    )
    assert listed.readings == lines.readings == sheet.readings


def test_readings_of_a_tube_struck_out(tmp_path: Path) -> None:
    rows = "{ bend = 1, angle = 3000, out = true }, { bend = 1, angle = 30, out = false }"
    tables = f"[tubing]\nod = 40\n[[die]]\nclr = 150\n[[tube]]\nname = 'rail'\nreadings = [ {rows} ]\n"
    (rail,) = job_of("", tmp_path, tables).tubes
    assert [reading.name for reading in rail.readings] == ["angle of bend 1"]


def test_lines_in_inches(tmp_path: Path) -> None:
    tables = TABLES.replace("od = 40", "od = 1.5").replace("clr = 150", "clr = 6")
    tables = tables.replace("good_to = 2", "good_to = 0.1").replace("good_to = [2, 4, 6]", "good_to = 0.1")
    reading = reading_of("F tape B1 3' 4-1/2\" good_to 1/8", tmp_path, tables, "in")
    assert reading == Tape("F", "B1", value=40.5 * IN, sd=1 / 16 * IN, typed="F tape B1 3' 4-1/2\"")


@pytest.mark.parametrize(
    ("line", "forward", "left"),
    [
        ("C drop 14, 12-1/2", 14.0, 12.5 * IN),
        ("C drop fwd 14 L 12-1/2", 14.0, 12.5 * IN),
        ("C drop 14, 3 right", 14.0, -3.0),
        ("C drop aft 1 1/2 right 3", -1.5 * IN, -3.0),
        ("C drop 0, 12 1/2 L", 0.0, 12.5 * IN),
    ],
)
def test_two_figures_of_a_drop(line: str, forward: float, left: float, tmp_path: Path) -> None:
    reading = reading_of(line, tmp_path)
    assert isinstance(reading, Drop)
    assert (reading.forward, reading.left) == pytest.approx((forward, left))


def test_csv_with_semicolons_decimal_commas_and_columns_in_another_order(tmp_path: Path) -> None:
    (tmp_path / "readings.csv").write_text(
        "how;Point;from;Value2;value\ntape;A;B1;;500,5\ndrop;A;;R 3,5;1\nalong;F;B1 B2;;7,5\ngap;C;m;0,6 0 0,8;1\n",
        encoding="utf-8",
    )
    frame = frame_of('readings = "readings.csv"\n', tmp_path)
    tape, drop, along, gap = frame.readings
    assert isinstance(tape, Tape)
    assert isinstance(drop, Drop)
    assert isinstance(along, Along)
    assert isinstance(gap, Gap)
    assert (tape.value, drop.left, along.places) == (500.5, -3.5, ("F", "B1", "B2"))
    np.testing.assert_allclose(gap.away, [0.6, 0, 0.8])


@pytest.mark.parametrize(
    ("typed", "habits"),
    [
        ("read_from = 100", TapeHabits(read_from=100.0)),
        ("hook_worn = 0.8\nwarmer = -5", TapeHabits(hook_worn=0.8, warmer=-5.0)),
        ('division = "1/16"', TapeHabits(division=IN / 16)),
        ('class = "ii"', TapeHabits(limits=TAPES["II"])),
    ],
)
def test_habits_of_the_tape(typed: str, habits: TapeHabits, tmp_path: Path) -> None:
    tables = f"[tape]\n{typed}\n{TABLES}"
    for line, of_tape in (("A tape B1 500", True), ("A along B1 B2 500", True), ("A up 500", False)):
        reading = reading_of(line, tmp_path, tables)
        assert getattr(reading, "habits", None) == (habits if of_tape else None)
    off = reading_of("A off B1 B2 500", tmp_path, tables)
    assert isinstance(off, Off)
    assert off.habits == TapeHabits()


def test_floor_that_falls_is_what_heights_are_over(tmp_path: Path) -> None:
    tables = f"[floor]\nat = 10\nfall_forward = 6\nfall_left = -3\nover = 2000\n{TABLES}"
    reading = reading_of("A height 500", tmp_path, tables)
    assert isinstance(reading, Height)
    assert reading.datum == Datum("floor", 10.0, -0.003, 0.0015)


def test_height_over_a_datum(tmp_path: Path) -> None:
    reading = reading_of("A height laser down 500", tmp_path)
    assert (isinstance(reading, Height), reading.typed) == (True, "A height laser down 500")
    assert reading.measured() == (400.0,)


def test_centre_plane(tmp_path: Path) -> None:
    lines = 'readings = """\nA off centre L 30\nF off center plane 3\nC up 4\n"""\n'
    assumed = job_of(lines, tmp_path)
    assert assumed.frame is not None
    assert assumed.frame.planes == (CentrePlane("centre plane", 0.0, 0.0),)
    assert assumed.assumed[-1] == (
        "The centre plane is taken to run straight forward where left is 0, since no pair says where it runs."
    )
    told = frame_of(lines, tmp_path, f'[centre_plane]\noffset = "R 12"\nheading = 2\n{TABLES}')
    assert told.planes == (CentrePlane("centre plane", -12.0, math.radians(2)),)
    found = frame_of(lines, tmp_path, f'[centre_plane]\noffset = "?"\n{TABLES}')
    assert found.planes == (CentrePlane("centre plane"),)


BASES_ONLY = TABLES.replace("at = [0, 0, 0]\n", "").replace('at = [2000, 0, "?"]\n', "")


def test_frame_of_three_bases(tmp_path: Path) -> None:
    lines = "".join(f"{point} tape {base} 900\n" for point in "ACF" for base in ("B1", "B2"))
    tables = f'[frame]\nbases = ["B1", "B2", "sill mark"]\n{BASES_ONLY}'
    frame = frame_of(f'readings = """\n{lines}"""\n', tmp_path, tables)
    assert [place.at for place in frame.places[:3]] == [(0.0, 0.0, 0.0), (None, 0.0, 0.0), (None, None, 0.0)]
    assert frame.words == (
        "B1 is the origin, B2 lies straight forward of it, and sill mark to the left, level with both. "
        "No reading says which way is plumb."
    )


def test_frame_of_pairs(tmp_path: Path) -> None:
    lines = "B1 pair B2\nA pair F\nA height floor 300\nC tape A 5\n"
    frame = frame_of(f'readings = """\n{lines}"""\n', tmp_path, f'[frame]\nzero = "B1"\n{BASES_ONLY}')
    assert frame.planes == (CentrePlane("centre plane", 0.0, 0.0),)
    assert frame.places[0].at == (0.0, None, None)
    assert frame.words == (
        "The centre plane of B1 and B2, A and F is the middle; forward counts from B1; heights are from the floor. "
        "Up is plumb."
    )


def test_base_held_or_good_to_so_much_with_hints(tmp_path: Path) -> None:
    told = 'at = [0, "?", 5]\ngood_to = [2, 4, 6]\nhint = ["Above", "left"]\nnote = "punched"\n'
    tables = TABLES.replace("at = [0, 0, 0]\n", told).replace('at = [2000, 0, "?"]', 'at = "?"')
    frame = frame_of(f'readings = """\n{PLACED}F up 3\n"""\n', tmp_path, tables)
    assert frame.places[:2] == (
        Place("B1", (0.0, None, 5.0), (1.0, 2.0, 3.0), True, ("above", "left")),
        Place("B2", base=True),
    )


def test_bases_without_readings(tmp_path: Path) -> None:
    tables = TABLES.replace('{ name = "A", what = "end" }', '{ name = "A", what = "end", at = [0, 0, 5] }')
    tables = tables.replace('{ name = "C", what = "corner" },', "")
    frame = frame_of("", tmp_path, tables)
    assert ([place.name for place in frame.places], frame.readings) == (["B1", "B2", "sill mark"], ())


ONE_OF_EACH = "A tape B1 5\nA height floor 5\nC drop 4, 4\nC up 5\nA pair C\nF level A\nA below F\n"


def test_accuracies_of_the_job(tmp_path: Path) -> None:
    tables = f"[good_to]\npoint = [2, 4, 6]\ntape = 3\nheight = 1\ndrop = 5\n{TABLES}"
    job = job_of(f'readings = """\n{ONE_OF_EACH}"""\n', tmp_path, tables)
    assert job.frame is not None
    assert [reading.sd for reading in job.frame.readings] == [1.5, 0.5, 2.5, 3.0, 3.0, 0.5, 2.5]
    assert job.assumed == ()


def test_each_accuracy_that_is_assumed_is_said_once(tmp_path: Path) -> None:
    job = job_of(f'readings = """\n{ONE_OF_EACH}F tape B1 9 touched near side\n"""\n', tmp_path)
    assert job.assumed == (
        "Typed points are taken as good to 5 mm, the usual for tape and plumb bob, since the job does not say.",
        "Lengths taped on the vehicle are taken as good to 2.4 mm, the usual for a tape, since the job does not say.",
        "Heights are taken as good to 2 mm, the usual for a rule and a string or a laser line, since the job does not "
        "say.",
        "Plumb drops are taken as good to 3 mm, the usual for a plumb bob, since the job does not say.",
        "What was touched is taken as 40.0 mm OD, the tube's own, where a reading does not say.",
    )


@pytest.mark.parametrize("form", ["list", "lines", "csv"])
def test_spoiled_readings_are_read_or_refused_in_words(form: str, tmp_path: Path) -> None:
    rng = np.random.default_rng(len(form))
    good = {"list": LIST, "lines": LINES, "csv": CSV}[form]
    said: list[str] = []
    for turn in range(200):
        tables = TABLES if turn % 2 else spoiled(TABLES, rng)
        readings = spoiled(good, rng) if turn % 2 else good
        (tmp_path / "readings.csv").write_text(readings, encoding="utf-8")
        try:
            frame = job_of('readings = "readings.csv"\n' if form == "csv" else readings, tmp_path, tables).frame
        except BadFile as fault:
            said += [f"{mistake.what}. {mistake.mend}" for mistake in fault.mistakes]
        else:
            assert frame is None or len(frame.readings) == len(frame.written)
    assert len(said) > 100
    assert all(". " in text and "None" not in text for text in said)


SHEET_TABLES = TABLES[: TABLES.index("points = [")] + 'points = "points.csv"\n'


def test_points_in_a_csv_may_leave_their_places_to_the_readings(tmp_path: Path) -> None:
    """As in the job itself: no place, or a part of it, and a hint which of two answers is meant."""
    (tmp_path / "points.csv").write_text(
        "name,what,x,y,z,hint,good_to\nA,end,,,,,\nm,centre,500,10,700,,2\n"
        "C,corner,?,30,?,below / left,4\nF,end,?,?,?,above,\n",
        encoding="utf-8",
    )
    readings = 'readings = """\nA height floor 30\nC height floor 1\nF height floor 2\n"""\n'
    from_sheet = frame_of(readings, tmp_path, SHEET_TABLES)
    points = (
        'points = [ { name = "A", what = "end" }, { name = "m", what = "centre", at = [500, 10, 700], good_to = 2 },'
        '{ name = "C", what = "corner", at = ["?", 30, "?"], hint = ["below", "left"], good_to = 4 },'
        '{ name = "F", what = "end", at = "?", hint = "above" } ]\n'
    )
    in_job = frame_of(readings, tmp_path, SHEET_TABLES.replace('points = "points.csv"\n', points))
    assert from_sheet.places == in_job.places
    places = {place.name: place for place in in_job.places}
    assert places["C"] == Place("C", (None, 30.0, None), (2.0, 2.0, 2.0), hints=("below", "left"))
    assert places["F"] == Place("F", hints=("above",))
    assert places["A"] == Place("A")
    job = job_of(readings, tmp_path, SHEET_TABLES)
    assert [point.name for point in job.tubes[0].points] == ["m"]
    assert [point.name for point in job.tubes[0].placed] == ["A", "C", "F"]
