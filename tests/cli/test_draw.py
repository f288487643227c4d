"""plumbend draw: which ends, onto which paper, into which file, and what is refused."""

from __future__ import annotations

import functools
import sys
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import pytest

import plumbend_cli.templates.command as command
from plumbend.ends.cuts import EndCut
from plumbend.ends.template import template
from plumbend.job.model import Job
from plumbend.job.reader import read_job
from plumbend.job.results import Result
from plumbend.solving import solve as solve_job
from plumbend_cli.main import run
from support.cut_ends import MITRE, SLANTED, SMALL, cut, header
from support.printed import sheets

SAMPLES = Path(__file__).parents[2] / "samples"
RAIL = str(SAMPLES / "stretcher-rail-points.toml")  # inches, tube "left rail"
HOOP = str(SAMPLES / "ladder-hoop.toml")  # mm


@dataclass(frozen=True)
class Ended:
    """How a run of the program ended: status, standard output, standard error in one line."""

    status: int
    out: str
    err: str


Draw = Callable[..., Ended]


@pytest.fixture
def draw(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Draw:
    """Runs the command on a sample, whose tubes are taken to be cut at their ends like the cuts given."""

    def draw(*words: str, cuts: tuple[EndCut, ...] = (), job: str = RAIL, solved: bool = True) -> Ended:
        def cuts_of(_job: Job, result: Result) -> tuple[EndCut, ...]:
            names = [tube.name for tube in result.tubes]
            return tuple(replace(cut, tube=cut.tube if cut.tube in names else names[0]) for cut in cuts)

        def solve(_job: Job) -> Result:
            result = solved_once(job)
            return replace(result, tubes=tuple(replace(tube, solved=solved) for tube in result.tubes))

        monkeypatch.setattr(command, "cuts_of", cuts_of)
        monkeypatch.setattr(command, "solve", solve)
        monkeypatch.setattr(sys, "argv", ["plumbend", "draw", job, *words])
        with pytest.raises(SystemExit) as ending:
            run()
        streams = capsys.readouterr()
        return Ended(int(ending.value.code or 0), streams.out, " ".join(streams.err.replace("│", " ").split()))

    return draw


@functools.cache
def solved_once(job: str) -> Result:
    return solve_job(read_job(job))


A_AND_F = (replace(SMALL, end="A"), SLANTED)


@pytest.mark.parametrize(
    ("job", "words", "size", "called"),
    [
        (RAIL, (), (215.9, 279.4), "Letter"),
        (HOOP, (), (210.0, 297.0), "A4"),
        (RAIL, ("--paper", "A4"), (210.0, 297.0), "A4"),
        (HOOP, ("--paper", "letter"), (215.9, 279.4), "Letter"),
    ],
)
def test_paper_follows_the_units_unless_said(
    draw: Draw, tmp_path: Path, job: str, words: tuple[str, ...], size: tuple[float, float], called: str
) -> None:
    out = tmp_path / "ends.pdf"
    ended = draw("--what", "template", "--out", str(out), *words, cuts=A_AND_F, job=job)
    assert (ended.status, ended.err) == (0, "")
    assert ended.out.startswith(f"{out}: ")
    assert ", A end; " in ended.out
    assert ended.out.endswith(f", F end, on {called} paper. Print it at 100 %, and check both bars with a rule.\n")
    pages = sheets(out.read_bytes())
    assert sum(bool(page.bars()) for page in pages) == 2
    assert pages[0].size == pytest.approx(size, abs=0.1)


def test_one_end_and_its_table(draw: Draw, tmp_path: Path) -> None:
    out = tmp_path / "f.pdf"
    ended = draw("--what", "template", "--end", "F", "--stations", "24", "--out", str(out), cuts=A_AND_F)
    assert (ended.status, ended.err) == (0, "")
    pages = sheets(out.read_bytes())
    assert sum(bool(page.bars()) for page in pages) == 1
    texts = [words.text.strip() for page in pages for words in page.words]
    assert texts.count("24") == 2  # its number on the pattern and its line in the table
    assert "25" not in texts


@pytest.mark.parametrize(("name", "begins"), [("f.svg", b"<?xml"), ("f.DXF", b"  0\nSECTION")])
def test_a_file_for_a_cutter_is_by_its_name(draw: Draw, tmp_path: Path, name: str, begins: bytes) -> None:
    out = tmp_path / name
    ended = draw("--what", "template", "--end", "F", "--out", str(out), cuts=A_AND_F)
    assert (ended.status, ended.err) == (0, "")
    assert ended.out.endswith(", F end, flat, of the tube's outside, in mm, without paper.\n")
    assert out.read_bytes().replace(b"\r\n", b"\n").startswith(begins)


def test_a_file_that_is_there_is_replaced_whole(draw: Draw, tmp_path: Path) -> None:
    out = tmp_path / "f.svg"
    out.write_text("older")
    assert draw("--what", "template", "--out", str(out), cuts=(MITRE,)).status == 0
    assert out.read_bytes().startswith(b"<?xml")
    assert [path.name for path in tmp_path.iterdir()] == ["f.svg"]


@pytest.mark.parametrize(
    ("words", "cuts", "said"),
    [
        (("--out", "f.pdf", "--tube", "rail"), A_AND_F, '"rail" is no tube of this job. Name left rail.'),
        (("--out", "f.pdf", "--end", "B"), A_AND_F, '"B" is no end that is cut to anything. Name one of A or F.'),
        (
            ("--out", "f.pdf"),
            (),
            f"{RAIL}: no end of its tubes is cut to anything. Say at an end point what it meets, "
            'such as on = "upright", or square = true.',
        ),
        (
            ("--out", "f.pdf", "--tube", "left rail"),
            (),
            f"{RAIL}: no end of the tube is cut to anything. Say at an end point what it meets, "
            'such as on = "upright", or square = true.',
        ),
        (
            ("--out", "f.svg"),
            A_AND_F,
            '"f.svg" holds one flat pattern, and 2 ends are cut: A of left rail and F of left rail. '
            "Say which with --tube and --end, or write a .pdf.",
        ),
    ],
)
def test_what_cannot_be_drawn_is_refused(
    draw: Draw,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    words: tuple[str, ...],
    cuts: tuple[EndCut, ...],
    said: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    ended = draw("--what", "template", *words, cuts=cuts)
    assert (ended.status, ended.out, ended.err) == (2, "", said)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("--what", "template", "--out", "f.png"),
            '"f.png" is no drawing. Name one that ends in .pdf to print, or in .svg or .dxf for a cutter.',
        ),
        (("--what", "template", "--out", "f.svg", "--paper", "a4"), "It is for a PDF alone. Leave it out."),
        (("--what", "template", "--out", "f.dxf", "--stations", "8"), "It is for a PDF alone. Leave it out."),
        (("--what", "template", "--out", "f.pdf", "--stations", "12"), '"12" lines are not laid out. Say 8, 16 or 24.'),
        (("--what", "templates", "--out", "f.pdf"), '"templates" is not template.'),
        (("--what", "template", "--out", "f.pdf", "--paper", "A3"), '"A3" is none of a4, letter.'),
    ],
)
def test_words_that_mean_nothing_here_are_refused(draw: Draw, words: tuple[str, ...], said: str) -> None:
    ended = draw(*words, cuts=A_AND_F)
    assert (ended.status, ended.out) == (2, "")
    assert said in ended.err


