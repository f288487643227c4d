"""Each module imports alone, with nothing else of ours loaded and with warnings as errors."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = sorted(
    ".".join(file.relative_to(root).with_suffix("").parts).removesuffix(".__init__")
    for root in (ROOT / "solver", ROOT / "cli")
    for file in root.rglob("*.py")
)


ALONE = """
import importlib, sys
for module in sys.argv[1:]:
    for name in [name for name in sys.modules if name.partition(".")[0] in ("plumbend", "plumbend_cli")]:
        del sys.modules[name]
    try:
        importlib.import_module(module)
    except Exception as error:
        print(f"{module}: {error!r}")
"""


def complaints(modules: list[str]) -> str:
    """What an interpreter in which nothing of ours is loaded says to importing each; nothing where all is well."""
    program = [sys.executable, "-W", "error", "-c", ALONE, *modules]
    done = subprocess.run(program, capture_output=True, text=True, check=True)
    return done.stdout + done.stderr


def test_each_module_imports_alone() -> None:
    assert complaints(MODULES) == ""


def test_a_module_that_is_not_there_is_complained_of() -> None:
    assert complaints(["plumbend.no_such_module"]).startswith("plumbend.no_such_module: ModuleNotFoundError")


@pytest.mark.parametrize(
    ("imported", "absent"),
    [
        ("plumbend.solving, plumbend.job.reader, plumbend_cli.solve_page", "scipy"),
        ("plumbend, plumbend_cli.main", "numpy scipy rich pydantic"),
    ],
)
def test_what_is_heavy_waits_until_it_is_needed(imported: str, absent: str) -> None:
    program = f"import sys, {imported}; print(*sorted(sys.modules.keys() & set({absent.split()!r})))"
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "\n"
