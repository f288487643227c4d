"""A job is read as far as it goes, and answers go into it in the form that stands there."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from plumbend.errors import BadFile
from plumbend.job.begun_job import add_table, begin_job, begins_with_how, read_typed_line, reading_in, typed_value
from plumbend.job.half_made import HalfMade, TubeSoFar, read_half_made
from plumbend.job.reader import read_job
from plumbend.job.toml_text import Value
from plumbend.job.vehicle_tables import KINDS
from plumbend.job.writing import JobDocument
from plumbend.job.written_rows import Form

SAMPLES = Path(__file__).parents[2] / "samples"
EXAMPLES = [kind.example for kind in KINDS.values()]


def half_made(folder: Path, text: str) -> HalfMade:
    path = folder / "job.toml"
    path.write_text(text)
    return read_half_made(JobDocument.open(path))


def test_every_beginning_of_a_job_can_be_read(tmp_path: Path) -> None:
    """Whole lines of a job put down one after another; a list, a text block or a base with its name goes in as one."""
    shutil.copy(SAMPLES / "shop.toml", tmp_path)
    whole = (SAMPLES / "stretcher-rail.toml").read_text()
    lines = whole.splitlines(keepends=True)
    read = 0
    for count in range(len(lines) + 1):
        text = "".join(lines[:count])
        if text.count('"""') % 2 or text.count("points = [") > text.count("\n]") or text.endswith("[[base]]\n"):
            continue
        half_made(tmp_path, text)
        read += 1
    assert read > 30
    half, job = half_made(tmp_path, whole), read_job(SAMPLES / "stretcher-rail.toml")
    assert job.frame is not None
    assert half.counted == job.frame.readings
    assert half.places == job.frame.places
    (tube,) = half.tubes
    assert (half.units, half.od, tube.bends, tube.name) == (job.units, job.tubing.od, 3, "left rail")


def test_an_end_that_stops_at_what_it_is_on_is_not_asked_for(tmp_path: Path) -> None:
    shutil.copy(SAMPLES / "shop.toml", tmp_path)
    half = half_made(tmp_path, (SAMPLES / "trailer-rail.toml").read_text())
    assert [[point.name for point in tube.points] for tube in half.tubes] == [
        ["A", "a1", "a2", "b1", "b2", "c1", "c2"],
        ["a1", "a2"],
        ["a1", "a2"],
        ["A", "B", "F"],
    ]


def test_an_empty_file_says_nothing(tmp_path: Path) -> None:
    half = half_made(tmp_path, "")
    assert (half.title, half.units, half.od) == (None,) * 3
    assert half.tubes == (TubeSoFar(),)
    assert (half.points, half.places, half.readings, half.dies) == ((), (), (), ())


def test_points_need_no_place_and_readings_may_be_of_points_to_come(tmp_path: Path) -> None:
    half = half_made(
        tmp_path,
        'units = "mm"\nreadings = [{ to = "B", height = 800 }, { to = "C", height = 1, out = true }]\n[[tube]]\n'
        'points = [{ name = "A", what = "end" }, { name = "D", what = "centre", leg = 2, at = [1, 2, 3] }]\n',
    )
    assert [(place.name, place.at) for place in half.places] == [
        ("A", (None, None, None)),
        ("D", (1.0, 2.0, 3.0)),
        ("B", (None, None, None)),
    ]
    assert [(point.name, point.leg, point.has_place) for point in half.points] == [("A", None, False), ("D", 2, True)]
    assert [(one.typed, one.reading is None) for one in half.readings] == [
        ("B height 800", False),
        ("C height 1", True),
    ]


def test_a_frame_that_cannot_come_about_yet_waits(tmp_path: Path) -> None:
    half = half_made(tmp_path, 'units = "mm"\n[frame]\nbases = ["B1", "B2", "B3"]\n[[base]]\nname = "B1"\n')
    assert [place.name for place in half.places] == ["B1"]


