"""What a fit has to say beside its numbers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.frames import FloatArray
from plumbend.notices import Notice
from plumbend.shape.certainty import together
from plumbend.shape.chain import layout
from plumbend.shape.evidence import Miss
from plumbend.shape.fit import Fit
from plumbend.shape.points import Point
from plumbend.shape.scan import Scan
from plumbend.shape.suspects import Suspects
from plumbend.shape.tube_readings import BendRotation
from plumbend.units import Axis, Units, format_angle, format_place, length_with_unit


def remarks_on_fit(fit: Fit, ends: tuple[str, str], units: Units, *, limited: bool = False) -> list[Notice]:
    """Cautions and notes on how well the evidence fixes the tube and agrees with itself.

    Where the tube is ``limited``, held off its points by what the die can bend, they are not blamed for it.
    """
    return [
        *_not_settled(fit),
        *([] if limited else _disagreement(fit, units)),
        *_unchecked(fit),
        *_not_fixed(fit, ends),
        *_like_straight(fit, units),
        *_beyond(fit, ends),
    ]


def _not_settled(fit: Fit) -> list[Notice]:
    if fit.converged:
        return []
    return [
        Notice(
            "not-settled",
            "refusal",
            "The search for the best tube did not settle, so these numbers are no program. Ways out: look for a point "
            "with a wrong coordinate, or for lengths in the wrong units.",
        )
    ]


def corners_too_far(fit: Fit) -> list[Notice]:
    """Refusals of measured corners where the tube folds straight back, so that its legs do not meet."""
    gone = [bool(np.isnan(corner).any()) for corner in fit.chain.corners()]
    return [
        Notice(
            "folds-back",
            "refusal",
            f"The tube folds straight back at {point.name}: a U-bend has no corner. Ways out: look for a wrong "
            f"coordinate beside {point.name}, or leave it out and measure two places on each leg and one on the "
            "crown of the bend.",
        )
        for point in fit.evidence.points
        if point.what == "corner" and gone[point.bend or 0]
    ]


def worst_point(misses: list[Miss]) -> int | None:
    """Index of the point with the largest miss for its accuracy; None where every miss is as good as nothing."""
    if not misses:
        return None
    worst = max(range(len(misses)), key=lambda i: misses[i].weighed)
    return worst if abs(misses[worst].size) > 0.05 else None


def _disagreement(fit: Fit, units: Units) -> list[Notice]:
    if not beyond_chance(fit.chi2, fit.dof):
        return []
    if fit.evidence.scan is not None:
        return [_scan_disagrees(fit.evidence.scan.scan, fit.evidence.scan.misses(fit.chain), units)]
    worst = worst_point(fit.misses())
    if worst is None:
        said = "The readings disagree by more than their accuracies allow. Read them again before bending."
    else:
        name = fit.evidence.points[worst].name
        said = (
            f"The points disagree by more than their accuracies allow; {name} is missed worst. "
            f"Measure {name} again before bending."
        )
    return [Notice("points-disagree", "caution", said)]


def _scan_disagrees(scan: Scan, misses: FloatArray, units: Units) -> Notice:
    worst = int(np.argmax(np.abs(misses)))
    axes: tuple[Axis, Axis, Axis] = ("forward", "left", "up")
    place = ", ".join(
        f"{axis} {format_place(mm, units, axis, decimals=1)}"
        for axis, mm in zip(axes, scan.at[worst].tolist(), strict=True)
    )
    side = "off the tube" if misses[worst] > 0 else "inside it"
    return Notice(
        "points-disagree",
        "caution",
        f"The scan does not lie on one tube of this OD within its accuracy. Worst is place {worst + 1} of the scan, "
        f"{place}: {length_with_unit(abs(float(misses[worst])), units, decimals=1)} {side}. Take out places that are "
        "not on the tube, or say by scan_good_to how far off they may be.",
    )


def one_is_wrong(suspects: Suspects, points: Sequence[Point]) -> list[Notice]:
    """Caution that a point was left out, with all that it might be."""
    first, *others = (points[i].name for i in suspects.indices)
    if others:
        names = listed([first, *others])
        said = (
            f"One of {names} is wrong; these points do not tell which. Without {first} the others agree within their "
            f"accuracies, and the tube was fitted without it. Measure {names} again."
        )
    else:
        said = (
            f"{first} is probably wrong: without it all others agree within their accuracies. The tube was fitted "
            f"without {first}. Measure it again; if it is right after all, say by good_to how far off it may be."
        )
    return [Notice("wrong-point", "caution", said)]


def listed(names: Sequence[str]) -> str:
    """Names in a row: "A", "A and B", "A, B and C"."""
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def bent_without(suspects: Suspects, points: Sequence[Point]) -> list[Notice]:
    """Caution, beside a refusal, that a wrong point may be behind it."""
    names = [points[i].name for i in suspects.indices]
    return [
        Notice(
            "wrong-point",
            "caution",
            f"A wrong point may be behind this: without {' or '.join(names)} all others agree within their "
            f"accuracies, and the tube can be bent. Measure {listed(names)} again first.",
        )
    ]


def _unchecked(fit: Fit) -> list[Notice]:
    if fit.dof > 0:
        return []
    if not fit.evidence.points:
        said = (
            "Every reading is needed to shape the tube, so none checks another and a wrong one would not show. "
            "Read one more length across the tube."
        )
        return [Notice("no-check", "caution", said)]
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


def _like_straight(fit: Fit, units: Units) -> list[Notice]:
    """Bends that cannot be told from straight, with the length that is known in their place."""
    where = layout(fit.chain.bends)
    held = fit.at_limit[where.angles]
    sd = np.sqrt(np.diagonal(fit.doubt.covariance)[where.angles])
    notices = []
    for k in np.flatnonzero((fit.chain.angles < 3 * sd) & ~held).tolist():
        length, doubt = together(fit, k)
        known = f"{length_with_unit(length, units)} long"
        if np.isfinite(doubt):
            known += f", good to {length_with_unit(2 * doubt, units)}"
        notices.append(
            Notice(
                f"like-straight-{k + 1}",
                "caution",
                f"Bend {k + 1} turns {format_angle(float(fit.chain.angles[k]))} degrees, good to "
                f"{format_angle(float(2 * sd[k]))}: it cannot be told from straight, and neither can where it lies. "
                f"With the straights on both sides it is {known}. Leave it out, or measure more points beside it.",
            )
        )
    return notices


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


def mirrored_twin(fit: Fit) -> list[Notice]:
    """Refusal of readings that a tube and its mirror image fit alike.

    Without points or a scan nothing but a signed turn tells the two apart, and a tube in one plane has no other hand.
    """
    rotations = fit.chain.rotations[1:]
    if fit.evidence.points or fit.evidence.scan is not None or fit.planar or not rotations.size:
        return []
    signed = {reading.bend for reading in fit.evidence.readings if isinstance(reading, BendRotation)}
    loose = fit.doubt.loose[layout(fit.chain.bends).rotations]
    if signed and not loose.any():
        return []
    which = " and ".join(str(k + 2) for k in np.flatnonzero(loose)) or "2"
    return [
        Notice(
            "mirrored-twin",
            "refusal",
            "These readings fit a tube and its mirror image alike: nothing says which way the bends turn out of "
            "one plane. Ways out: read the turn before bend "
            f'{which} with its sense, such as rotation = "25 cw", or say planar = true.',
        )
    ]
