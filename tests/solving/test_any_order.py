"""Jobs whose points are typed in any order, solved whole."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from plumbend.job.reader import read_job
from plumbend.job.results import TubeResult
from plumbend.solving import solve

SAMPLES = Path(__file__).parents[2] / "samples"
SAMPLE = (SAMPLES / "stretcher-rail-points.toml").read_text()


def solved(folder: Path, text: str) -> TubeResult:
    (folder / "shop.toml").write_text((SAMPLES / "shop.toml").read_text())
    (folder / "job.toml").write_text(text)
    (tube,) = solve(read_job(folder / "job.toml")).tubes
    return tube


def in_any_order(seed: int) -> str:
    """The sample with its points shuffled, A still typed before F."""
    head, rows, tail = SAMPLE.partition("  { name")[0], SAMPLE.split("\n"), "]\n"
    points = [row for row in rows if row.startswith("  { name")]
    ends = [points[0], points[-1]]
    Random(seed).shuffle(points)
    for place, end in zip(sorted(points.index(end) for end in ends), ends, strict=True):
        points[place] = end
    return head.replace("bends = 3", "ordered = false") + "\n".join(points) + "\n" + tail


def names(text: str) -> list[str]:
    return [row.split('"')[1] for row in text.split("\n") if row.startswith("  { name")]


@pytest.mark.parametrize("seed", [1, 2])
def test_the_result_is_that_of_the_same_points_in_order(tmp_path: Path, seed: int) -> None:
    wanted, text = solved(tmp_path, SAMPLE), in_any_order(seed)
    found = solved(tmp_path, text)
    assert found.program is not None
    assert wanted.program is not None
    assert found.fit is not None
    assert wanted.fit is not None
    assert names(text) != names(SAMPLE)
    assert [point.name for point in found.points] == [point.name for point in found.fit.points] == names(text)
    assert found.ends == wanted.ends == ("A", "F")
    assert found.program.straights.tolist() == pytest.approx(wanted.program.straights.tolist(), abs=1e-3)
    misses = {point.name: point.miss for point in found.fit.points}
    assert misses == pytest.approx({point.name: point.miss for point in wanted.fit.points}, abs=1e-3)
    assert found.fit.worst is not None
    assert wanted.fit.worst is not None
    assert found.points[found.fit.worst].name == wanted.points[wanted.fit.worst].name
    assert {notice.code for notice in found.notices} - {notice.code for notice in wanted.notices} == {"points-in-order"}
    along = ", ".join(point.name for point in wanted.points)
    (order,) = [notice.text for notice in found.notices if notice.code == "points-in-order"]
    assert order == f"Along the tube, the points were taken in this order: {along}."


def test_a_wrong_point_is_named_among_points_in_any_order(tmp_path: Path) -> None:
    text = in_any_order(3).replace('["22-15/16", "L 13-1/4", "41-3/8"]', '["22-15/16", "L 13-1/4", "43-3/8"]')
    found = solved(tmp_path, text)
    assert found.fit is not None
    assert [point.name for point in found.fit.points if point.suspect] == ["c2"]
    assert found.ends == ("A", "F")


def test_the_start_is_said_where_no_end_is_told(tmp_path: Path) -> None:
    text = in_any_order(1).replace('"end"', '"centre"').replace(" bend = 1,", "")
    for leg in range(1, 5):
        text = text.replace(f" leg = {leg},", "")
    found = solved(tmp_path, text)
    first, (start, far) = names(text)[0], found.ends
    assert {start, far} == {"A", "F"}
    (said,) = [notice for notice in found.notices if notice.code == "start-end"]
    assert said.text == (
        f"No end is told: {start} is taken to be at the start end. {first} was typed first, and is nearer to it. "
        f"To start at the other, type {far} first, or make an end of it."
    )


def test_a_place_to_keep_clear_of_may_be_typed_first(tmp_path: Path) -> None:
    """It lies above the middle of the second leg, far enough off to hold nothing, and names no end."""
    clear = '  { name = "lamp", what = "clear", gap = "1/2", at = [20, 13, 50] },\n'
    text = in_any_order(2)
    first = text.index("  { name")
    found, wanted = solved(tmp_path, text[:first] + clear + text[first:]), solved(tmp_path, text)
    assert found.solved
    assert found.ends == wanted.ends == ("A", "F")
    assert found.points[0].name == "lamp"
    assert found.program is not None
    assert wanted.program is not None
    assert found.program.straights.tolist() == pytest.approx(wanted.program.straights.tolist(), abs=1e-3)
