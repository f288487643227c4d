"""Chances of sums of squares, and limits that chance alone passes seldom."""

from __future__ import annotations

import math

SELDOM = 0.001
"""Chance at which a whole fit is called impossible: 0.1 %."""


def beyond_chance(chi2: float, dof: int, chance: float = SELDOM) -> bool:
    """Whether a sum of squares of ``dof`` independent standard numbers exceeds ``chi2`` less often than ``chance``."""
    return log_chance(chi2, dof) < math.log(chance)


def log_chance(chi2: float, dof: int) -> float:
    """Natural logarithm of the chance that a sum of squares of ``dof`` standard numbers is ``chi2`` or more.

    The finite sums of Abramowitz & Stegun, 26.4.4 and 26.4.5, from their last term down; exact also where the chance
    itself is too small for a float. 0 where nothing was free to differ.
    """
    if dof <= 0 or chi2 <= 0:
        return 0.0
    if chi2 == math.inf:
        return -math.inf
    half = chi2 / 2
    first = math.log(_scaled_erfc(math.sqrt(half))) - half if dof % 2 else -math.inf
    if dof == 1:
        return first
    last = (dof / 2 - 1) * math.log(half) - half - math.lgamma(dof / 2)
    total, term = 0.0, 1.0  # the terms over the last one
    for k in range(dof // 2):
        total += term
        term *= (dof / 2 - 1 - k) / half
        if term < 1e-17 * total:
            break
    rest = math.log(total) + last
    larger, smaller = max(first, rest), min(first, rest)
    return 0.0 if total == math.inf else min(larger + math.log1p(math.exp(smaller - larger)), 0.0)


def _scaled_erfc(z: float) -> float:
    """exp(z^2) erfc(z), z >= 0."""
    if z < 5:
        return math.exp(z * z) * math.erfc(z)
    w = 1 / (2 * z * z)  # the asymptotic series, good to 1e-5 of itself here
    return (1 - w * (1 - 3 * w * (1 - 5 * w * (1 - 7 * w)))) / (z * math.sqrt(math.pi))
