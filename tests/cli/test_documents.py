"""README.md, .ci/run and the examples in the help say what works."""

from __future__ import annotations

import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.shop import Ways
from plumbend.solving import solve
from plumbend_cli.main import app

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
GUIDE = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")


def blocks(language: str, text: str = README) -> list[list[str]]:
    """The lines of every fenced block in ``language``."""
    return [found.splitlines() for found in re.findall(rf"^```{language}\n(.*?)^```$", text, re.M | re.S)]


SETUP, TESTS, *EXAMPLES = blocks("sh")
COMMANDS = [line for block in EXAMPLES for line in block]


def run_in_shell(line: str, folder: Path = ROOT) -> subprocess.CompletedProcess[str]:
    """One line in a shell inside a folder, with this interpreter's plumbend first on the path."""
    path = os.pathsep.join((str(Path(sys.executable).parent), os.environ["PATH"]))
    return subprocess.run(
        ["sh", "-c", line], cwd=folder, env={**os.environ, "PATH": path}, capture_output=True, text=True, check=False
    )


def test_first_block_sets_up_and_solves_the_main_sample() -> None:
    assert SETUP == [
        "python3 -m venv .venv && .venv/bin/pip install -q . && .venv/bin/plumbend solve samples/stretcher-rail.toml"
    ]
    done = run_in_shell(SETUP[0].rpartition("&& ")[2].removeprefix(".venv/bin/"))
    assert (done.returncode, done.stderr) == (0, "")


def test_second_block_sets_up_and_runs_the_tests_as_ci_does() -> None:
    assert TESTS == ['python3 -m venv .venv && .venv/bin/pip install -q -e ".[dev]" && .venv/bin/python -m pytest -n 2']
    ci = ROOT / ".ci" / "run"
    assert ci.read_text(encoding="utf-8").splitlines()[-1:] == TESTS
    assert os.access(ci, os.X_OK)


def test_powershell_says_the_same() -> None:
    def steps(line: str) -> list[str]:
        plain = line.replace("\\", "/").replace("Scripts", "bin").replace("py -m", "python3 -m")
        return [step.strip() for step in re.split("&&|;", plain)]

    (powershell,) = blocks("powershell")
    assert [steps(line) for line in powershell] == [steps(SETUP[0]), steps(TESTS[0])]


@pytest.mark.parametrize("line", COMMANDS)
def test_every_other_command_of_the_readme_works(line: str, tmp_path: Path) -> None:
    (tmp_path / "samples").symlink_to(ROOT / "samples")  # what is written goes elsewhere than into the checkout
    done = run_in_shell(line, tmp_path)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout


def test_every_command_is_shown_in_the_readme() -> None:
    shown = {shlex.split(line.rpartition("| ")[2])[1] for line in COMMANDS}
    # these ask and wait, so their blocks are not run here but by tests of their own
    asking = {shlex.split(block[0])[2] for block in blocks("text")}
    assert asking == {"new", "calibrate"}
    assert shown | asking == {command.callback.__name__ for command in app.registered_commands if command.callback}


def test_the_job_in_the_readme_reads(tmp_path: Path) -> None:
    text, _, readings, _, good_to, habit, *_ = blocks("toml")
    file = tmp_path / "job.toml"
    # readings of the tube go in below its points
    file.write_text("\n".join([*text, *readings, *good_to, *habit]), encoding="utf-8")
    job = read_job(file)
    assert job.ways == Ways("both", "last bend", "middle", 50.8)
    assert job.tubes[0].names == ["A", "B", "C", "F"]
    assert len(job.tubes[0].readings) == 5
    assert job.assumed == ()
    (tube,) = solve(job).tubes
    assert tube.solved
    assert not [notice for notice in tube.notices if notice.level == "caution"]


def test_the_places_on_the_body_and_the_demands_in_the_readme_read(tmp_path: Path) -> None:
    text, points, _, demands, *_ = blocks("toml")
    file = tmp_path / "job.toml"
    second = ["[[tube]]", 'name = "right rail"', "bends = 3", *points, *demands]
    file.write_text("\n".join([*text, *second]), encoding="utf-8")
    tube = read_job(file).tubes[1]
    assert [(point.name, point.what, point.standoff.called) for point in tube.points] == [
        ("f", "touch", None),
        ("k", "clear", "lamp bracket"),
    ]
    assert [demand.name for demand in tube.demands] == [
        "leg 2 level",
        "leg 1 along forward",
        "leg 3 parallel to leg 1",
        "bend 2 of 90 degrees",
        "equal angles at bends 1 and 3",
        "the tube symmetric",
    ]
    assert [(beside.tube, beside.other) for beside in tube.beside] == [("left rail", 2)]


