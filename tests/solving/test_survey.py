"""Readings of the vehicle become points of tubes, with how they go together; what cannot be placed is refused."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from plumbend.advice import measure_next
from plumbend.errors import BadText
from plumbend.job.frame_report import FrameReport, check_to_json
from plumbend.job.model import Job
from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.solving import solve
from plumbend.survey import frame_report, placed, survey

SAMPLES = Path(__file__).parents[2] / "samples"

HEAD = """
units = "mm"
readings = \"\"\"
{readings}
\"\"\"
[tubing]
od = 42.4
wall = 2.6
[good_to]
tape = 2
height = 2
drop = 2
point = 3
[[die]]
clr = 150
od = 42.4
grip = 60
max_wrap = 120
[[base]]
name = "B1"
at = [0, 0, 0]
[[base]]
name = "B2"
at = [1000, 0, 0]
[[base]]
name = "B3"
at = [1000, 800, 0]
[[base]]
name = "B4"
at = [0, 800, 0]
[[tube]]
name = "rail"
points = [
  {{ name = "A", what = "end" }},
  {{ name = "m", what = "corner", at = [500, 400, 700], good_to = 2 }},
  {{ name = "F", what = "end" }},
]
"""
A = "A drop 100, 400\nA height 500\n"
F = "F drop 900, 400\nF height 500\n"


def job_of(folder: Path, readings: str, extra: str = "") -> Job:
    file = folder / "job.toml"
    file.write_text(HEAD.format(readings=readings) + extra, encoding="utf-8")
    return read_job(file)


def report_of(job: Job, *keep: str) -> FrameReport:
    assert job.frame is not None
    return frame_report(survey(job, job.frame, job.units, keep))


def test_the_sample_solves_to_the_rail_that_was_measured() -> None:
    """The readings were made from the rail of straights 13.66, 11.45, 10.77, 12.98 in with rounding and errors."""
    tube = result_to_json(solve(read_job(SAMPLES / "stretcher-rail.toml")))["tubes"][0]
    assert tube["solved"]
    doubt = tube["doubt"]
    for name, wanted, unit in (
        ("straights", [13.66, 11.45, 10.77, 12.98], 25.4),
        ("rotations", [0.0, -150.66, -29.88], 1.0),
        ("angles", [13.89, 31.66, 27.01], 1.0),
    ):
        off = np.abs(np.array(tube[name]) - np.array(wanted) * unit)
        assert (off <= 2 * np.array(doubt[name]) + 0.01 * unit).all(), name


def test_points_and_their_covariance_go_on_into_the_tube(tmp_path: Path) -> None:
    job = job_of(tmp_path, A + F + "A tape F 800")
    assert job.frame is not None
    found = survey(job, job.frame, "mm")
    tube, refusals = placed(job.tubes[0], found)
    assert refusals == []
    assert [point.name for point in tube.points] == ["A", "m", "F"]
    assert tube.joint is not None
    np.testing.assert_allclose(tube.points[0].at, [100, 400, 500], atol=1e-6)
    # drop and height at 1 mm, the typed corner by itself, and the tape ties A and F along itself:
    # (1/2 inverse sum) by hand: weights 1 each and 1 for their difference give 2/3 and 1/3
    np.testing.assert_allclose(tube.joint[0, [0, 6]], [2 / 3, 1 / 3], rtol=1e-6)
    np.testing.assert_allclose(tube.joint[3:6, 3:6], np.eye(3), rtol=1e-6)
    np.testing.assert_array_equal(tube.joint[3:6, [0, 1, 2, 6, 7, 8]], 0)


def test_a_point_that_readings_do_not_fix_is_refused_and_says_what_to_read(tmp_path: Path) -> None:
    result = solve(job_of(tmp_path, A + "F height 500\nF tape B1 1000"))
    (tube,) = result.tubes
    assert not tube.solved
    assert tube.program is None
    assert [notice.text for notice in tube.notices] == [
        "The readings do not fix where F is. Ways out: take the reading that is asked for above, or type where it is "
        "with at."
    ]
    assert result.frame is not None
    assert any(notice.text.startswith("F can still move") for notice in result.frame.notices)
    found = next(place for place in result.frame.places if place.name == "F")
    assert np.isnan(found.at[:2]).all()
    assert found.at[2] == pytest.approx(500)


def test_what_to_measure_to_check_a_typed_point_is_told(tmp_path: Path) -> None:
    job = job_of(tmp_path, f"{A}{F}A tape B1 648.1\nF tape B3 648.1")
    assert job.frame is not None
    notices = measure_next(job, survey(job, job.frame, "mm"), "mm")
    checks = [notice.text for notice in notices if notice.code.startswith("check-next")]
    assert checks[-1] == "Nothing checks m yet. Measure another place on leg 1, near its far end."


def test_two_answers_are_asked_about_and_a_hint_settles_them(tmp_path: Path) -> None:
    tapes = "F tape B1 1105\nF tape B2 648\nF tape B3 648\nF tape B4 1105\n"
    (asked,) = solve(job_of(tmp_path, A + tapes)).tubes
    assert [notice.text for notice in asked.notices] == [
        "The readings put F in either of two places. Ways out: say by a hint at F which is meant, such as "
        'hint = "above", or take one reading more of it.'
    ]
    text = (tmp_path / "job.toml").read_text(encoding="utf-8")
    (tmp_path / "job.toml").write_text(
        text.replace('name = "F", what = "end"', 'name = "F", what = "end", hint = "above"'), encoding="utf-8"
    )
    (tube,) = solve(read_job(tmp_path / "job.toml")).tubes
    assert tube.solved
    assert tube.points[-1].at[2] == pytest.approx(500, abs=2)


def test_a_height_that_is_wrong_still_says_above(tmp_path: Path) -> None:
    """25 November 2026: without its height the place was as good as below the floor, and asked about."""
    rest = "F tape B1 1105\nF tape B2 648\nF tape B3 648\nF tape B4 1105\nF drop 900, 400\n"
    report = report_of(job_of(tmp_path, A + rest + "F height 750"))
    (wrong,) = [reading for reading in report.readings if reading.verdict == "left out"]
    assert wrong.typed == "F height 750"
    assert wrong.off == pytest.approx(250, abs=2)
    assert np.isnan(wrong.doubt)
    assert next(place for place in report.places if place.name == "F").at[2] == pytest.approx(500, abs=2)
    assert not [notice for notice in report.notices if notice.code == "mirror-answer"]


def test_the_misread_of_the_sample_is_named_and_can_be_kept() -> None:
    job = read_job(SAMPLES / "stretcher-rail-misread.toml")
    report = report_of(job)
    assert [notice.text for notice in report.notices if notice.level == "caution"] == [
        '"A height 43-3/8" looks like 34-3/8 with the digits swapped: then it fits within 1/16. It is left out. Read '
        "it again."
    ]
    (wrong,) = [reading for reading in report.readings if reading.misread]
    assert (wrong.typed, wrong.verdict, wrong.misread) == (
        "A height 43-3/8",
        "left out",
        "34-3/8 with the digits swapped",
    )
    number = str(1 + [reading.typed for reading in report.readings].index("A height 43-3/8"))
    for name in (number, "A height 43-3/8"):
        kept = report_of(job, name)
        assert kept.readings[int(number) - 1].verdict != "left out"
    with pytest.raises(BadText, match=r'"A height 44" is no reading of this job\. Give its number'):
        report_of(job, "A height 44")


def test_the_misread_does_not_spoil_the_program() -> None:
    right, wrong = (solve(read_job(SAMPLES / f"stretcher-rail{name}.toml")).tubes[0] for name in ("", "-misread"))
    assert right.program is not None
    assert wrong.program is not None
    assert wrong.certainty is not None
    off = np.abs(right.program.straights - wrong.program.straights)
    assert (off < wrong.certainty.straights).all()


def test_diagonals_and_halves_are_worked_out(tmp_path: Path) -> None:
    rest = "L drop 300, 200\nL height 400\nR drop 305, R 203\nR height 398\n"
    report = report_of(job_of(tmp_path, A + F + rest))
    (square,) = report.squares
    assert {(one.first, one.second) for one in square.diagonals} == {("B1", "B3"), ("B2", "B4")}
    assert square.difference == pytest.approx(0, abs=1e-9)
    assert square.diagonals[0].distance == pytest.approx(np.hypot(1000, 800))
    (pair,) = report.halves
    assert (pair.left, pair.right) == ("L", "R")
    np.testing.assert_allclose(pair.apart, [-5, -3, 2], atol=1e-6)
    np.testing.assert_allclose(pair.doubt, np.sqrt(2), rtol=1e-6)


def test_json_of_the_check_holds_every_reading(tmp_path: Path) -> None:
    job = job_of(tmp_path, A + "F height 500\nF tape B1 1000\nout F height 900")
    written = json.loads(json.dumps(check_to_json("job", report_of(job)), allow_nan=False))
    assert written["format"] == "plumbend-check/1"
    frame = written["frame"]
    assert [reading["reading"] for reading in frame["readings"]] == [
        "A drop 100, 400",
        "A height 500",
        "F height 500",
        "F tape B1 1000",
    ]
    assert {reading["verdict"] for reading in frame["readings"]} == {"not checked"}
    assert frame["struck_out"] == 1
    assert [reading["number"] for reading in frame["readings"]] == [1, 2, 3, 4]
    assert frame["struck_out_readings"] == [{"number": 5, "reading": "F height 900"}]
    (free,) = [place for place in frame["places"] if place["name"] == "F"]
    assert free["at"][:2] == [None, None]
    assert free["doubt"][2] == pytest.approx(1.0)


def cautions_of(report: FrameReport, code: str) -> list[str]:
    return [notice.text for notice in report.notices if notice.code == code]


def test_what_is_kept_at_the_price_of_others_is_said_to_be_the_reason() -> None:
    job = read_job(SAMPLES / "stretcher-rail-misread.toml")
    report = report_of(job, "A height 43-3/8")
    assert cautions_of(report, "kept-reading") == [
        '"A height 43-3/8" is kept as you asked, and that alone is why "A tape B1 36-9/16" and "A tape B4 38-9/16" had '
        "to go: they contradict it. The readings fit better without it. It looks like 34-3/8 with the digits swapped. "
        "Unless you have read it again, it is the wrong one to keep."
    ]
    assert cautions_of(report, "misread") == []
    verdicts = {reading.typed: (reading.verdict, reading.misread) for reading in report.readings}
    assert verdicts["A height 43-3/8"] == ("kept", "34-3/8 with the digits swapped")
    assert verdicts["A tape B1 36-9/16"] == verdicts["A tape B4 38-9/16"] == ("left out", None)


SWAPPED = "A forward 400\nA left 100\nA height 500\nA tape B1 648.1\nA tape B2 1104.6\n"


@pytest.mark.parametrize("more", ["A tape B3 1104.6\nA tape B4 648\n", "A tape B3 1104.6\n"])
def test_two_figures_swapped_are_one_misread(tmp_path: Path, more: str) -> None:
    """With one tape less, the tapes seem wrong instead; that the figures are swapped explains it all at once."""
    report = report_of(job_of(tmp_path, SWAPPED + more + F + "F tape B3 648\n"))
    assert cautions_of(report, "misread") == [
        '"A forward 400" and "A left 100" look swapped, each the other\'s figure: then all readings of A agree. Both '
        "are left out. Read them again."
    ]
    first, second, *others = report.readings
    assert (first.verdict, first.misread, second.misread) == ("left out", "swapped with 2", "swapped with 1")
    assert [first.off, second.off] == pytest.approx([300, -300], abs=0.5)
    assert {reading.verdict for reading in others} == {"fits"}
    (at,) = [place.at for place in report.places if place.name == "A"]
    np.testing.assert_allclose(at, [100, 400, 500], atol=0.5)


def test_two_figures_that_may_be_swapped_stay_where_a_place_needs_them(tmp_path: Path) -> None:
    report = report_of(job_of(tmp_path, SWAPPED + F + "F tape B3 648\n"))
    assert cautions_of(report, "misread") == [
        '"A tape B2 1104.6" is about 317 mm too much, and no usual slip explains it. It is left out. Read it again.',
        'Or "A forward 400" and "A left 100" are swapped, each the other\'s figure: then all readings of A agree. Both '
        "stay in, for A needs them. Read them again.",
    ]


@pytest.mark.parametrize(("hint", "is_against"), [("below", True), ("above", False), ("aft", False)])
def test_a_hint_that_the_readings_go_against_is_told(tmp_path: Path, hint: str, is_against: bool) -> None:
    tapes = "A tape B1 648.1\nA tape B2 1104.6\nA tape B3 1104.6\nA height 500\n"
    text = HEAD.format(readings=tapes + F).replace('what = "end" },', f'what = "end", hint = "{hint}" }},', 1)
    job = tmp_path / "job.toml"
    job.write_text(text)
    against = [
        'A has the hint "below", but the readings put it 500 mm above B1 and further from the others. Take the hint '
        "out or turn it round; if it is right, a reading of A is wrong."
    ]
    assert cautions_of(report_of(read_job(job)), "hint-against-readings") == (against if is_against else [])


@pytest.mark.parametrize("turned", [False, True])
def test_of_readings_that_cannot_be_told_apart_the_first_typed_comes_first(tmp_path: Path, turned: bool) -> None:
    heights = ["A height 517.3", "A height 546.9"]
    typed = [*(heights[::-1] if turned else heights), "A drop 100, 400"]
    report = report_of(job_of(tmp_path, "\n".join(typed) + "\n" + F))
    (caution,) = cautions_of(report, "misread")
    assert caution.startswith(
        "One of these is wrong, and the others cannot tell which: " + " or ".join(f'"{line}"' for line in typed[:2])
    )
