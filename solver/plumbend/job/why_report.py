"""What drives the numbers of a tube, as data and as JSON."""

from __future__ import annotations

from typing import Any

import numpy as np

from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.drivers import Drivers
from plumbend.shape.landing import Landing, Reach


@record(eq=False)
class WhyReport:
    """What drives a tube's numbers.

    Attributes:
        reach: how an error in each number moves the far end.
        drivers: which measurements each ± comes from; None where nothing was measured.
        landing: the chances that both ends land; None where not asked for.
        limited: a limit of the die holds some number: how far that keeps the tube off its points is in no chance.
    """

    reach: Reach
    drivers: Drivers | None
    landing: Landing | None
    limited: bool = False


def largest(names: tuple[str, ...], shares: FloatArray) -> list[tuple[str, float]] | None:
    """Measurements and their shares (q,) in one number, the largest first; None where it has no doubt of its own."""
    if np.isnan(shares).any() or not shares.size:
        return None
    return [(names[i], float(shares[i])) for i in np.argsort(-shares, kind="stable") if shares[i] > 0]


def why_to_json(why: WhyReport) -> dict[str, Any]:
    """Shares of 1, far end in mm for each mm or degree, chances of 1; null where a thing is not known."""
    shares: dict[str, Any] = dict.fromkeys(("straights", "rotations", "angles", "developed_length", "copied_radius"))
    found = why.drivers
    if found is not None:
        for key in ("straights", "rotations", "angles"):
            shares[key] = [_shares(found.measured, row) for row in getattr(found, key)]
        shares["developed_length"] = _shares(found.measured, found.developed_length)
        if found.own_radius is not None:
            shares["copied_radius"] = _shares(found.measured, found.own_radius)
    degree = np.radians(1.0)
    landing = why.landing
    return {
        **shares,
        "far_end": {
            "straights": why.reach.straights.tolist(),
            "rotations": (why.reach.rotations * degree).tolist(),
            "angles": (why.reach.angles * degree).tolist(),
        },
        "landing": None
        if landing is None
        else {
            "gap": landing.gap,
            "between_ends": _or_null(landing.between_ends),
            "from_start": _or_null(landing.from_start),
        },
    }


def _shares(names: tuple[str, ...], row: FloatArray) -> list[dict[str, Any]] | None:
    found = largest(names, row)
    return None if found is None else [{"measured": name, "share": share} for name, share in found]


def _or_null(value: float) -> float | None:
    return None if np.isnan(value) else value