@pytest.mark.parametrize(
    ("text", "mistake"),
    [
        ('titel = "x"', '"titel" is not known here. Did you mean "title"?'),
        ('units = "in"\n[tubing]\nod = "1/0"', '"1/0" has a fraction in parts of 0'),
        ('units = "in"\nshop = "none.toml"', 'there is no file "none.toml" beside this one. Check its name.'),
        ('units = "in"\nreadings = [{ to = "A", tape = 3 }]', '"from" is missing. Write from where'),
        ('units = "in"\n[[base]]\nat = [0, 0, 0]', '"name" is missing.'),
        ('units = "in"\n[[tube]]\npoints = [{ name = "A" }]', '"what" is missing.'),
    ],
)
def test_what_is_wrong_is_told(tmp_path: Path, text: str, mistake: str) -> None:
    with pytest.raises(BadFile) as told:
        half_made(tmp_path, text)
    assert mistake in str(told.value)


@pytest.mark.parametrize("line", [*EXAMPLES, "A tape B1 41-3/8 touched near side od 1-1/2 good_to 1/8  # by string"])
@pytest.mark.parametrize("form", ["rows", "lines", "csv"])
def test_a_typed_line_is_written_so_that_it_reads_the_same(tmp_path: Path, form: Form, line: str) -> None:
    path, entry = tmp_path / "job.toml", read_typed_line(line, "in")
    heads = {"rows": "", "lines": 'readings = """\n"""\n', "csv": 'readings = "readings.csv"\n'}
    (tmp_path / "readings.csv").write_text("point,how,value,value2,from,touched,good_to,note\n")
    datum = '[[datum]]\nname = "laser"\nat = 60\n[floor]\nat = 0\n'
    path.write_text(f'units = "in"\n{heads[form]}{datum}')
    document = JobDocument.open(path)
    assert document.readings_form() == form
    document.append_reading(reading_in(form, entry))
    document.save()
    (one,) = read_half_made(document).readings
    other = tmp_path / "other.toml"
    other.write_text(f'units = "in"\nreadings = """\n{line}\n"""\n{datum}')
    (as_typed,) = read_half_made(JobDocument.open(other)).readings
    assert one.reading == as_typed.reading
    assert (one.typed, one.written.note) == (as_typed.typed, as_typed.written.note)
    assert one.reading is not None


@pytest.mark.parametrize(
    ("line", "mistake"),
    [
        ("", "there is no reading in it. Write it like A tape B1 41-3/8."),
        ("out A tape B1 3", "there is no reading in it. Write it like A tape B1 41-3/8."),
        ("A tape B1", "it has no figure. Write it like A tape B1 41-3/8."),
        ("A drop 14,5", '"14,5" is not two figures, how far forward and how far left.'),
    ],
)
def test_a_line_that_is_no_reading_is_refused(line: str, mistake: str) -> None:
    with pytest.raises(BadFile) as told:
        read_typed_line(line, "in")
    assert mistake in str(told.value)


def test_a_comma_needs_no_blank_before_a_word() -> None:
    assert read_typed_line("A drop 0,L 12-1/2", "in").row["drop"] == ["0", "L 12-1/2"]


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("48", 48),
        ("-3", -3),
        ("0.095", 0.095),
        ("48.50", "48.50"),
        ("41-3/8", "41-3/8"),
        (" L  3 ", "L 3"),
        ("inf", "inf"),
        ("nan", "nan"),
        ("1_0", "1_0"),
        ("1e400", "1e400"),
    ],
)
def test_figures_stay_as_they_were_typed(typed: str, value: Value) -> None:
    assert typed_value(typed) == value
    assert type(typed_value(typed)) is type(value)


@pytest.mark.parametrize(
    ("words", "how"),
    [("tape B1 3", True), ("In line B1 B2", True), ("fwd 3", True), ("A tape B1 3", False), ("", False)],
)
def test_a_line_that_leaves_its_point_out_is_known_by_its_first_word(words: str, how: bool) -> None:
    assert begins_with_how(words.split()) is how


def test_a_job_begins_with_what_is_known_alone(tmp_path: Path) -> None:
    document = begin_job(tmp_path / "job.toml", "Rail")
    assert document.data == {"title": "Rail", "tubing": {}, "tube": [{"points": []}]}
    assert not document.path.exists()
    document = begin_job(tmp_path / "job.toml", "Rail", "mm")
    assert document.data["units"] == "mm"
    add_table(document, "die", {"clr": 140})
    document.save()
    assert [die.name for die in read_half_made(JobDocument.open(document.path)).dies] == ["140"]
    assert document.text().index("[[die]]") < document.text().index("[[tube]]")
