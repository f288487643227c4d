"""In what order the bends are made, and which end goes through the die."""

from __future__ import annotations

from plumbend.records import record
from plumbend.shop import Begins


@record
class Bending:
    """One bend in the order of making: ``bend`` counted from 0, and whether the start end goes through the die."""

    bend: int
    start_leads: bool


def order_of(bends: int, begins: Begins) -> tuple[Bending, ...]:
    """The bends in the order of making, always with what is bent already beyond the die.

    From the middle outwards the middle bend and those after it are made with the start end through the die; then the
    tube is turned end for end, and those before it are made with the far end through the die.
    """
    if begins == "far":
        return tuple(Bending(k, False) for k in reversed(range(bends)))
    first = max(bends - 1, 0) // 2 if begins == "middle" else 0
    return (
        *(Bending(k, True) for k in range(first, bends)),
        *(Bending(k, False) for k in reversed(range(first))),
    )
