"""A copy of an existing part on the shop's die."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.making.buildable import Bench, over_limits
from plumbend.making.limits import nearest_buildable
from plumbend.notices import Notice
from plumbend.shape.copies import SHARPEST, PartFit, made_again
from plumbend.shape.fit import Fit

SAME_RADIUS = 0.5
"""mm between the part's radius and the die's that no copy shows."""


def copied(part: PartFit, bench: Bench, ends: tuple[str, str]) -> tuple[Fit, list[Notice], list[Notice]]:
    """The part made again on the die with its ends and corners kept: the copy, refusals, and notes."""
    radius = bench.die.radius
    if np.isnan(part.radius):
        return part.fit, [], []
    notes = [_radius_note(part, bench)]
    sharp = np.flatnonzero(part.fit.chain.angles > SHARPEST)
    if sharp.size and abs(part.radius - radius) > SAME_RADIUS:
        return part.fit, [_too_sharp(part, bench, int(sharp[0]))], notes
    copy = made_again(part, radius)
    refusals = over_limits(copy.chain.program, bench, ends)
    if refusals:
        copy = replace(copy, chain=nearest_buildable(copy.chain, bench.limits))
    return copy, refusals, notes


def _radius_note(part: PartFit, bench: Bench) -> Notice:
    die = bench.die
    if not np.isfinite(part.sd):
        said = f"The part's own bend radius could not be told; that of the die {die.name} was taken for it."
        return Notice("part-radius", "caution", said)
    known = f", good to {bench.length(2 * part.sd)}"
    difference = part.radius - die.radius
    if abs(difference) <= SAME_RADIUS:
        outcome = "the copy bends the same."
    else:
        which = "smaller" if difference > 0 else "larger"
        outcome = (
            f"it is {bench.length(abs(difference))} {which}. The copy keeps the part's ends and the corners of its "
            "legs; only the rounding between them differs."
        )
    return Notice(
        "part-radius",
        "note",
        f"The part's own bends have a centreline radius of {bench.length(part.radius)}{known}. "
        f"The die {die.name} bends {bench.length(die.radius)}: {outcome}",
    )


def _too_sharp(part: PartFit, bench: Bench, bend: int) -> Notice:
    wide = abs(part.radius - bench.die.radius)
    return Notice(
        "copy-too-sharp",
        "refusal",
        f"Bend {bend + 1} of the part turns so far that its legs are set apart by its radius, "
        f"{bench.length(part.radius)}, and the die {bench.die.name} bends {bench.length(bench.die.radius)}: "
        f"{bench.length(wide)} off. Ways out: use a die of the part's radius, or measure where the copy must run "
        "and leave out copied. The part itself is shown.",
    )
