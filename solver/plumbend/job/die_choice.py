"""What a tube would be like on each of several dies, as data and as JSON."""

from __future__ import annotations

from typing import Any

from plumbend.records import record
from plumbend.shop import Die


@record
class DieCost:
    """What a tube would be like on one die.

    Attributes:
        die: the die.
        clr_over_od: its stamped radius over the tube's OD.
        thinning: part of the wall that the outside of a bend loses.
        bends: number of bends of the tube found; None where none was.
        worst: largest miss of a point, mm, without sign; None where there are no points or no tube.
        worst_point: its name.
        refusals: why it cannot be bent so; none where it can.
        left_out: points that were taken for wrong with this die.
    """

    die: Die
    clr_over_od: float
    thinning: float
    bends: int | None
    worst: float | None
    worst_point: str | None
    refusals: tuple[str, ...]
    left_out: tuple[str, ...] = ()


def cost_to_json(cost: DieCost) -> dict[str, Any]:
    """In mm; null where a thing is not known."""
    return {
        "name": cost.die.name,
        "clr": cost.die.clr,
        "clr_over_od": cost.clr_over_od,
        "thinning": cost.thinning,
        "bends": cost.bends,
        "worst_miss": cost.worst,
        "worst_point": cost.worst_point,
        "left_out": list(cost.left_out),
        "refusals": list(cost.refusals),
    }
