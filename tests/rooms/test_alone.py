"""Each module imports alone, in a fresh interpreter and with warnings as errors."""

from __future__ import annotations

import os
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULES = sorted(
    ".".join(file.relative_to(root).with_suffix("").parts).removesuffix(".__init__")
    for root in (ROOT / "solver", ROOT / "cli")
    for file in root.rglob("*.py")
)


def complaint(module: str) -> str:
    """What a fresh interpreter says to ``import module``; nothing where all is well."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", f"import {module}"], capture_output=True, text=True, check=False
    )
    return f"{module}: {done.stderr}" if done.returncode or done.stderr else ""


def test_each_module_imports_alone() -> None:
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        assert "".join(pool.map(complaint, MODULES)) == ""


def test_a_module_that_is_not_there_is_complained_of() -> None:
    assert "ModuleNotFoundError" in complaint("plumbend.no_such_module")


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