def test_a_cut_that_cannot_be_made_is_refused_by_its_name(draw: Draw, tmp_path: Path) -> None:
    out = tmp_path / "f.pdf"
    ended = draw("--what", "template", "--out", str(out), cuts=(cut(44.45, header("lamp bar", 25.4, 90)),))
    assert (ended.status, ended.out) == (3, "")
    assert ended.err == (
        'left rail, F end: The tube is 1-3/4 in OD and "lamp bar" is only 1 in: a saddle cannot be '
        "cut. Let this tube run through and cut the other, or use a plate between them"
    )
    assert not out.exists()


def test_a_tube_that_is_not_solved_is_told(draw: Draw, tmp_path: Path) -> None:
    out = tmp_path / "f.pdf"
    told = f"{RAIL}: left rail has no template, as it is not solved. See why: plumbend solve {RAIL}"
    ended = draw("--what", "template", "--out", str(out), solved=False)
    assert (ended.status, ended.out, ended.err) == (3, "", told)
    assert not out.exists()
    ended = draw("--what", "template", "--out", str(out), cuts=(MITRE,), solved=False)
    assert (ended.status, ended.err) == (3, told)
    assert out.exists()


def test_ends_of_a_job_are_drawn_as_they_are_solved(tmp_path: Path) -> None:
    """Both ends of the brace, a straight tube between two others of the sample."""
    frame, out = str(SAMPLES / "stretcher-frame.toml"), tmp_path / "brace.pdf"
    told, unsolved = command.draw_templates(frame, command.Wanted(str(out), tube="brace"))
    assert unsolved == []
    assert told == [
        f"{out}: brace, A end; brace, F end, on Letter paper. Print it at 100 %, and check both bars with a rule."
    ]
    cuts = solved_once(frame).tubes[-1].cuts
    patterns = [page.thickest() for page in sheets(out.read_bytes()) if page.bars()]
    for cut_end, pattern in zip(cuts, patterns, strict=True):
        line = template(cut_end, units="in").line
        assert pattern - pattern[0] == pytest.approx(line - line[0], abs=0.1)


def test_names_in_letters_that_a_pdf_does_not_have_are_told_and_numbered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    text = (SAMPLES / "trailer-rail.toml").read_text(encoding="utf-8")
    for name, typed in (("winch post", "столб"), ("hand rail", "перила"), ("stay", "poręcz é")):
        text = text.replace(f'"{name}"', f'"{typed}"')
    text = text.replace('name = "F", what = "end", on = "перила"', 'name = "Ж", what = "end", on = "перила"')
    (tmp_path / "rail.toml").write_text(text, encoding="utf-8")
    (tmp_path / "shop.toml").write_bytes((SAMPLES / "shop.toml").read_bytes())
    out = tmp_path / "ends.pdf"
    words = ["plumbend", "draw", str(tmp_path / "rail.toml"), "--what", "template", "--out", str(out)]
    monkeypatch.setattr(sys, "argv", [*words, "--tube", "poręcz é"])
    with pytest.raises(SystemExit) as ending:
        run()
    assert not ending.value.code
    assert capsys.readouterr().out == (
        f"{out}: poręcz é, A end; poręcz é, Ж end, on A4 paper. Print it at 100 %, and check both bars with a rule.\n"
        'A PDF has Western letters alone: in it "столб" is called neighbour 1, "Ж end" is called the far end and '
        '"перила" is called tube 1.\n'
    )
    printed = [" ".join(words.text for words in sheet.words) for sheet in sheets(out.read_bytes())]
    assert ["porecz é, A end" in text for text in printed] == [True, False]
    assert ["porecz é, far end" in text for text in printed] == [False, True]
    assert "neighbour 1: joint 56.1°" in printed[0]
    assert "tube 1: joint 55.6°" in printed[1]
