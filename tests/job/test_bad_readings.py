"""Bases and readings of the vehicle that are wrong, and the whole of what is said; the table is bad_readings.toml."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from plumbend.errors import BadFile
from plumbend.job.reader import read_job

TABLE = tomllib.loads(Path(__file__).with_name("bad_readings.toml").read_text(encoding="utf-8"))
GOOD: dict[str, str] = TABLE["good"]
ROWS = f"{GOOD['rows']}]\n{GOOD['tables']}"
LINES = f'{GOOD["lines"]}"""\n{GOOD["tables"]}'
SHEET = f'units = "mm"\nreadings = "readings.csv"\n{GOOD["tables"]}'


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An empty folder to work in, so that files are named as a user names them."""
    monkeypatch.chdir(tmp_path)


def said_of(job: str) -> str:
    Path("job.toml").write_text(job, encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        read_job("job.toml")
    return f"{caught.value}\n"


@pytest.mark.parametrize("job", [ROWS, LINES, SHEET], ids=["rows", "lines", "csv"])
def test_the_jobs_to_be_spoilt_are_good(job: str) -> None:
    Path("readings.csv").write_text(GOOD["csv"], encoding="utf-8")
    Path("job.toml").write_text(job, encoding="utf-8")
    frame = read_job("job.toml").frame
    assert frame is not None
    assert [reading.typed for reading in frame.readings] == ["A tape B1 900", "F down laser 30"]


@pytest.mark.parametrize("case", TABLE["rows"], ids=lambda case: case["typed"])
def test_mistake_in_a_row(case: dict[str, str]) -> None:
    assert said_of(f"{GOOD['rows']}  {case['typed']},\n]\n{GOOD['tables']}") == case["said"]


@pytest.mark.parametrize("case", TABLE["lines"], ids=lambda case: case["typed"])
def test_mistake_in_a_line(case: dict[str, str]) -> None:
    assert said_of(f'{GOOD["lines"]}{case["typed"]}\n"""\n{GOOD["tables"]}') == case["said"]


@pytest.mark.parametrize("case", TABLE["csv"], ids=lambda case: case["csv"])
def test_mistake_in_a_csv_of_readings(case: dict[str, str]) -> None:
    Path("readings.csv").write_text(case["csv"], encoding="utf-8")
    assert said_of(SHEET) == case["said"]


@pytest.mark.parametrize("case", TABLE["tops"], ids=lambda case: case["typed"])
def test_readings_that_are_none(case: dict[str, str]) -> None:
    assert said_of(f'units = "mm"\n{case["typed"]}\n{GOOD["tables"]}') == case["said"]


@pytest.mark.parametrize("case", TABLE["tables"], ids=lambda case: case["new"])
def test_mistake_in_what_readings_are_taken_from(case: dict[str, str]) -> None:
    assert GOOD["tables"].count(case["old"]) == 1
    assert said_of(LINES.replace(case["old"], case["new"])) == case["said"]


def test_tape_too_long_for_its_class() -> None:
    lines = LINES.replace("A tape B1 900", "A tape B1 20000").replace("[tubing]", '[tape]\nclass = "us"\n[tubing]')
    assert said_of(lines) == (
        'job.toml, line 3 (line "A tape B1 20000"): A tape of this kind has no limit for 20000 mm: it ends at '
        "16764 mm. Measure in two parts.\n"
    )


def test_names_that_mistakes_may_hide_are_not_called_slips() -> None:
    points = GOOD["tables"].index("points = [")
    job = f'{GOOD["lines"]}f tape B1 300\n"""\n{GOOD["tables"][:points]}points = "none.csv"\n'
    assert said_of(job) == (
        'job.toml, line 23 (tube "rail", points): there is no file "none.csv" beside this one. Check its name.\n'
    )


def test_slips_in_names_are_told_beside_all_other_mistakes() -> None:
    job = LINES.replace("A tape B1 900", "A tape b1 900\nA hieght 30").replace(
        'name = "m1", what = "centre"', 'name = "m1"'
    )
    assert said_of(job) == (
        'job.toml, line 3 (line "A tape b1 900", from): there is no base or point "b1". Did you mean "B1"? Capitals '
        "and blanks count in a name.\n"
        'job.toml, line 4 (line "A hieght 30"): "hieght" is no way to measure. Did you mean "height"?\n'
        'job.toml, line 25 (tube "rail", point "m1"): "what" is missing. Write what = "end", "corner", "centre", '
        '"outside", "touch" or "clear".\n'
    )
