"""``plumbend convert``: from corners, from a program, and what cannot be converted."""

from __future__ import annotations

import io
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from plumbend.units import Units

CORNERS = "forward,left,up\n0,0,0\n24,0,0\n24,L 18,0\n24,18,20\n"
HEADINGS = "Put headings above it: forward, left, up for corners; straight, turn, bend for a program."
U_BEND = "straight,turn,bend\n400,,180\n600,90 ccw,45\n400\n"


def convert(*arguments: str, typed: str = "", cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """The program as installed, in its own process."""
    program = "from plumbend_cli.main import run; run()"
    return subprocess.run(
        [sys.executable, "-c", program, "convert", *arguments],
        input=typed,
        capture_output=True,
        text=True,
        check=False,
        cwd=cwd,
    )


@pytest.mark.parametrize(
    ("name", "typed", "clr", "units"),
    [("convert-corners.txt", CORNERS, "5-1/2", "in"), ("convert-u-bend.txt", U_BEND, "140", "mm")],
)
def test_page(name: str, typed: str, clr: str, units: Units, check_golden: Callable[[str, str], None]) -> None:
    done = convert("--clr", clr, "--units", units, typed=typed)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.isascii()
    check_golden(name, done.stdout)


def test_a_file_and_a_dash_say_the_same(tmp_path: Path) -> None:
    (tmp_path / "corners.csv").write_text(CORNERS, encoding="utf-8")
    of_file = convert("corners.csv", "--clr", "5-1/2", "--units", "in", cwd=tmp_path).stdout.splitlines()
    of_dash = convert("-", "--clr", "5-1/2", "--units", "in", typed=CORNERS).stdout.splitlines()
    assert of_file[0] == "corners.csv, centreline radius 5-1/2 in"
    assert of_dash[0] == "typed lines, centreline radius 5-1/2 in"
    assert of_file[2:] == of_dash[2:]


def test_corners_too_close_for_their_bends_are_refused_by_how_much() -> None:
    done = convert("--clr", "5-1/2", "--units", "in", typed="0,0,0\n24,0,0\n24,L 6,0\n28,6,0\n")
    assert (done.returncode, done.stdout) == (3, "")
    assert done.stderr == (
        "The bends do not fit between the corners: too short is straight 2 by 5 in; straight 3 by 1-1/2 in. "
        "Move those corners apart, or take a die of smaller radius.\n"
    )


def test_many_straights_too_short_are_not_all_told() -> None:
    zigzag = "".join(f"{k},{k % 2},0\n" for k in range(9))
    done = convert("--clr", "5-1/2", "--units", "in", typed=f"forward,left,up\n{zigzag}")
    assert (done.returncode, done.stdout) == (3, "")
    assert done.stderr == (
        "The bends do not fit between the corners: too short is straight 1 by 4-3/32 in; straight 2 by 9-19/32 in; "
        "straight 3 by 9-19/32 in; and 5 more. Move those corners apart, or take a die of smaller radius.\n"
    )


def test_measured_points_are_told_from_corners() -> None:
    samples = Path(__file__).parents[2] / "samples"
    done = convert("ladder-hoop-points.csv", "--clr", "150", "--units", "mm", cwd=samples)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "ladder-hoop-points.csv, line 1: this is a list of measured points. Name it in a job, "
        'points = "ladder-hoop-points.csv", and solve the job: only bare corners can be converted.\n'
    )


def test_bends_that_meet_are_not_refused() -> None:
    done = convert("--clr", "3", "--units", "in", typed="0,0,0\n3,0,0\n3,L 6,0\n0,6,0\n")
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize(
    ("clr", "message"),
    [
        ("5 3 8", 'Invalid value for --clr: "5 3 8" can be read in more than one way. Write 5-3/8 or 5.375.'),
        ("-5", 'Invalid value for --clr: "-5" is no radius. Write one above 0.'),
    ],
)
def test_a_radius_that_is_none_is_asked_back(clr: str, message: str) -> None:
    done = convert("--clr", clr, "--units", "in", typed=CORNERS)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.splitlines()[-1] == f"Error: {message}"


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("", "typed lines: there is nothing in it. Type a row of headings and the rows below it.\n"),
        (
            "0,0,0\n5,5,5\n",
            f"typed lines: this may be corners or a bend program. {HEADINGS}\n",
        ),
        (
            "forward,left,up\n0,0,0\n5,0,0\n0,0,0\n",
            "The tube folds straight back at corner 2: a U-bend has no corner.\n",
        ),
    ],
)
def test_what_cannot_be_understood_ends_with_2(typed: str, message: str) -> None:
    done = convert("--clr", "5", "--units", "in", typed=typed)
    assert (done.returncode, done.stdout, done.stderr) == (2, "", message)


class Keyboard(io.StringIO):
    """A terminal at which someone types."""

    def isatty(self) -> bool:
        return True


def test_one_who_types_at_a_terminal_is_told_how(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    from plumbend_cli.main import run

    monkeypatch.setattr(sys, "argv", ["plumbend", "convert", "--clr", "5-1/2", "--units", "in"])
    monkeypatch.setattr(sys, "stdin", Keyboard(CORNERS))
    monkeypatch.setattr(sys, "platform", "linux")
    with pytest.raises(SystemExit) as ending:
        run()
    assert not ending.value.code
    streams = capsys.readouterr()
    assert streams.err == (
        "Type a line each: forward, left, up of the corners; or straight, turn, bend.\nCtrl-D ends it.\n"
    )
    assert "Corners\n" in streams.out
