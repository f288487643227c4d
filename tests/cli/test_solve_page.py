"""The page of ``plumbend solve``, held to whole pages and to what no page may say."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from plumbend.job.model import Job
from plumbend.job.reader import read_job
from plumbend.job.results import PartRadius, Result
from plumbend.notices import Level, Notice
from plumbend.shape.program import Program
from plumbend.solving import solve
from plumbend.units import Units
from plumbend_cli.page import Paragraph, show
from plumbend_cli.program_page import TANGENT_HEADING, VIEWPOINT, program_blocks, size_text, turn_text
from plumbend_cli.solve_page import solve_page
from support.end_jobs import BARE_HEAD, tube_table

Solved = tuple[Job, Result]
STATES = ("good", "to_set", "refused", "lost", "straight", "evidence")


def page_of(solved: Solved, units: Units, screen: io.StringIO | None = None) -> str:
    out = io.StringIO() if screen is None else screen
    show(solve_page(*solved, units), out)
    return out.getvalue()


class Terminal(io.StringIO):
    """A screen of whatever width COLUMNS says."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("units", ["in", "mm"])
@pytest.mark.parametrize("state", STATES)
def test_piped_page(
    state: str, units: Units, request: pytest.FixtureRequest, check_golden: Callable[[str, str], None]
) -> None:
    page = page_of(request.getfixturevalue(state), units)
    assert page.replace("±", "").isascii()
    assert all(len(line) <= 80 and line == line.rstrip() for line in page.splitlines())
    check_golden(f"{state}-{units}.txt", page)


