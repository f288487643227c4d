"""What bending does to the wall: advice that defers to the user's test bend and rule book.

By volume kept and a neutral line at the centreline, the wall outside is R/(R + D/2) of what it was, inside R/(R - D/2)
(textbook). The wall that must be there for pressure differs round the bend by the factors of ASME B31.3-2016, 304.2.1;
ASME B31.1, table 102.4.5, asks for more wall before bending, by the radius.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from plumbend.making.buildable import Bench
from plumbend.notices import Notice

RULE_BOOK_RADIUS: Final = 3.0
"""Least radius in OD that rule books for frames of race and rally cars ask for (Formula SAE Rules 2021, F.5.2.1)."""
RULE_BOOK_ROUNDNESS: Final = 0.9
"""Small diameter over large one, in the bend, that FIA Appendix J, 253-8.3, asks for at least (read second hand)."""
THIN_WALL: Final = 20.0
"""OD over wall above which a bend under 3 x OD wants a mandrel (common practice, no source; some say 15)."""
_TO_ORDER: Final = ((3.0, 4.0, 5.0, 6.0), (1.25, 1.14, 1.08, 1.06))
"""Radius in OD, and wall before bending over the least wall (ASME B31.1, table 102.4.5, read second hand)."""


def thinned_to(radius: float, od: float) -> float:
    """Wall on the outside of the bend over that of the straight tube; ``radius`` at the centreline."""
    return radius / (radius + od / 2)


def thickened_to(radius: float, od: float) -> float:
    """Wall on the inside of the bend over that of the straight tube."""
    return radius / (radius - od / 2)


def outer_strain(radius: float, od: float) -> float:
    """How much the outermost fibre is stretched, as a part of its length."""
    return od / (2 * radius)


def pressure_factors(radius: float, od: float) -> tuple[float, float]:
    """Least wall of a bend under pressure over that of a straight pipe: on its inside, on its outside."""
    ratio = 4 * radius / od
    return (ratio - 1) / (ratio - 2), (ratio + 1) / (ratio + 2)


def wall_to_order(radius: float, od: float) -> float | None:
    """Wall before bending over the least wall wanted after it; None for radii the table does not reach down to."""
    in_od = radius / od
    return None if in_od < _TO_ORDER[0][0] - 1e-9 else float(np.interp(in_od, *_TO_ORDER))


def flattening(largest: float, smallest: float, nominal: float) -> float:
    """How far out of round: (largest - smallest OD)/nominal OD (ASME B16.49-2017)."""
    return (largest - smallest) / nominal


_MOST_FLATTENED: Final = flattening(1.0, RULE_BOOK_ROUNDNESS, (1 + RULE_BOOK_ROUNDNESS) / 2)


def _least_wall(radius: float, od: float) -> Notice:
    """What the published rules for pipe under pressure ask of the wall."""
    inside, outside = pressure_factors(radius, od)
    order = wall_to_order(radius, od)
    text = (
        f"Where a rule asks for a least wall: under pressure, ASME B31.3, 304.2.1, asks {outside:.2f} of that of a "
        f"straight pipe outside the bend and {inside:.2f} inside it"
    )
    if order is not None:
        text += f", and ASME B31.1, table 102.4.5, {order:.2f} times the least wall before bending"
    return Notice("least-wall", "note", f"{text}.")


def wall_notes(bench: Bench) -> list[Notice]:
    """What becomes of the wall, and what rule books ask of radius and roundness."""
    radius, od, wall = bench.die.radius, bench.tubing.od, bench.tubing.wall
    decides = "Your test bend and your rule book decide."
    if radius <= od / 2:
        return []  # no tube bends so; a wrong figure is said elsewhere
    notes = []
    if wall is None:
        text = "What is left of the wall outside the bends: the job does not give the wall."
        notes.append(Notice("wall-left", "not-checked", text))
    else:
        kept = thinned_to(radius, od)
        left = bench.size(wall * kept)
        notes.append(
            Notice(
                "wall-left",
                "note",
                f"Outside a bend the wall of {bench.size(wall)} thins to about {left} ({1 - kept:.0%} less), inside it "
                f"thickens to about {bench.size(wall * thickened_to(radius, od))}, and the outermost fibre stretches "
                f"by {outer_strain(radius, od):.0%}. FIA Appendix J, 253-8.3, wants the small diameter in a bend at "
                f"{RULE_BOOK_ROUNDNESS} of the large one or more, {_MOST_FLATTENED:.1%} out of round: measure both. "
                f"{decides}",
            )
        )
        notes.append(_least_wall(radius, od))
    if radius < RULE_BOOK_RADIUS * od * (1 - 1e-3):
        thin = wall is not None and od / wall > THIN_WALL
        mandrel = (
            f" With OD over wall at {od / wall:.0f} it is likely to kink without a mandrel." if thin and wall else ""
        )
        text = (
            f"The radius is {radius / od:.1f} x OD, and rule books for roll-over structures and frames commonly "
            f"want {RULE_BOOK_RADIUS:.0f} x OD or more.{mandrel} {decides}"
        )
        notes.append(Notice("tight-radius", "note", text))
    return notes
