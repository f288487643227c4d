"""What all tests share: one thread for linear algebra, and the program's commands built once.

The matrices are small, and threads of several test workers wait for each other. The commands are the same at every run
of the program, and building them takes as long as reading a job.
"""

from __future__ import annotations

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # before numpy is loaded for the first time

from collections.abc import Iterator
from functools import cache

import pytest
import typer.main


@pytest.fixture(scope="session", autouse=True)
def commands_built_once() -> Iterator[None]:
    """Each worker builds the commands when it first runs the program, and never again."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(typer.main, "get_command", cache(typer.main.get_command))
        yield