@pytest.mark.parametrize("columns", ["40", "120"])
@pytest.mark.parametrize("state", STATES)
def test_terminal_page_keeps_to_its_width_and_to_one_accent(
    state: str, columns: str, request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    monkeypatch.setenv("TERM", "xterm-256color")
    monkeypatch.delenv("NO_COLOR", raising=False)
    page = page_of(request.getfixturevalue(state), "in", Terminal())
    assert set(re.findall(r"\x1b\[([0-9;]*)m", page)) == {"0", "1", "1;36"}
    words = re.sub(r"\x1b\[[0-9;]*m", "", page)
    assert words.replace("±", "").isascii()
    assert max(map(len, words.splitlines())) <= int(columns)


@pytest.mark.parametrize("state", STATES)
def test_a_pipe_that_is_no_unicode_gets_plain_letters(state: str, request: pytest.FixtureRequest) -> None:
    solved: Solved = request.getfixturevalue(state)
    carried = io.BytesIO()
    pipe = io.TextIOWrapper(carried, encoding="cp1252", newline="\n")
    show(solve_page(*solved, "in"), pipe)
    pipe.flush()
    page = carried.getvalue().decode("ascii")
    assert page.split() == page_of(solved, "in").replace("±", "+/-").split()
    assert max(map(len, page.splitlines())) <= 80


def test_terminal_says_the_same_words_as_the_pipe(good: Solved, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    screen = re.sub(r"\x1b\[[0-9;]*m", "", page_of(good, "in", Terminal())).split()
    piped = [word for word in page_of(good, "in").split() if set(word) - set("=-") or word == "-"]
    assert screen == piped


@pytest.mark.parametrize(
    ("degrees", "text"),
    [
        (30.0, "30.0 clockwise"),
        (-149.1, "149.1 counter-clockwise"),
        (0.0, "0.0"),
        (-0.04, "0.0"),
        (0.06, "0.1 clockwise"),
        (179.94, "179.9 clockwise"),
        (-179.94, "179.9 counter-clockwise"),
        (-179.96, "180.0 either way"),
        (180.0, "180.0 either way"),
    ],
)
def test_turn_at_and_around_the_ends_of_its_range(degrees: float, text: str) -> None:
    assert turn_text(math.radians(degrees)) == text


@pytest.mark.parametrize(
    ("mm", "units", "text"),
    [
        (38.1, "in", "1-1/2 in"),
        (0.095 * 25.4, "in", "0.095 in"),
        (0.120 * 25.4, "in", "0.12 in"),
        (1.315 * 25.4, "in", "1.315 in"),
        (40.0, "in", "1.575 in"),
        (44.45, "mm", "44.45 mm"),
        (100.0, "mm", "100 mm"),
    ],
)
def test_bought_sizes_are_not_rounded_to_a_tape(mm: float, units: Units, text: str) -> None:
    assert size_text(mm, units) == text


def test_tangents_are_measured_from_both_ends() -> None:
    program = Program(np.array([100.0, 50.0, 70.0]), np.zeros(2), np.array([1.0, 2.0]))
    page = io.StringIO()
    show(program_blocks(program, 10.0, ("A end", "F end"), "mm"), page)
    after = page.getvalue().partition(TANGENT_HEADING)[2].splitlines()
    # bend 1 lies from 100 to 110 and bend 2 from 160 to 180, of 250 in all
    assert [line.split() for line in after[3:5]] == [["1", "100.0", "140.0"], ["2", "160.0", "70.0"]]


@pytest.mark.parametrize("units", ["in", "mm"])
@pytest.mark.parametrize("state", STATES)
def test_no_page_uses_statistics_words_or_a_minus_zero(
    state: str, units: Units, request: pytest.FixtureRequest
) -> None:
    page = page_of(request.getfixturevalue(state), units)
    forbidden = r"sigma|chi|covarian|residual|degrees? of freedom|deviation|(?<![\w.-])-0(\.0)?(?![\d/-])"
    assert re.search(forbidden, page) is None


def test_cautions_stand_once_for_a_run_of_two_tubes(good: Solved) -> None:
    page = page_of(good, "in")
    assert page.count("plumbend certifies nothing") == 1
    assert page.count("taken as good to") == 1


def test_refusals_come_first_wherever_they_stand(refused_for: Callable[..., Solved]) -> None:
    levels: tuple[Level, ...] = ("not-checked", "note", "caution", "refusal")
    page = page_of(refused_for(*(Notice(level, level, f"text of {level}") for level in levels)), "in")
    said = [line for line in page.splitlines() if "text of" in line]
    assert said == [
        "CANNOT BE BENT: text of refusal",
        "Caution: text of caution",
        "Note: text of note",
        "- text of not-checked",
    ]


@pytest.mark.parametrize(
    ("code", "shown"),
    [
        ("short-straight", "the nearest tube that can be bent, and it may not fit."),
        ("die-od", "the nearest tube found, and it cannot be made as it stands."),
        ("crosses-itself", "the nearest tube found, and it cannot be made as it stands."),
    ],
)
def test_a_refused_tube_says_what_its_numbers_are(code: str, shown: str, refused_for: Callable[..., Solved]) -> None:
    page = page_of(refused_for(Notice(code, "refusal", "Why.")), "in")
    assert f"the reasons stand below. What follows is {shown}" in " ".join(page.split())


def test_long_names_keep_the_page_to_its_width(refused: Solved) -> None:
    job, result = refused
    name = "the upper bolt of the bracket behind the battery box, where the paint is scratched"
    tubes = tuple(replace(tube, name=name, ends=(name, "F")) for tube in result.tubes)
    page = page_of((job, replace(result, tubes=tubes)), "in")
    assert max(map(len, page.splitlines())) <= 80
    assert f"From {name} end to F end." in " ".join(page.split())


def test_a_number_is_never_parted_from_its_unit() -> None:
    page = io.StringIO()
    show([Paragraph("x" * 71 + " 57-3/4 in and more")], page)
    assert page.getvalue() == "x" * 71 + "\n57-3/4 in and more\n"


def test_no_sense_stands_without_its_viewpoint(good: Solved) -> None:
    for tube in " ".join(page_of(good, "in").split()).split("OD x")[1:]:
        assert f"counter-{VIEWPOINT}" in tube


def test_a_start_that_a_limit_holds_is_shown_as_held(good: Solved) -> None:
    _, result = good
    tube = result.tubes[0]
    assert tube.certainty is not None
    assert tube.program is not None
    known = replace(tube.certainty, tangents=np.array([[0.0, 3.0], [0.0, np.nan], [2.0, 3.0]]))
    page = io.StringIO()
    show(program_blocks(tube.program, 100.0, ("A end", "F end"), "mm", known), page)
    after = page.getvalue().partition(TANGENT_HEADING)[2].splitlines()
    assert [line.split() for line in after[3:6]] == [
        ["1", "346.2", "held", "999.5", "6.0"],
        ["2", "664.8", "held", "not", "fixed"],
        ["3", "989.5", "4.0", "332.5", "6.0"],
    ]


@pytest.mark.parametrize(
    ("doubt", "said"), [(3.3, "113.0 ± 7.0 mm"), (math.nan, "about 113.2 mm, which is not well told")]
)
def test_a_copy_says_what_radius_the_part_has(evidence: Solved, doubt: float, said: str) -> None:
    job, result = evidence
    tubes = (replace(result.tubes[0], part=PartRadius(113.2, doubt)),)
    page = " ".join(page_of((job, replace(result, tubes=tubes)), "mm").split())
    assert f"Copied from a part whose own bends have a centreline radius of {said}; the die bends 139.7 mm." in page


@pytest.mark.parametrize(("units", "marked"), [("in", []), ("mm", ["o1"])])
def test_no_point_is_called_worst_beside_a_nought(evidence: Solved, units: Units, marked: list[str]) -> None:
    job, result = evidence
    fit = result.tubes[0].fit
    assert fit is not None
    fit = replace(fit, points=tuple(replace(missed, miss=0.3) for missed in fit.points))
    page = page_of((job, replace(result, tubes=(replace(result.tubes[0], fit=fit),))), units)
    assert [line.split()[0] for line in page.splitlines() if line.endswith("<- worst")] == marked


def test_a_tube_of_readings_alone_has_no_table_of_points(evidence: Solved) -> None:
    job, result = evidence
    tube = result.tubes[0]
    assert tube.fit is not None
    alone = replace(tube, fit=replace(tube.fit, points=(), worst=None, scan=None))
    page = page_of((replace(job, tubes=(replace(job.tubes[0], points=()),)), replace(result, tubes=(alone,))), "in")
    assert "Points, and" not in page
    assert "Scan" not in page
    assert "turn before bend 2" in page


def test_places_on_the_body_say_on_which_side_they_are_missed(tmp_path: Path) -> None:
    job = tmp_path / "stay.toml"
    stay = tube_table(
        "stay",
        0,
        "A end at = [0, 0, 0]",
        "f touch gap = 5, at = [400, 0, -28]",
        "g touch at = [500, 0, -18]",
        "k clear at = [600, 0, 40]",
        "F end at = [1000, 0, 0]",
    )
    job.write_text(BARE_HEAD + stay, encoding="utf-8")
    read = read_job(str(job))
    page = page_of((read, solve(read)), "mm")
    words = {line.split()[0]: line for line in page.splitlines() if re.match(r"  [fgk] +(touch|clear)", line)}
    assert "too far off" in words["f"]
    assert "too near" in words["g"]
    assert words["k"].endswith("to spare")
