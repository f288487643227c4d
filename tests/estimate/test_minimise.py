"""Least squares within bounds, and the covariance at the minimum, on problems with known answers."""

from __future__ import annotations

from typing import Any

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import lsq_linear

from plumbend.estimate.chances import beyond_chance
from plumbend.estimate.doubt import doubt_of
from plumbend.estimate.minimise import minimise
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray
from support.plain_numbers import WeighedAlike

NO_BOUND = np.inf


class Linear(WeighedAlike):
    """|matrix x - target|^2."""

    def __init__(self, matrix: FloatArray, target: FloatArray) -> None:
        self.matrix, self.target = matrix, target

    def normal(self, state: FloatArray, weights: Any) -> Normal:
        assert weights is None
        return Normal.from_rows(self.matrix @ state - self.target, self.matrix)


class Valley(Linear):
    """Rosenbrock's curved valley, the usual hard start (Rosenbrock, Computer Journal 3 (1960), from memory)."""

    def __init__(self) -> None:
        pass

    def normal(self, state: FloatArray, weights: Any) -> Normal:
        assert weights is None
        x, y = state
        return Normal.from_rows(np.array([10 * (y - x**2), 1 - x]), np.array([[-20 * x, 10.0], [-1.0, 0.0]]))


def test_a_curved_valley_is_followed_to_its_bottom() -> None:
    found = minimise(Valley(), np.array([-1.2, 1.0]), np.full(2, -NO_BOUND), np.full(2, NO_BOUND))
    assert found.converged
    np.testing.assert_allclose(found.state, [1.0, 1.0], atol=1e-9)


def test_a_bound_across_the_valley_is_kept_and_named() -> None:
    found = minimise(Valley(), np.array([-1.2, 1.0]), np.full(2, -NO_BOUND), np.array([0.5, NO_BOUND]))
    np.testing.assert_allclose(found.state, [0.5, 0.25], atol=1e-6)
    assert found.held.tolist() == [True, False]
    assert found.at_upper.tolist() == [True, False]


@given(seed=st.integers(0, 2**32 - 1), size=st.integers(1, 8))
def test_bounded_linear_problems_agree_with_an_independent_method(seed: int, size: int) -> None:
    rng = np.random.default_rng(seed)
    matrix, target = rng.normal(size=(size + 4, size)), rng.normal(size=size + 4)
    lower, upper = -rng.uniform(0, 0.5, size), rng.uniform(0, 0.5, size)
    found = minimise(Linear(matrix, target), np.zeros(size), lower, upper)
    other = lsq_linear(matrix, target, bounds=(lower, upper), method="trf", tol=1e-14)
    assert (found.state >= lower).all()
    assert (found.state <= upper).all()
    assert found.normal.chi2 <= 2 * other.cost + 1e-9


@given(seed=st.integers(0, 2**32 - 1), size=st.integers(2, 8))
def test_covariance_is_the_inverse_and_held_numbers_have_none(seed: int, size: int) -> None:
    rng = np.random.default_rng(seed)
    matrix = rng.normal(size=(size + 4, size)) * 10.0 ** rng.uniform(-3, 3, size)
    normal = Normal.from_rows(np.zeros(size + 4), matrix)
    held = np.zeros(size, dtype=bool)
    scale = np.sqrt(np.diagonal(normal.hessian))
    np.testing.assert_allclose(
        doubt_of(normal, held).covariance * np.outer(scale, scale),
        np.linalg.inv(normal.hessian / np.outer(scale, scale)),
        rtol=1e-6,
        atol=1e-9,
    )
    held[0] = True
    partly = doubt_of(normal, held)
    assert not partly.covariance[0].any()
    rest = normal.hessian[1:, 1:] / np.outer(scale[1:], scale[1:])
    np.testing.assert_allclose(
        partly.covariance[1:, 1:] * np.outer(scale[1:], scale[1:]), np.linalg.inv(rest), rtol=1e-6, atol=1e-9
    )


def test_a_direction_that_nothing_fixes_is_found_and_left_where_it_was() -> None:
    matrix = np.array([[1.0, -1.0, 0.0], [0.0, 0.0, 2.0]])
    found = minimise(Linear(matrix, np.array([3.0, 4.0])), np.array([10.0, 10.0, 0.0]), *_no_bounds(3))
    np.testing.assert_allclose(found.state, [11.5, 8.5, 2.0], atol=1e-9)
    doubt = doubt_of(found.normal, found.held)
    assert doubt.loose.tolist() == [True, True, False]
    assert doubt.covariance[2, 2] == 0.25
    assert len(doubt.flat) == 1


def _no_bounds(size: int) -> tuple[FloatArray, FloatArray]:
    return np.full(size, -NO_BOUND), np.full(size, NO_BOUND)


def test_chance_limits_are_those_of_the_tables() -> None:
    # upper 0.1 % points of the chi-square distribution: 1: 10.828, 10: 29.588, 30: 59.703 (standard table)
    for dof, limit in ((1, 10.828), (10, 29.588), (30, 59.703)):
        assert not beyond_chance(limit - 0.001, dof)
        assert beyond_chance(limit + 0.001, dof)
    assert not beyond_chance(1e9, 0)
