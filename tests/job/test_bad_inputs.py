"""Bad inputs and the whole of what is said about each; the table is bad_inputs.toml."""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest

from plumbend.errors import BadFile
from plumbend.job.reader import read_job, read_shop
from plumbend.job.shape_csv import read_shape
from plumbend.job.toml_parsing import parse_toml

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


@pytest.mark.parametrize("good", ["points", "program", "readings", "alone", "ends"])
def test_the_jobs_to_be_spoilt_are_good(good: str) -> None:
    write("job.toml", GOOD[good])
    assert len(read_job("job.toml").tubes) == GOOD[good].count("[[tube]]")


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
        'point = "1/8"': "height = 0",
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


SLIPS = """\
units = "in"
[tubing]
size = { od = 1, wall = [1, 2] }
at = [
  [0, 1],
  "L 3",
  [
    0, 1
  ],
]
[[tube]]
points = [
  { name = "A", at = [0, "L 12-1/2", 0] },
  { name = "A", at = [0,
     0, 2] },
  { name = "A", at = [
     0
    ] }, # and },
  {name="A"}, {name="b"},
  # foo
  { name = 'A "x"', what = "end's }", at = [["40 5/8"], {a = 3}] }
]
bends = 3
[a.b]
readings = [ { bend = 1, angle = 30.5 },
  { bend = 1, angle = 30.5 } ]
x = 3
"""


@pytest.mark.parametrize("typed", ["", '"', "'", ",", "=", " ", "x", "\n", "[", "]", "{", "}"])
def test_one_slip_is_told_once(typed: str) -> None:
    """Wherever it is made; "" is a character left out."""
    spoilt = [SLIPS[:at] + typed + SLIPS[at + (typed == "") :] for at in range(len(SLIPS))]
    counts = Counter(map(mistakes_in, spoilt))
    assert set(counts) <= {0, 1}
    assert counts[1] > 50


def mistakes_in(text: str) -> int:
    try:
        parse_toml(text, "job.toml")
    except BadFile as fault:
        return len(fault.mistakes)
    return 0


def test_a_shop_without_dies() -> None:
    write("shop.toml", 'units = "in"\n')
    assert said_by(lambda: read_shop("shop.toml")) == (
        'shop.toml: "die" is missing. Write [[die]] and below it clr = "5-1/2".\n'
    )


def test_a_job_is_not_converted() -> None:
    write("rail.toml", GOOD["points"])
    assert said_by(lambda: read_shape(Path("rail.toml"), "in")) == (
        "rail.toml: this is no file of corners or of a program. "
        "Solve it, if it is a job; here go rows of forward, left, up, or of straight, turn, bend.\n"
    )


@pytest.mark.parametrize(
    ("name", "rows", "said"),
    [
        (
            "rail.csv",
            "name,what,x,y,z\nA,end,0,0,0\n",
            'rail.csv, line 1: this is a list of measured points. Name it in a job, points = "rail.csv", '
            "and solve the job: only bare corners can be converted.\n",
        ),
        (
            "probe.csv",
            "1.5,2,3\n" * 60,
            "probe.csv: there are 60 rows, and a tube has at most 40 bends. "
            'If this is a scan, name it in a job, scan = "probe.csv", and solve the job.\n',
        ),
    ],
)
def test_measurements_are_not_converted(name: str, rows: str, said: str) -> None:
    write(name, rows)
    assert said_by(lambda: read_shape(Path(name), "in")) == said


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
