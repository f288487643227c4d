"""Limits that chance alone passes seldom."""

from __future__ import annotations

import math

SELDOM = 0.001
"""Chance at which a whole fit is called impossible: 0.1 %."""


def beyond_chance(chi2: float, dof: int, chance: float = SELDOM) -> bool:
    """Whether a sum of squares of ``dof`` independent standard numbers exceeds ``chi2`` less often than ``chance``."""
    if dof <= 0 or chi2 <= dof + 3 * math.sqrt(2 * dof):  # the limit at 0.1 % lies above this for every dof
        return False
    from scipy.special import chdtri  # only where it is close: the import is slow

    return bool(chi2 > chdtri(dof, chance))
