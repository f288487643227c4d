"""The ± of places is honest: 5000 simulated measurings of one frame.

Four bases on a floor, the first given and the second straight forward of it, with sides, diagonals and heights; seven
points over them by tapes, heights, plumb drops, a level and an offset from a known centre plane: 37 readings, each of
about the usual accuracy, 10 numbers more than needed. A mean of squares over 5000 has a standard error of 0.02.
"""

from __future__ import annotations

import multiprocessing
from concurrent.futures import ProcessPoolExecutor

import numpy as np
import pytest

from support.frames import squared_errors

WORKERS = 2


def test_errors_of_every_coordinate_are_as_large_as_their_doubts(monkeypatch: pytest.MonkeyPatch) -> None:
    # the workers import numpy afresh: with one thread each they do not get in each other's way
    monkeypatch.setenv("OPENBLAS_NUM_THREADS", "1")
    with ProcessPoolExecutor(WORKERS, multiprocessing.get_context("spawn")) as pool:
        squares = np.concatenate(list(pool.map(squared_errors, [2500, 2500], [11, 12])))
    each = squares.mean(axis=0)
    assert squares.shape == (5000, 29)
    assert 0.97 < squares.mean() < 1.03
    assert each.min() > 0.9
    assert each.max() < 1.1
