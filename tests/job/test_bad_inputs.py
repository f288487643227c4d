"""Bad inputs and the whole of what is said about each; the table is bad_inputs.toml."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest

from plumbend.errors import BadFile
from plumbend.job.reader import read_job, read_shop
from plumbend.job.shape_csv import read_shape
from plumbend.job.toml_faults import parse_toml

TABLE = tomllib.loads(Path(__file__).with_name("bad_inputs.toml").read_text(encoding="utf-8"))
GOOD: dict[str, str] = TABLE["good"]


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An empty folder to work in, so that files are named as a user names them, with the good shop in it."""
    monkeypatch.chdir(tmp_path)
    write("shop.toml", GOOD["shop"])


def write(name: str, text: str) -> None:
    Path(name).write_text(text, encoding="utf-8", newline="")


def said_by(read: Callable[[], object]) -> str:
    with pytest.raises(BadFile) as caught:
        read()
    return f"{caught.value}\n"


@pytest.mark.parametrize("good", ["points", "program", "readings", "alone"])
def test_the_jobs_to_be_spoilt_are_good(good: str) -> None:
    write("job.toml", GOOD[good])
    assert len(read_job("job.toml").tubes) == 1


@pytest.mark.parametrize("case", TABLE["job"], ids=lambda case: case["new"])
def test_mistake_in_a_job(case: dict[str, str]) -> None:
    good = GOOD[case["good"]]
    assert good.count(case["old"]) == 1
    write("job.toml", good.replace(case["old"], case["new"]))
    assert said_by(lambda: read_job("job.toml")) == case["said"]


@pytest.mark.parametrize("case", TABLE["syntax"], ids=lambda case: case["typed"])
def test_text_that_is_not_toml(case: dict[str, str]) -> None:
    assert said_by(lambda: parse_toml(case["typed"], "job.toml")) == case["said"]


@pytest.mark.parametrize("case", TABLE["points"], ids=lambda case: case["csv"])
def test_mistake_in_a_csv_of_points(case: dict[str, str]) -> None:
    write("job.toml", GOOD["csv"])
    write("points.csv", case["csv"])
    assert said_by(lambda: read_job("job.toml")) == case["said"]


@pytest.mark.parametrize("case", TABLE["scan"], ids=lambda case: case["csv"])
def test_mistake_in_a_scan(case: dict[str, str]) -> None:
    write("job.toml", GOOD["scan"])
    write("scan.csv", case["csv"])
    assert said_by(lambda: read_job("job.toml")) == case["said"]


@pytest.mark.parametrize("case", TABLE["shape"], ids=lambda case: case["typed"])
def test_mistake_in_corners_or_a_program(case: dict[str, str]) -> None:
    assert said_by(lambda: read_shape(case["typed"], "in")) == case["said"]


def test_all_mistakes_of_all_files_in_one_pass() -> None:
    spoilt = {
        "title =": "titel =",
        'od = "1-1/2"\nwall': 'od = "1 1 2"\nwall',
        'point = "1/8"': "height = 1",
        "bends = 2": "bends = 1",
        "leg = 2": "leg = 9",
        '"L 12-1/2"': '"up 3"',
        'name = "F"': 'name = "b"',
    }
    text = GOOD["points"]
    for old, new in spoilt.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    write("job.toml", text + '\n[[tube]]\nname = "other"\npoints = "points.csv"\n')
    write("shop.toml", GOOD["shop"].replace("max_wrap", "wrap"))
    write("points.csv", "name,what,x,y,z\nA,end,0,0,5-Mar\nF,ende,9,9,9\n")
    assert said_by(lambda: read_job("job.toml")) == TABLE["together"]["said"]


def test_nested_too_deep() -> None:
    said = said_by(lambda: parse_toml("a = " + "[" * 5000, "job.toml"))
    assert said == "job.toml: brackets stand inside brackets too deep. Take some out.\n"


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (None, "job.toml: there is no such file. Check the name and the folder that you are in.\n"),
        (b"\xff\xfeu\0", "job.toml: this file is saved as UTF-16. Save it again as UTF-8.\n"),
        (
            b'\ntitle = "Gel\xe4nder"',
            "job.toml, line 2: a character here is not saved as UTF-8. Save the file again as UTF-8.\n",
        ),
    ],
    ids=["missing", "UTF-16", "Windows Latin"],
)
def test_file_that_cannot_be_read(data: bytes | None, said: str) -> None:
    if data is not None:
        Path("job.toml").write_bytes(data)
    assert said_by(lambda: read_job("job.toml")) == said


def test_folder_in_place_of_a_file() -> None:
    Path("jobs").mkdir()
    assert said_by(lambda: read_shop("jobs")) == "jobs: this is a folder, not a file. Name the file inside it.\n"
