"""The wheel holds the two packages, whole, and nothing else."""

from __future__ import annotations

import zipfile
from pathlib import Path

from hatchling.builders.wheel import WheelBuilder

ROOT = Path(__file__).parents[2]


def test_wheel_holds_exactly_the_two_packages(tmp_path: Path) -> None:
    (wheel,) = WheelBuilder(str(ROOT)).build(directory=str(tmp_path), versions=["standard"])
    with zipfile.ZipFile(wheel) as opened:
        names = opened.namelist()
        entry_points = next(opened.read(name).decode() for name in names if name.endswith("entry_points.txt"))
    built = {name for name in names if ".dist-info/" not in name}
    source = {
        file.relative_to(root).as_posix()
        for root, package in ((ROOT / "solver", "plumbend"), (ROOT / "cli", "plumbend_cli"))
        for file in (root / package).rglob("*")
        if file.suffix in (".py", ".typed")
    }
    assert built == source
    assert {name.partition("/")[0] for name in names} - {"plumbend", "plumbend_cli"} == {
        f"{Path(wheel).name.removesuffix('-py3-none-any.whl')}.dist-info"
    }
    assert entry_points.split("\n")[1] == "plumbend = plumbend_cli.main:run"
