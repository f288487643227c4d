"""Demands that cannot be met together, thinned to the fewest that still cannot."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TypeVar

One = TypeVar("One")


def smallest_conflict(demands: Sequence[One], can_be_met: Callable[[Sequence[One]], bool]) -> list[One]:
    """Those of ``demands`` that conflict, and of which none can be spared: without any one the rest can be met.

    Each in turn is left out for good where the rest still cannot be met (the deletion filter of Chinneck & Dravnieks,
    ORSA Journal on Computing 3 (1991), from memory). There may be other such sets.

    Args:
        demands: that cannot all be met, the last to be blamed first.
        can_be_met: whether some of them can, in the order given.
    """
    left = list(demands)
    for index in range(len(left) - 1, -1, -1):
        rest = left[:index] + left[index + 1 :]
        if rest and not can_be_met(rest):
            left = rest
    return left
