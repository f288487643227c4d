"""Chances of sums of squares, beside scipy's."""

from __future__ import annotations

import math

import pytest
from scipy.special import chdtri
from scipy.stats import chi2 as chi2_distribution

from plumbend.estimate.chances import SELDOM, beyond_chance, log_chance

DOFS = [1, 2, 3, 4, 5, 6, 11, 30, 51, 300, 1001, 99_999, 1_000_000]


@pytest.mark.parametrize("dof", DOFS[:8])
@pytest.mark.parametrize("chi2", [0.01, 0.7, 3.84, 10.8, 24.9, 25.1, 60.0, 400.0, 1300.0])
def test_chances_are_those_of_scipy(chi2: float, dof: int) -> None:
    assert log_chance(chi2, dof) == pytest.approx(chi2_distribution.logsf(chi2, dof), rel=1e-5, abs=1e-9)


@pytest.mark.parametrize("dof", DOFS)
@pytest.mark.parametrize("part", [1e-3, 0.1, 0.5, 0.9, 1.0, 1.01, 1.1])
def test_chances_of_many_numbers_are_those_of_scipy(part: float, dof: int) -> None:
    expected = chi2_distribution.logsf(part * dof, dof)
    if math.isfinite(expected):
        assert log_chance(part * dof, dof) == pytest.approx(expected, rel=1e-6, abs=1e-9)


@pytest.mark.parametrize("dof", DOFS)
def test_the_limit_is_that_of_scipy(dof: int) -> None:
    limit = float(chdtri(dof, SELDOM))
    assert beyond_chance(limit * (1 + 1e-7), dof)
    assert not beyond_chance(limit * (1 - 1e-7), dof)


def test_chances_too_small_for_a_float() -> None:
    # two numbers: exp(-chi2 / 2) exactly; one: smaller by sqrt(2 / (pi chi2)) in the limit
    assert log_chance(2e6, 2) == -1e6
    assert log_chance(2e6, 1) == pytest.approx(-1e6 - math.log(math.pi * 1e6) / 2, abs=1e-5)
    assert log_chance(math.inf, 3) == -math.inf
    assert log_chance(5.0, 0) == 0.0
    assert log_chance(0.0, 3) == 0.0
