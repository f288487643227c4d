"""The number of bends that would do nearly as well as the one found, and what is said of it."""

from __future__ import annotations

import numpy as np

from plumbend.notices import Notice
from plumbend.shape.fit import Fit
from plumbend.units import Units, length_with_unit

FINER = (16, 32, 64)
"""Parts of an inch in which two misses are written until they differ."""


def nearly_as_good(fit: Fit, other: Fit, units: Units) -> Notice:
    """Caution that with another number of bends the tube would fit nearly as well."""
    bends, found = other.chain.bends, fit.chain.bends
    what = "places of the scan" if not fit.evidence.points else "points"
    are = "1 bend is" if found == 1 else f"{found} bends are"
    missed = _compared(_typical_miss(other), _typical_miss(fit), units)
    return Notice(
        "nearly-as-good",
        "caution",
        f"{are} found, but {bends} would do nearly as well: the {what} are missed by {missed} on the whole. "
        f"Count the bends and say how many, such as bends = {bends}, or measure more places on every leg.",
    )


def _typical_miss(fit: Fit) -> float:
    """Root mean square, mm, of the misses of all that the tube is to pass."""
    sizes = [miss.size for point, miss in zip(fit.evidence.points, fit.misses(), strict=True) if point.what != "clear"]
    if fit.evidence.scan is not None:
        sizes = [*sizes, *fit.evidence.scan.misses(fit.chain)]
    return float(np.sqrt(np.mean(np.square(sizes))))


def _compared(other: float, found: float, units: Units) -> str:
    """The two in the coarsest parts that tell them apart."""
    for parts in FINER:
        one, than = (length_with_unit(mm, units, parts, decimals=1) for mm in (other, found))
        if one != than:
            return f"{one} instead of {than}"
    return f"{one} either way"
