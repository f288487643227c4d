"""The commands end to end: what goes to which stream, and how they end."""

from __future__ import annotations

import io
import json
import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

import pytest

import plumbend.job.reader
import plumbend.solving
from plumbend.asking import Why
from plumbend.errors import BadFile, Mistake
from plumbend.job.model import Job
from plumbend.job.result_json import result_to_json
from plumbend.job.results import Result
from plumbend.making.habit import Habit
from plumbend.units import Units
from plumbend_cli.main import run

SAMPLES = Path(__file__).parents[2] / "samples"
JOBS = tuple(sorted(path for path in SAMPLES.glob("*.toml") if not path.name.startswith("shop")))


@dataclass(frozen=True)
class Ended:
    """How a run of the program ended."""

    status: int
    out: str
    err: str


class Bench:
    """Runs the program in this process, with the library's answer put in its way where a test wants one."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self.monkeypatch, self.capsys = monkeypatch, capsys

    def answer(self, solved: tuple[Job, Result]) -> None:
        self.asked_in: list[Units | None] = []
        self.asked_to_keep: list[tuple[str, ...]] = []
        self.asked_why: list[Why | None] = []
        self.habits: list[Habit | None] = []

        def solve(
            _job: Job,
            units: Units | None = None,
            keep: Sequence[str] = (),
            why: Why | None = None,
            habit: Habit | None = None,
            _progress: object = None,
        ) -> Result:
            self.asked_why.append(why)
            self.habits.append(habit)
            self.asked_in.append(units)
            self.asked_to_keep.append(tuple(keep))
            return solved[1]

        self.monkeypatch.setattr(plumbend.job.reader, "read_job", lambda _path, _progress: solved[0])
        self.monkeypatch.setattr(plumbend.solving, "solve", solve)

    def run(self, *arguments: str, typed: str = "") -> Ended:
        self.monkeypatch.setattr(sys, "argv", ["plumbend", *arguments])
        self.monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        with pytest.raises(SystemExit) as ending:
            run()
        streams = self.capsys.readouterr()
        return Ended(int(ending.value.code or 0), streams.out, streams.err)


@pytest.fixture
def bench(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Bench:
    return Bench(monkeypatch, capsys)


def test_what_is_to_be_kept_is_handed_on(bench: Bench, good: tuple[Job, Result]) -> None:
    bench.answer(good)
    bench.run("solve", "rail.toml", "--keep", "c2", "--keep", "angle of bend 2")
    assert bench.asked_to_keep == [("c2", "angle of bend 2")]


def test_why_and_the_gap_are_handed_on(bench: Bench, good: tuple[Job, Result]) -> None:
    bench.answer(good)
    for words in ((), ("--why",), ("--why", "--gap", "1/8")):
        assert bench.run("solve", "rail.toml", *words).status == 0
    assert bench.asked_why == [None, Why(), Why(3.175)]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--gap", "1/8"), "It goes with --why. Say that too."),
        (("--why", "--gap", "0"), '"0" is no gap. Write one above 0.'),
    ],
)
def test_a_gap_that_is_none_is_refused(
    bench: Bench, good: tuple[Job, Result], words: tuple[str, ...], said: str
) -> None:
    bench.answer(good)
    ended = bench.run("solve", "rail.toml", *words)
    assert ended.status == 2
    assert said in " ".join(ended.err.replace("│", " ").split())


def test_how_he_works_is_handed_on(bench: Bench, good: tuple[Job, Result]) -> None:
    bench.answer(good)
    words = ("--begin", "middle", "--marks", "both", "--measure", "last bend", "--trim", "50 mm")
    bench.run("solve", "rail.toml", *words)
    bench.run("solve", "rail.toml")
    assert bench.habits == [Habit("both", "last bend", "middle", 50.0), Habit()]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--begin", "left"), '"left" is none of start, far, middle.'),
        (("--trim", "-1"), '"-1" would cut into the part. Write 0 or more.'),
    ],
)
def test_a_way_of_working_that_is_none_is_refused(
    words: tuple[str, str], said: str, bench: Bench, good: tuple[Job, Result]
) -> None:
    bench.answer(good)
    ended = bench.run("solve", "rail.toml", *words)
    assert (ended.status, ended.out) == (2, "")
    assert said in " ".join(ended.err.split())


def test_a_name_to_be_kept_that_is_none_is_refused(bench: Bench) -> None:
    ended = bench.run("solve", str(SAMPLES / "grab-rail.toml"), "--keep", "c9")
    assert (ended.status, ended.out) == (2, "")
    assert ended.err.startswith('"c9" is no point or reading of this job. ')


def test_all_solved_ends_with_0(bench: Bench, good: tuple[Job, Result]) -> None:
    bench.answer(good)
    ended = bench.run("solve", "rail.toml")
    assert (ended.status, ended.err) == (0, "")
    assert ended.out.startswith("Stretcher rail, left\n")


def test_a_refused_tube_ends_with_3_and_still_shows_everything(bench: Bench, refused: tuple[Job, Result]) -> None:
    bench.answer(refused)
    ended = bench.run("solve", "rail.toml")
    assert (ended.status, ended.err) == (3, "rail.toml: left rail cannot be bent as asked.\n")
    assert "CANNOT BE BENT: The straight between bend 2 and bend 3 is 1-1/4 in" in ended.out
    assert "13-5/8" in ended.out


def test_json_stands_alone_on_standard_output(bench: Bench, refused: tuple[Job, Result]) -> None:
    bench.answer(refused)
    ended = bench.run("solve", "rail.toml", "--json")
    assert (ended.status, ended.err) == (3, "rail.toml: left rail cannot be bent as asked.\n")
    assert json.loads(ended.out) == json.loads(json.dumps(result_to_json(refused[1])))


def test_units_are_the_jobs_own_or_those_asked_for(bench: Bench, good: tuple[Job, Result]) -> None:
    bench.answer(good)
    assert "13-1/8" in bench.run("solve", "rail.toml").out
    assert "332.5" in bench.run("solve", "rail.toml", "--units", "mm").out
    assert bench.asked_in == ["in", "mm"]


@pytest.mark.parametrize("flags", [[], ["--json"]])
def test_a_bad_file_ends_with_2_and_its_mistakes_alone(bench: Bench, flags: list[str]) -> None:
    mistakes = [
        Mistake("rail.toml", 3, "tubing, od", '"1 1 2" can be read in more than one way', "Write 1-1/2."),
        Mistake("rail.toml", 9, "", "no such key", "Leave it out."),
    ]

    def read_job(_path: object, _progress: object) -> NoReturn:
        raise BadFile(mistakes)

    bench.monkeypatch.setattr(plumbend.job.reader, "read_job", read_job)
    ended = bench.run("solve", "rail.toml", *flags)
    assert ended == Ended(2, "", f"{mistakes[0]}\n{mistakes[1]}\n")


def test_a_file_that_is_not_there_ends_with_2(bench: Bench) -> None:
    ended = bench.run("solve", "no-such.toml")
    assert (ended.status, ended.out) == (2, "")
    assert ended.err == ("no-such.toml: there is no such file. Check the name and the folder that you are in.\n")


def test_an_unknown_option_ends_with_2_and_no_traceback(bench: Bench) -> None:
    ended = bench.run("solve", "rail.toml", "--colour")
    assert (ended.status, ended.out) == (2, "")
    assert "No such option: --colour" in ended.err


def test_json_has_no_other_units(bench: Bench) -> None:
    ended = bench.run("solve", "rail.toml", "--json", "--units", "mm")
    assert (ended.status, ended.out) == (2, "")
    said = "Error: Invalid value for --units: JSON is always in mm and degrees. Leave --units out."
    assert ended.err.splitlines()[-1] == said


@pytest.mark.parametrize("command", [("solve", "rail.toml"), ("convert", "--clr", "5")], ids=lambda words: words[0])
def test_units_that_are_none_to_work_in(bench: Bench, command: tuple[str, ...]) -> None:
    ended = bench.run(*command, "--units", "cm")
    assert (ended.status, ended.out) == (2, "")
    said = "Error: Invalid value for '--units': \"cm\" is not a unit to work in. Say in or mm."
    assert ended.err.splitlines()[-1] == said


@pytest.mark.parametrize("job", JOBS, ids=lambda path: path.name)
@pytest.mark.parametrize("units", ["in", "mm"])
def test_samples_solve_on_a_plain_page(bench: Bench, job: Path, units: Units) -> None:
    ended = bench.run("solve", str(job), "--units", units)
    assert (ended.status, ended.err) == (0, "")
    assert ended.out.replace("±", "").isascii()
    assert max(map(len, ended.out.splitlines())) <= 80


@pytest.mark.parametrize("units", ["in", "mm"])
@pytest.mark.parametrize(
    ("sample", "taken_out", "said"),
    [
        ("grab-rail.toml", r"(?s)points = \[.*\]", ("first straight", "last straight")),
        ("boarding-hoop.toml", r".*end = \"far\".*", ("straight between bend 1 and bend 2", "last straight")),
    ],
)
def test_what_is_no_longer_measured_is_not_fixed_and_says_why(
    bench: Bench, tmp_path: Path, sample: str, taken_out: str, said: tuple[str, ...], units: Units
) -> None:
    for path in SAMPLES.iterdir():
        (tmp_path / path.name).write_bytes(path.read_bytes())
    text, count = re.subn(taken_out, "", (SAMPLES / sample).read_text(encoding="utf-8"))
    assert count == 1
    (tmp_path / sample).write_text(text, encoding="utf-8")
    ended = bench.run("solve", str(tmp_path / sample), "--units", units)
    page = " ".join(ended.out.split())
    assert (ended.status, ended.err) == (0, "")
    assert page.count("Nothing fixes how") == len(said)
    assert all(straight in page for straight in said)
    assert "last not fixed" in page
    assert "The finished length is not fixed, since an end is not: no length is given." in page
    assert re.search(r"\bnan\b", page) is None


@pytest.mark.parametrize("job", JOBS, ids=lambda path: path.name)
def test_samples_solve_to_json(bench: Bench, job: Path) -> None:
    ended = bench.run("solve", str(job), "--json")
    assert (ended.status, ended.err) == (0, "")
    assert json.loads(ended.out)["format"] == "plumbend-result/1"


def test_a_shop_file_is_no_job(bench: Bench) -> None:
    ended = bench.run("solve", str(SAMPLES / "shop.toml"))
    assert (ended.status, ended.out) == (2, "")
    assert ended.err.splitlines() == [
        f'{SAMPLES / "shop.toml"}: "tubing" is missing. Write [tubing] and below it od = "1-1/2".',
        f'{SAMPLES / "shop.toml"}: "tube" is missing. Write [[tube]] and below it its name and points.',
    ]
