"""Whether the shop's notcher can make a cut, and whether before or after bending."""

from __future__ import annotations

import math
from typing import Literal

from plumbend.records import record
from plumbend.shop import Notcher
from plumbend.units import MM_PER_INCH

AS_SET = math.radians(0.5)
"""No notcher's scale is set more finely: what goes beyond its end by less is set to its end (common practice)."""
AS_DEEP = MM_PER_INCH / 32
"""mm; a saw that lacks less than half a sixteenth is deep enough."""

When = Literal["either", "before", "after", "neither"]


@record
class NotcherCheck:
    """Each True where the notcher can do it, None where the shop does not say enough to check.

    Attributes:
        angle: its scale reaches the setting.
        depth: one saw cup is deep enough; else break out the slug, or cut the slant first.
    """

    angle: bool | None
    depth: bool | None


def check_notcher(notcher: Notcher, off_square: float, depth: float) -> NotcherCheck:
    """A cut set ``off_square`` radians from square on (0 is square) that is ``depth`` mm deep along the saw."""
    return NotcherCheck(
        None if notcher.most_off_square is None else off_square <= notcher.most_off_square + AS_SET,
        None if notcher.cup is None else depth <= notcher.cup + AS_DEEP,
    )


def when_to_cut(short_point: float, grip: float | None, clamp: float | None) -> When | None:
    """Whether to cut before or after bending.

    Args:
        short_point: full tube left between the nearest tangent and the cut's short point, mm.
        grip: straight tube that the bender must hold on that side of the bend, mm.
        clamp: straight tube that the notcher must hold, mm.

    Returns:
        "after" where too little full tube would be left to be held while it is bent, "before" where too little is left
        to be held in the notcher once it is bent, "neither" where both, None where the shop does not say.
    """
    if grip is None or clamp is None:
        return None
    bends, notches = short_point >= grip, short_point >= clamp
    if bends:
        return "either" if notches else "before"
    return "after" if notches else "neither"
