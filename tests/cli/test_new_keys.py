"""``plumbend new`` at a real terminal, key by key."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from support.keyboard import CTRL_C, CTRL_D, Keyboard
from support.rail_session import BASE_TAPES, FILE, POINTS, SETTING_UP, lines_written

SAMPLES = Path(__file__).parents[2] / "samples"
QUESTIONS = (
    "Title > ",
    "in or mm > ",
    "Use shop.toml? [y] > ",
    "OD > ",
    "Wall > ",
    "Tube [Stretcher rail, left] > ",
    "Die [1] > ",
    "Bends > ",
    "Names [A B C D E F G H] > ",
    "Bases [B1 B2 B3 B4] > ",
    "B1 [0, 0, 0] > ",
    "B2 [?, 0, 0] > ",
    "B3 [?, ?, 0] > ",
    "B4 [?, ?, 0] > ",
)
PAIRS = ("B1 to B2 > ", "B2 to B3 > ", "B3 to B4 > ", "B4 to B1 > ", "B1 to B3 > ", "B2 to B4 > ")
TYPED_PLACES = {
    "D": "at 23-1/2, L 13-3/8, 41-5/8",
    "E": "at 29-9/16, L 14-1/8, 42-5/8",
    "F": "at 37-1/2, L 15-1/2, 41-3/4",
    "G": "at 44-1/4, L 16, 38-3/4",
    "H": "at 51-7/8, L 15-15/16, 34",
}


def plumbend(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", "from plumbend_cli.main import run; run()", *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
        stdin=subprocess.DEVNULL,
    )


def test_a_session_killed_half_way_and_gone_on_with_loses_nothing(tmp_path: Path) -> None:
    shutil.copy(SAMPLES / "shop.toml", tmp_path)
    with Keyboard(["new"], tmp_path) as keys:
        for question, line in zip((*QUESTIONS, *PAIRS), (*SETTING_UP, *BASE_TAPES), strict=True):
            keys.answer(question, line)
        for line in POINTS["A"]:
            keys.answer("A > ", line)
        assert "From above; forward is to the right:" in keys.wait_for("A is fixed and checked.")
        keys.answer("A > ", "")
        for line in POINTS["B"][:2]:
            keys.answer("B > ", line)
        keys.wait_for("B > ")
        keys.type("height 35-")  # the lid closes on a line half typed
        keys.kill()

    half = (tmp_path / FILE).read_text()
    with Keyboard(["new", FILE], tmp_path) as keys:
        keys.wait_for(f"Going on with {FILE}.")
        for line in POINTS["B"][2:]:
            keys.answer("B > ", line)
        keys.answer("B > ", "")
        for line in POINTS["C"]:
            keys.answer("C > ", line)
        keys.answer("C > ", "")
        for name, line in TYPED_PLACES.items():
            keys.answer(f"{name} > ", line)
            keys.answer(f"{name} > ", "")
        keys.answer("more > ", "done")
        keys.wait_for(f"The job is complete and saved. Next:\n  plumbend solve {FILE}\n")
        assert keys.ended() == 0

    text = (tmp_path / FILE).read_text()
    assert text.startswith(half.partition("]\n\n[tubing]")[0])
    for line in ('od = "1-1/2"', "wall = 0.095", 'die = "5-1/2"', 'name = "left rail"', "bends = 3"):
        assert line in half
        assert line in text
    for name, line in TYPED_PLACES.items():
        figures = [part if "/" in part or "L" in part else int(part) for part in line[3:].split(", ")]
        assert f'{{ name = "{name}"' in text
        assert f"at = {json.dumps(figures)}" in text
    solved = plumbend(tmp_path, "solve", FILE, "--json")
    assert (solved.returncode, solved.stderr) == (0, "")
    readings = [reading["reading"] for reading in json.loads(solved.stdout)["frame"]["readings"]]
    assert readings == [line for line in lines_written() if line[0] in "ABC"]


@pytest.mark.parametrize("key", [CTRL_C, CTRL_D])
def test_ctrl_c_and_ctrl_d_end_politely(tmp_path: Path, key: str) -> None:
    with Keyboard(["new", "rail"], tmp_path) as keys:
        keys.answer("Title > ", "Rail")
        keys.wait_for("in or mm > ")
        keys.press(key, "Everything is saved. Go on with:\n  plumbend new rail.toml\n")
        assert keys.ended() == 0
    assert 'title = "Rail"' in (tmp_path / "rail.toml").read_text()


def test_enter_and_then_ctrl_d_leave_nothing_behind(tmp_path: Path) -> None:
    with Keyboard(["new"], tmp_path) as keys:
        keys.answer("Title > ", "")
        keys.wait_for("A job needs a title. Ctrl-C ends it.")
        keys.wait_for("Title > ")
        keys.press(CTRL_D, "Nothing was begun.")
        assert keys.ended() == 0
    assert list(tmp_path.iterdir()) == []


def test_plain_plumbend_offers_jobs_in_a_terminal_and_help_elsewhere(tmp_path: Path) -> None:
    piped = plumbend(tmp_path)
    assert piped.returncode == 2
    assert "Usage: " in piped.stdout
    with Keyboard([], tmp_path) as keys:
        keys.answer("Title > ", "Rail")  # nothing to go on with yet
        keys.answer("in or mm > ", "done")
        assert keys.ended() == 0
    with Keyboard([], tmp_path) as keys:
        keys.wait_for("1  rail.toml")
        keys.answer("\n> ", "1")
        keys.wait_for("Going on with rail.toml.")
        keys.answer("in or mm > ", "done")
        assert keys.ended() == 0
    assert "Not said yet: the units" in " ".join(keys.screen.split())


def test_a_file_that_is_wrong_ends_with_2_and_its_mistakes(tmp_path: Path) -> None:
    (tmp_path / "rail.toml").write_text('units = "furlong"\n')
    done = plumbend(tmp_path, "new", "rail.toml")
    assert done.returncode == 2
    assert done.stderr.startswith('rail.toml, line 1 (units): "furlong" ')
