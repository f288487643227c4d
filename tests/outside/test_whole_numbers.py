"""Integer least squares against the worked example of its literature.

The float solution, its covariance matrix, the best and the second best integers and their squared distances:
de Jonge & Tiberius, The LAMBDA method for integer ambiguity estimation: implementation aspects, LGR-Series 12, Delft
(1996); Joosten & Tiberius, LAMBDA: FAQs, GPS Solutions 6 (2002). The third is of no source: it follows from going
through all integers.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from plumbend.estimate.lattice import nearest_whole

COVARIANCE = np.array([[6.290, 5.978, 0.544], [5.978, 6.292, 2.340], [0.544, 2.340, 6.288]])
FLOAT = np.array([5.450, 3.100, 2.970])
METRIC = np.linalg.inv(COVARIANCE)


def test_the_best_and_the_second_best_integers() -> None:
    best, second = nearest_whole(METRIC, FLOAT, count=2).best
    assert tuple(best.numbers) == (5, 3, 4)
    assert best.cost == pytest.approx(0.2183310953, abs=1e-9)
    assert tuple(second.numbers) == (6, 4, 4)
    assert second.cost == pytest.approx(0.3072725758, abs=1e-9)
    assert second.cost / best.cost == pytest.approx(1.4074, abs=5e-5)


def test_the_third_follows_from_going_through_all() -> None:
    third = nearest_whole(METRIC, FLOAT, count=3).best[2]
    numbers = np.array(list(product(range(-10, 11), repeat=3))) + np.round(FLOAT)
    off = numbers - FLOAT
    costs = np.einsum("ki,ij,kj->k", off, METRIC, off)
    at = np.argsort(costs)[2]
    assert tuple(third.numbers) == tuple(numbers[at]) == (4, 2, 4)
    assert third.cost == pytest.approx(costs[at], rel=1e-12) == pytest.approx(0.5934096835, abs=1e-9)


def test_rounding_each_by_itself_is_not_among_the_first_three() -> None:
    rounded = tuple(np.round(FLOAT))
    assert rounded == (5, 3, 3)
    assert rounded not in [tuple(whole.numbers) for whole in nearest_whole(METRIC, FLOAT, count=3).best]
