"""A reading held against all others as it is typed."""

from __future__ import annotations

import numpy as np

from plumbend.measuring.accused import Accused, accuse
from plumbend.measuring.adjustment import Adjusted, adjust
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Drop
from plumbend.units import Units, length_with_unit
from plumbend_cli.session.standing import Standing

FAR_OFF = 4.0
"""A reading is asked about where it misses what the others say by this many times its doubt: by twice its ±."""

_MOST_GUESSES = 3
_DROP_WAYS = (("further forward", "further aft"), ("further left", "further right"))


def far_off(reading: Reading, before: Standing | None, after: Standing, units: Units) -> str | None:
    """What is said of a reading that does not go with the others; None where it does or they say nothing of it.

    Args:
        reading: one of those in ``after``.
        before: the job without it, where that is at hand.
        after: the job with it.
        units: of the sentence.
    """
    half = after.half
    if before is not None and [place.name for place in before.begun] == [place.name for place in after.begun]:
        without = before.adjusted
    else:
        others = [other for other in half.counted if other is not reading]
        without = adjust(after.begun, others, half.planes)
    out = together_out(without, after, units)
    if out is None:
        return None
    accused = accuse(0, reading, without, units, half.od, without.places)
    far = np.abs(accused.off) > FAR_OFF * accused.doubt
    if not far.any():
        return out
    worst = int(np.argmax(np.where(far, np.abs(accused.off), 0.0)))
    off = float(accused.off[worst])
    more, less = _DROP_WAYS[worst] if isinstance(reading, Drop) else ("more", "less")
    size = length_with_unit(abs(off), units, parts=8)
    return f"That is {size} {more if off > 0 else less} than the other readings say.{_looks_like(accused)}"


def together_out(without: Adjusted, after: Standing, units: Units) -> str | None:
    """What is said where all goes together much worse than ``without`` what was typed last; None where it does not."""
    if after.adjusted.chi2 - without.chi2 < FAR_OFF**2:
        return None
    size = length_with_unit(float(np.abs(after.adjusted.residuals).max()), units, parts=8)
    return f"That does not go with the other readings: together they are out by {size}."


def _looks_like(accused: Accused) -> str:
    guesses = [explanation.error.words for explanation in accused.explanations]
    if not 0 < len(guesses) <= _MOST_GUESSES:
        return ""
    return f" It looks like {', or '.join(guesses)}."
