"""The numbers to set for a tube on its bench, and what is to be said of them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from plumbend.making.buildable import Bench
from plumbend.making.legible import Legible, legible_program
from plumbend.making.setting import setting_for
from plumbend.notices import Notice
from plumbend.shape.chain import Chain
from plumbend.shape.fit import Fit
from plumbend.units import format_angle

SEEN = float(np.radians(0.05))
"""A direction that is off what was demanded by more, radians, is told,"""
SEEN_MM = 0.1
"""and so is a place or a straight that is off by more than this, mm."""


def numbers_to_set(
    fit: Fit, bench: Bench, *, is_copy: bool = False, has_steps: bool = True
) -> tuple[Legible | None, list[Notice]]:
    """The best numbers that the shop's tape and dial can show for a fitted tube, and remarks on them.

    Args:
        fit: the tube as it is to be made.
        bench: what it is bent on.
        is_copy: it is a part's, made again on the die's radius.
        has_steps: it is known in every part, so steps will be told, and marks are drawn as the bench's habit has it.
    """
    habit = bench.habit if has_steps else None
    setting = setting_for(bench.die, bench.bender, bench.units, fit.chain.bends, habit)
    found = legible_program(fit, setting, bench.limits, bench.die.max_wrap, is_copy=is_copy)
    if found is None:
        none = Notice(
            "no-numbers-to-set",
            "caution",
            "No numbers in the steps of tape and dial keep within what the die can bend: set the exact ones as nearly "
            "as you can.",
        )
        return None, [none]
    legible, laid = found
    return legible, [Notice("numbers-off", "caution", text) for text in _not_kept(fit, laid.chain, bench)]


def _not_kept(fit: Fit, chain: Chain, bench: Bench) -> Iterator[str]:
    """What must be kept and is not, for the steps of tape and dial."""
    if fit.held is None:
        return
    # only a tube that must keep something pays for these
    from plumbend.shape.demands import Symmetric
    from plumbend.shape.held import HeldEvidence

    held = HeldEvidence(fit.evidence)
    missed, owners = held.demanded(chain).missed(), held.owners()
    for owner in dict.fromkeys(owner for owner in owners if owner is not None):
        by = max(float(miss) for miss, whose in zip(missed, owners, strict=True) if whose == owner)
        if by > SEEN_MM and bench.whole(by) != bench.whole(0.0):
            name = fit.evidence.points[owner].name
            yield f"The steps of tape and dial do not let the tube keep to point {name}: it is {bench.whole(by)} off."
    rows = iter(missed[[i for i, owner in enumerate(owners) if owner is None]].tolist())
    for demand in (fit.evidence.demands[i] for i in held.exact):
        own = [next(rows) for _ in range(demand.count)]
        lengths = (demand.bends + 1) // 2 if isinstance(demand, Symmetric) else 0
        off = [bench.whole(by) for by in own[:lengths] if by > SEEN_MM and bench.whole(by) != bench.whole(0.0)]
        off += [f"{format_angle(by)} degrees" for by in own[lengths:] if by > SEEN]
        if off:
            yield f"The steps of tape and dial do not allow {demand.name}: it is {off[0]} off."
