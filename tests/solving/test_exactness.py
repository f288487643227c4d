"""Corners without error come back as their own program, through the files and all."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.solving import solve
from support.tubes import OD, RADIUS, random_tube, turn_apart


def test_five_hundred_tubes_of_one_job_come_back_within_a_ten_millionth(tmp_path: Path) -> None:
    rng = np.random.default_rng(500)
    tubes = [random_tube(rng, 1 + i % 8, angles=(0.5, 150.0), straights=(80.0, 700.0)) for i in range(500)]
    lines = [
        'units = "mm"',
        f"[tubing]\nod = {OD}\nwall = 2.4",
        f'[[die]]\nname = "d"\nod = {OD}\nclr = {RADIUS}\ngrip = 79.9\nmax_wrap = 180',
    ]
    for i, tube in enumerate(tubes):
        corners = tube.corners()
        lines.append(f'[[tube]]\nname = "t{i}"\npoints = [')
        for k, (x, y, z) in enumerate(corners.tolist()):
            what = "end" if k in (0, len(corners) - 1) else "corner"
            lines.append(f'  {{ name = "p{k}", what = "{what}", at = [{x!r}, {y!r}, {z!r}] }},')
        lines.append("]")
    path = tmp_path / "many.toml"
    path.write_text("\n".join(lines))
    result = result_to_json(solve(read_job(path)))
    off_mm, off_degrees = [], []
    for tube, found in zip(tubes, result["tubes"], strict=True):
        codes = {notice["code"] for notice in found["notices"] if notice["level"] == "refusal"}
        assert codes <= {"crosses-itself"}  # random tubes do; the tube shown is then the fitted one, unchanged
        assert not found["solved"] or found["legible"] is not None
        off_mm.append(np.abs(found["straights"] - tube.straights).max())
        off_degrees.append(np.abs(found["angles"] - np.degrees(tube.angles)).max())
        off_degrees.append(np.degrees(np.abs(turn_apart(np.radians(found["rotations"]), tube.rotations))).max())
    assert max(off_mm) < 1e-7
    assert max(off_degrees) < 1e-7
