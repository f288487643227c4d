"""Readings of odd sizes end in a report or in a message with place and remedy, never in anything else."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from plumbend.advice import measure_next
from plumbend.errors import BadFile, Mistake
from plumbend.job.frame_report import check_to_json
from plumbend.job.model import Job
from plumbend.job.reader import read_job
from plumbend.solving import solve
from plumbend.survey import frame_report, survey

JOB = """
units = "{units}"
readings = \"\"\"
{readings}
\"\"\"
[tubing]
od = "42.4 mm"
[floor]
at = 0
[[datum]]
name = "laser"
at = "900 mm"
[tape]
{tape}
[[die]]
clr = "150 mm"
[[base]]
name = "B1"
at = [0, 0, 0]
[[base]]
name = "B2"
at = ["{far}", 0, 0]
[[tube]]
name = "rail"
bends = 1
points = [
  {{ name = "A", what = "end" }},
  {{ name = "m", what = "corner", at = ["500 mm", "400 mm", "700 mm"] }},
  {{ name = "F", what = "end" }},
]
"""
TAPES = ('class = "i"', 'class = "ii"', 'class = "us"', 'class = "iii"', 'read_from = "10 mm"', 'hook_worn = "-2 mm"')
PLACED = ("A drop 100 mm, 400 mm", "A height floor 500 mm", "F drop 900 mm, 400 mm", "F height floor 500 mm")
KINDS = (
    "A tape B1 {}", "B1 tape B2 {}", "A tape F {}", "A tape A2 {}", "A height floor {}", "A down laser {}",
    "A drop {}, {}", "A forward {}", "A left {}", "A up {}", "A along B1 B2 {}", "A off B1 B2 {}",
    "A off centre plane {}", "A gap F {} away up", "A level F {}", "A tape B1 {} touched far side od 60 mm",
    "A height floor {} touched top od {}", "A tape B1 900 mm good_to {}",
)  # fmt: skip
FIGURES = st.one_of(
    st.sampled_from(
        ["0", "-0", "-5", "0.0001", "1/64", "3/7", "200 m", "9999999", "1e9", "nan", "inf", "L 12", "R 0", "up 200 m"]
    ),
    st.floats(-1e7, 1e7).map(lambda mm: f"{mm:.3f} mm"),
    st.integers(0, 10**18).map(str),
    st.text("0123456789/-.'\" mftinLR", max_size=8),
)


def read_or_told(file: Path) -> tuple[Job | None, Sequence[Mistake]]:
    try:
        return read_job(file), ()
    except BadFile as fault:
        return None, fault.mistakes


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(st.tuples(st.sampled_from(KINDS), FIGURES), min_size=1, max_size=3),
    st.lists(st.sampled_from(PLACED), max_size=4, unique=True),
    st.sampled_from(TAPES),
    st.sampled_from(("1 m", "40 m", "3 km")),
    st.sampled_from(("mm", "in")),
)
@pytest.mark.filterwarnings("error")
def test_odd_readings_end_in_a_report_or_a_message(
    tmp_path: Path, odd: list[tuple[str, str]], placed: list[str], tape: str, far: str, units: str
) -> None:
    lines = [*(kind.format(*[figure] * kind.count("{}")) for kind, figure in odd), *placed]
    file = tmp_path / "job.toml"
    file.write_text(JOB.format(units=units, readings="\n".join(lines), tape=tape, far=far), encoding="utf-8")
    job, mistakes = read_or_told(file)
    if job is None:
        assert mistakes
        assert all(mistake.line is not None and mistake.what and mistake.mend for mistake in mistakes)
        return
    assert job.frame is not None
    found = survey(job, job.frame, job.units)
    assert check_to_json(job.title, frame_report(found))["frame"]["readings"]
    measure_next(job, found, job.units)
    assert solve(job).exit_status in (0, 3)


def test_a_tape_longer_than_its_class_goes_is_told_where_it_stands(tmp_path: Path) -> None:
    file = tmp_path / "job.toml"
    file.write_text(JOB.format(units="mm", readings="A tape B1 200 m", tape='class = "us"', far="1 m"))
    with pytest.raises(BadFile) as caught:
        read_job(file)
    (mistake,) = (mistake for mistake in caught.value.mistakes if mistake.line == 4)
    assert mistake.what == "A tape of this kind has no limit for 200000 mm: it ends at 16764 mm"
    assert mistake.mend == "Measure in two parts."