def test_the_ends_in_the_readme_are_met(tmp_path: Path) -> None:
    (ends,) = [block for block in blocks("toml") if "[[neighbour]]" in block]
    head = ['units = "in"', "[tubing]", 'od = "1-1/2"', "wall = 0.095", "[[die]]", 'clr = "5-1/2"', *ends]
    file = tmp_path / "job.toml"
    file.write_text("\n".join(head), encoding="utf-8")
    (tube,) = solve(read_job(file)).tubes
    assert tube.solved
    assert [(met.end, met.on) for met in tube.met] == [("K", ("deck",)), ("M", ("upright",))]


@pytest.mark.parametrize("text", [README, GUIDE], ids=["README", "DEVELOPERS"])
def test_every_file_that_a_document_names_is_there(text: str) -> None:
    named = re.findall(r"(?:solver|cli|tests|samples|\.ci)/[\w./-]*\w", text)
    assert [name for name in named if not (ROOT / name).exists()] == []


def test_the_readme_tells_every_key_of_the_json() -> None:
    result = result_to_json(solve(read_job(ROOT / "samples" / "stretcher-frame.toml")))
    _, _, table = README.partition("| key of a tube |")
    table, _, _ = table.partition("\n\n")
    told = [key for row in table.splitlines()[2:] for key in re.findall(r"`(\w+)`", row.split("|")[1])]
    assert sorted(told) == sorted(result["tubes"][0])
    paragraph = README[README.index("`--json` writes") :].partition(", each with the keys below")[0]
    assert set(result) <= set(re.findall(r"`(\w+)`", paragraph))


def test_the_readme_tells_every_exit_status() -> None:
    from plumbend.errors import PlumbendError, Refused

    told = set(map(int, re.findall(r"^\| (\d) \|", README, re.M)))
    assert told == {0, PlumbendError.exit_status, Refused.exit_status}


def test_the_script_in_the_readme_runs(tmp_path: Path) -> None:
    (script,) = blocks("python")
    (tmp_path / "samples").symlink_to(ROOT / "samples")
    (tmp_path / "script.py").write_text("\n".join(script), encoding="utf-8")
    done = subprocess.run([sys.executable, "script.py"], cwd=tmp_path, capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
    assert "nan" not in done.stdout
    assert done.stdout.count("Program(") == 4


def test_the_readme_tells_every_key_of_the_files() -> None:
    from plumbend.job import frame_tables as frame
    from plumbend.job import tables as t
    from plumbend.job.neighbours import NeighbourTable
    from plumbend.job.tables import Table

    known: dict[str, type[Table]] = {
        "top of a job": t.JobFile,
        "[tubing]": t.TubingTable,
        "[good_to]": t.GoodToTable,
        "[[base]]": frame.BaseTable,
        "[[datum]]": frame.DatumTable,
        "[floor]": frame.FloorTable,
        "[tape]": frame.TapeTable,
        "[centre_plane]": frame.CentrePlaneTable,
        "[frame]": frame.FrameTable,
        "[[tube]]": t.TubeTable,
        "a point": t.PointRow,
        "a row of program": t.ProgramRow,
        "[[neighbour]]": NeighbourTable,
        "a shop": t.ShopFile,
        "[[die]]": t.DieTable,
        "a row of test_bends": t.TestBendRow,
        "[bender]": t.BenderTable,
        "[notcher]": t.NotcherTable,
        "[habit]": t.HabitTable,
    }
    _, _, told = README.partition("## Every key")
    told, _, _ = told.partition("\n## ")
    rows = [line.split("|") for line in told.splitlines() if line.startswith("| ")][1:]
    assert [heading.replace("`", "").strip() for _, heading, *_ in rows] == list(known)
    tables = {name.strip("[]") for name in known if name.startswith("[")}
    for (_, _, keys, _), table in zip(rows, known.values(), strict=True):
        typed = {field.alias or name for name, field in table.model_fields.items()}
        # a key that opens a table of its own has a row of its own
        in_files = typed - tables if table in (t.JobFile, t.ShopFile) else typed
        assert set(re.findall(r"`(\w+)`", keys)) == in_files, table
