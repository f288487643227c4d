"""While a large scan is worked on a terminal shows what is being done; a pipe, and JSON, never."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from plumbend import read_job, solve
from plumbend.progress import Stage
from plumbend_cli.scan_progress import LARGE
from support.keyboard import Keyboard
from support.tubes import OD, RADIUS, random_tube, scan_places

STAGES = ("reading the scan", "finding the straights", "fitting the tube")


def write_job(folder: Path, count: int) -> Path:
    """A job of one tube with a bend, scanned at ``count`` places."""
    rng = np.random.default_rng(1)
    at = scan_places(random_tube(rng, 1), count, rng, 0.5)
    np.savetxt(folder / "scan.csv", at, fmt="%.2f", delimiter=",", header="x,y,z", comments="")
    job = folder / "job.toml"
    job.write_text(
        f'units = "mm"\n[tubing]\nod = {OD}\nwall = 2.4\n[[die]]\nname = "d"\nod = {OD}\nclr = {RADIUS}\n'
        '[[tube]]\nname = "t"\nbends = 1\nscan = "scan.csv"\n'
    )
    return job


@pytest.fixture(scope="module")
def large_job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write_job(tmp_path_factory.mktemp("large"), LARGE)


def test_a_terminal_is_told_the_stages_of_a_large_scan(large_job: Path) -> None:
    with Keyboard(["solve", large_job.name], large_job.parent, dumb=False) as terminal:
        terminal.wait_for(f"reading the scan: {LARGE + 1:,} lines")
        for stage in STAGES[1:]:
            terminal.wait_for(f"{stage}: {LARGE:,} places")
        assert terminal.ended() == 0
        assert "Numbers to set" in terminal.screen


def test_json_shows_no_bar_at_a_terminal(large_job: Path) -> None:
    with Keyboard(["solve", "--json", large_job.name], large_job.parent, dumb=False) as terminal:
        assert terminal.ended() == 0
        assert json.loads(terminal.screen)["tubes"][0]["solved"]


def test_a_small_scan_shows_no_bar(tmp_path: Path) -> None:
    job = write_job(tmp_path, 500)
    with Keyboard(["solve", job.name], tmp_path, dumb=False) as terminal:
        assert terminal.ended() == 0
        assert "Numbers to set" in terminal.screen
        assert not any(stage in terminal.screen for stage in STAGES)


def test_a_pipe_shows_no_bar_and_loads_none(large_job: Path) -> None:
    code = (
        "import sys\nfrom plumbend_cli.main import app\n"
        f"sys.argv = ['plumbend', 'solve', {str(large_job)!r}]\n"
        "try:\n    app()\nfinally:\n    assert 'rich' not in sys.modules\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "Numbers to set" in done.stdout


def test_the_library_tells_of_every_stage(tmp_path: Path) -> None:
    told: list[tuple[Stage, int]] = []
    job = read_job(write_job(tmp_path, 500), lambda *stage: told.append(stage))
    assert told == [("reading the scan", 501)]
    solve(job, progress=lambda *stage: told.append(stage))
    assert told[1:] == [("finding the straights", 500), ("fitting the tube", 500)]
