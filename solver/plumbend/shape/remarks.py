"""What a fit has to say beside its numbers."""

from __future__ import annotations

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.notices import Notice
from plumbend.shape.chain import layout
from plumbend.shape.fit import Fit


def remarks_on_fit(fit: Fit, ends: tuple[str, str]) -> list[Notice]:
    """Cautions and notes on how well the points fix the tube and agree with each other."""
    return [*_not_settled(fit), *_disagreement(fit), *_unchecked(fit), *_not_fixed(fit, ends), *_beyond(fit, ends)]


def _not_settled(fit: Fit) -> list[Notice]:
    if fit.converged:
        return []
    return [
        Notice(
            "not-settled",
            "caution",
            "The search for the best tube did not settle: do not bend to these numbers. "
            "Look for a point with a wrong coordinate.",
        )
    ]


def worst_point(fit: Fit) -> int | None:
    """Index of the point with the largest miss for its accuracy; None where every miss is as good as nothing."""
    sizes, weighed = fit.evidence.misses(fit.chain)
    worst = int(np.argmax(weighed))
    return worst if sizes[worst] > 0.05 else None


def _disagreement(fit: Fit) -> list[Notice]:
    worst = worst_point(fit)
    if worst is None or not beyond_chance(fit.chi2, fit.dof):
        return []
    name = fit.evidence.points[worst].name
    return [
        Notice(
            "points-disagree",
            "caution",
            f"The points disagree by more than their accuracies allow; {name} is missed worst. "
            f"Measure {name} again before bending.",
        )
    ]


def _unchecked(fit: Fit) -> list[Notice]:
    if fit.dof > 0:
        return []
    return [
        Notice(
            "no-check",
            "caution",
            "Every point is needed to place the tube, so none checks another and a wrong one would not show. "
            "Measure one more point on each straight.",
        )
    ]


def _not_fixed(fit: Fit, ends: tuple[str, str]) -> list[Notice]:
    """One caution for every number that no point fixes, with what to measure."""
    where, bends = layout(fit.chain.bends), fit.chain.bends
    loose = fit.doubt.loose
    numbers = [
        *(
            (f"straight-{k + 1}", _loose_straight(k, bends, ends))
            for k in np.flatnonzero(loose[where.straights]).tolist()
        ),
        *(
            (
                f"turn-{k + 2}",
                f"Nothing fixes the turn before bend {k + 2}: measure another point on the legs beside it.",
            )
            for k in np.flatnonzero(loose[where.rotations])
        ),
        *(
            (f"bend-{k + 1}", f"Nothing fixes bend {k + 1}: measure another point on each side of it.")
            for k in np.flatnonzero(loose[where.angles])
        ),
    ]
    return [Notice(f"not-fixed-{code}", "caution", text) for code, text in numbers]


def _loose_straight(k: int, bends: int, ends: tuple[str, str]) -> str:
    if bends == 0:
        return f"Nothing fixes how far the tube runs: measure where the {ends[0]} end and the {ends[1]} end stop."
    if k in (0, bends):
        which, end = ("first", ends[0]) if k == 0 else ("last", ends[1])
        return f"Nothing fixes how far the {which} straight runs: measure where the {end} end stops."
    return (
        f"Nothing fixes how long the straight between bend {k} and bend {k + 1} is: "
        "measure another point on each side of it."
    )


def _beyond(fit: Fit, ends: tuple[str, str]) -> list[Notice]:
    """Points on the straights prolonged, well beyond where the tube stops."""
    where = layout(fit.chain.bends)
    loose = fit.doubt.loose[where.straights][[0, -1]]
    notices = []
    for index, mm, far in fit.evidence.beyond_ends(fit.chain):
        point = fit.evidence.points[index]
        doubt = float(np.sqrt(np.trace(point.cov) / 3))
        if mm > 3 * doubt and not loose[int(far)]:
            notices.append(
                Notice(
                    f"beyond-end-{point.name}",
                    "caution",
                    f"Point {point.name} lies beyond the {ends[1 if far else 0]} end, on the straight prolonged. "
                    f"Check {point.name} and the end.",
                )
            )
    return notices
