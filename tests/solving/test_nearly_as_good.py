"""A number of bends that would do nearly as well as the one found is said, whole."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from plumbend.job.reader import read_job
from plumbend.notices import Notice
from plumbend.shape.chain import Chain
from plumbend.shape.program import Program
from plumbend.solving import solve
from support.tubes import leg_points

CLR = 139.7


def noticed(folder: Path, slight: float, units: str, told: str = "", radius: float = CLR) -> list[Notice]:
    """What is said of a tube whose last leg leaves the one before by ``slight`` degrees, of its places to 0.1 mm."""
    program = Program(np.array([500.0, 400.0, 500.0]), np.array([0.0, 1.0]), np.radians([60.0, slight]))
    exact = leg_points(Chain.from_program(program, radius), 5, np.random.default_rng(1), 0.0)
    points = [
        f'  {{ name = "{point.name}", what = "{point.what}", at = {[f"{mm:.1f} mm" for mm in point.at]} }},'
        for point in exact
    ]
    head = f'title = "Ladder hoop"\nunits = "{units}"\n[tubing]\nod = "38.1 mm"\nwall = "2 mm"\n'
    die = f'[[die]]\nname = "big"\nod = "38.1 mm"\nclr = "{CLR} mm"\ngrip = "60 mm"\n'
    tube = f'[[tube]]\nname = "hoop"\n{told}points = [\n'
    good = '[good_to]\npoint = "3.2 mm"\n'
    (folder / "job.toml").write_text("\n".join([head, good, die, tube, *points, "]\n"]))
    (result,) = solve(read_job(folder / "job.toml")).tubes
    return [notice for notice in result.notices if notice.code == "nearly-as-good"]


@pytest.mark.parametrize(
    ("slight", "units", "said"),
    [
        (
            1.8,
            "mm",
            "2 bends are found, but 1 would do nearly as well: the points are missed by 1.9 mm instead of 0.0 mm",
        ),
        (1.5, "in", "1 bend is found, but 2 would do nearly as well: the points are missed by 0 in instead of 1/16 in"),
    ],
)
def test_a_runner_up_is_said_with_what_it_misses(tmp_path: Path, slight: float, units: str, said: str) -> None:
    (notice,) = noticed(tmp_path, slight, units)
    assert notice.level == "caution"
    other = said.partition(" but ")[2][0]
    assert notice.text == (
        f"{said} on the whole. Count the bends and say how many, such as bends = {other}, or measure more places on "
        "every leg."
    )


@pytest.mark.parametrize(("slight", "told"), [(1.8, "bends = 2\n"), (3.0, "")])
def test_nothing_is_said_where_bends_are_told_or_clear(tmp_path: Path, slight: float, told: str) -> None:
    assert noticed(tmp_path, slight, "mm", told) == []


@pytest.mark.parametrize("radius", [CLR, 110.0])
def test_it_is_said_of_a_part_to_copy_too(tmp_path: Path, radius: float) -> None:
    (notice,) = noticed(tmp_path, 1.8, "mm", "copied = true\n", radius)
    assert notice.text.startswith(
        "2 bends are found, but 1 would do nearly as well: the points are missed by 1.9 mm instead of 0.0 mm on the"
    )
    assert noticed(tmp_path, 3.0, "mm", "copied = true\n", radius) == []
