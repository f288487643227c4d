"""A copy of an existing part on the shop's die."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.making.buildable import Bench, over_limits
from plumbend.making.limits import held_at_limits, nearest_buildable
from plumbend.notices import Notice
from plumbend.shape.copies import SHARPEST, Copy, PartFit, as_it_is, brought_within, made_again

SAME_RADIUS = 0.5
"""mm between the part's radius and the die's that no copy shows."""


KEPT = "The copy keeps the part's ends and the corners of its legs; only the rounding between them differs."


def copied(part: PartFit, bench: Bench, ends: tuple[str, str]) -> tuple[Copy, list[Notice], list[Notice]]:
    """The part made again on the die with its ends and corners kept: the copy, refusals, and notes."""
    radius = bench.die.radius
    if np.isnan(part.radius):
        return as_it_is(part), [], []
    notes = [_radius_note(part, bench)]
    sharp = np.flatnonzero(part.fit.chain.angles > SHARPEST)
    if sharp.size and abs(part.radius - radius) > SAME_RADIUS:
        return as_it_is(part), [_too_sharp(part, bench, int(sharp[0]))], notes
    copy = made_again(part, radius)
    refusals = over_limits(copy.fit.chain.program, bench, ends)
    if not refusals:
        return copy, [], notes
    within, excess, count = brought_within(copy, bench.limits)
    if beyond_chance(excess, count):
        # too far for the copy's numbers to lean on each other as they do near where they were found
        nearest = replace(within.fit, chain=nearest_buildable(copy.fit.chain, bench.limits))
        return replace(within, fit=nearest), refusals, notes
    return within, [], [*notes, *held_at_limits(within.fit, bench, ends, borne=True)]


def _radius_note(part: PartFit, bench: Bench) -> Notice:
    die = bench.die
    if not part.is_told:
        said = f"The part's own bend radius could not be told; that of the die {die.name} was taken for it."
        return Notice("part-radius", "caution", said)
    larger = die.radius - part.radius
    if abs(larger) <= SAME_RADIUS:
        said = f"The part's own bends have the radius of the die {die.name}: the copy bends the same."
    elif abs(larger) <= 2 * part.sd * part.fit.widening:
        said = f"The radius of the part's own bends cannot be told from that of the die {die.name}. {KEPT}"
    else:
        which = "larger" if larger > 0 else "smaller"
        said = f"The die {die.name} bends {bench.length(abs(larger))} {which} than the part was bent. {KEPT}"
    return Notice("part-radius", "note", said)


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
