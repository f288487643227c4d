"""The cheapest whole numbers are found, against going through all of them."""

from __future__ import annotations

import math
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.errors import BadValue
from plumbend.estimate.lattice import IntArray, nearest_whole
from plumbend.frames import FloatArray


def leaning_metric(rng: np.random.Generator, size: int) -> FloatArray:
    """A metric whose numbers lean on each other, stiff one way and soft another."""
    ways = rng.normal(size=(size, size)) * np.exp(rng.normal(size=size))[:, None]
    metric: FloatArray = ways.T @ ways + 0.02 * np.eye(size)
    return metric


def all_within(metric: FloatArray, centre: FloatArray, cost: float) -> list[tuple[float, tuple[int, ...]]]:
    """All whole numbers that cost no more, cheapest first, by going through the box that must hold them."""
    half = np.sqrt(cost * np.diagonal(np.linalg.inv(metric)))
    ranges = [
        range(math.ceil(low), math.floor(high) + 1) for low, high in zip(centre - half, centre + half, strict=True)
    ]
    numbers = np.array(list(product(*ranges)))
    off = numbers - centre
    costs = np.einsum("ki,ij,kj->k", off, metric, off)
    return sorted((one, tuple(row)) for one, row in zip(costs.tolist(), numbers.tolist(), strict=True) if one <= cost)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(seed=st.integers(0, 2**32 - 1), size=st.integers(1, 4))
def test_no_whole_numbers_are_cheaper(seed: int, size: int) -> None:
    rng = np.random.default_rng(seed)
    metric, centre = leaning_metric(rng, size), 5 * rng.normal(size=size)
    found = nearest_whole(metric, centre, count=3)
    assert found.proven
    assert len(found.best) == 3
    wanted = all_within(metric, centre, found.best[-1].cost * (1 + 1e-9))
    assert [tuple(whole.numbers) for whole in found.best] == [numbers for _, numbers in wanted[:3]]
    assert [whole.cost for whole in found.best] == pytest.approx([cost for cost, _ in wanted[:3]], rel=1e-9)


def test_none_that_costs_much_more_than_the_best_is_given() -> None:
    metric = np.diag([1.0, 4.0])
    found = nearest_whole(metric, np.array([0.4, 0.1]), count=20, within=2.5)
    # 0.16 + 0.04 and 0.36 + 0.04; the next would be 1.96 + 0.04
    assert [tuple(whole.numbers) for whole in found.best] == [(0, 0), (1, 0)]
    assert found.proven


@settings(max_examples=40, deadline=None, derandomize=True)
@given(seed=st.integers(0, 2**32 - 1), size=st.integers(1, 4))
def test_limits_of_single_numbers_are_those_of_a_judge_that_keeps_to_them(seed: int, size: int) -> None:
    rng = np.random.default_rng(seed)
    metric, centre = leaning_metric(rng, size), 5 * rng.normal(size=size)
    least, most = centre + rng.uniform(-1, 1, size), np.full(size, np.inf)
    most[0] = least[0] + 4

    def judge(numbers: IntArray) -> float:
        return 0.0 if (numbers >= least).all() and (numbers <= most).all() else math.inf

    judged, limited = (nearest_whole(metric, centre, count=3, judge=judge, between=b) for b in (None, (least, most)))
    assert judged.proven
    assert [whole.numbers.tolist() for whole in limited.best] == [whole.numbers.tolist() for whole in judged.best]
    assert [whole.cost for whole in limited.best] == [whole.cost for whole in judged.best]
    assert limited.tried <= judged.tried


def test_what_is_not_allowed_is_passed_over_however_far_the_next_lies() -> None:
    def judge(numbers: IntArray) -> float:
        return 0.5 * float(numbers[1]) if numbers[0] >= 40 and numbers[1] >= 0 else math.inf

    found = nearest_whole(np.array([[2.0, 1.9], [1.9, 2.0]]), np.array([0.3, 0.2]), judge=judge)
    wanted = min(
        (2 * a**2 + 3.8 * a * b + 2 * b**2 + 0.5 * y, (x, y))
        for x in range(40, 60)
        for y in range(60)
        for a, b in [(x - 0.3, y - 0.2)]
    )
    assert found.proven
    assert tuple(found.best[0].numbers) == wanted[1]
    assert found.best[0].cost == pytest.approx(wanted[0], rel=1e-12)


def test_nothing_allowed_is_said_to_be_nothing() -> None:
    found = nearest_whole(np.eye(2), np.zeros(2), judge=lambda _: math.inf)
    assert found.best == ()
    assert not found.proven


def test_no_numbers_cost_what_they_are_judged_to() -> None:
    found = nearest_whole(np.zeros((0, 0)), np.zeros(0), judge=lambda _: 3.0)
    assert [whole.cost for whole in found.best] == [3.0]
    assert found.proven


def test_a_metric_that_leaves_a_direction_free_is_refused() -> None:
    with pytest.raises(BadValue) as refused:
        nearest_whole(np.array([[1.0, -1.0], [-1.0, 1.0]]) - 1e-9 * np.eye(2), np.zeros(2))
    assert str(refused.value) == "The metric of the whole numbers is not positive definite."
