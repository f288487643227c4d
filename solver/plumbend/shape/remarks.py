"""What a fit has to say beside its numbers."""

from __future__ import annotations

import numpy as np

from plumbend.frames import angle_between
from plumbend.notices import Notice
from plumbend.shape.certainty import together
from plumbend.shape.chain import layout
from plumbend.shape.disagreement import place_text
from plumbend.shape.fit import Fit
from plumbend.shape.kinds import SidePoints
from plumbend.shape.tube_readings import LegsApart
from plumbend.units import Units, format_angle, length_with_unit

LEAST_TO_SIDE = np.radians(20.0)
"""A side nearer than this to its leg's own direction is not a side of it."""

MOSTLY = 0.5
"""Part of a number in what nothing fixes, from which on it is known by nothing else."""

U_BEND = np.radians(170.0)
"""From this angle on a bend's legs are all but parallel."""

PARALLEL = np.radians(3.0)
"""Legs that splay by more have no one distance across them."""


def remarks_on_fit(fit: Fit, ends: tuple[str, str], units: Units) -> list[Notice]:
    """Refusals, cautions and notes on how well the evidence fixes the tube."""
    return [
        *_not_settled(fit),
        *_unchecked(fit),
        *_not_fixed(fit, ends),
        *_like_straight(fit, units),
        *_beyond(fit, ends),
        *_splaying(fit),
        *_which_end(fit, units),
        *_other_bends(fit, units),
    ]


def _other_bends(fit: Fit, units: Units) -> list[Notice]:
    if fit.runner_up is None:
        return []
    from plumbend.shape.runner_up import nearly_as_good  # only bends that were counted, and may be others, pay for it

    return [nearly_as_good(fit, fit.runner_up, units)]


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
    straights = loose[where.straights]
    # between parallel legs a U-bend slides, and both its straights with it
    sliding = [k for k in range(bends) if fit.chain.angles[k] > U_BEND and straights[k] and straights[k + 1]]
    numbers = [
        *(
            (
                f"place-{k + 1}",
                f"Nothing fixes how far out bend {k + 1} lies: measure a place on its crown, the middle of the bend.",
            )
            for k in sliding
        ),
        *(
            (f"straight-{k + 1}", _loose_straight(k, bends, ends))
            for k in np.flatnonzero(straights).tolist()
            if k not in sliding and k - 1 not in sliding
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
    # a slight bend that slides along the tube changes its angle a little as well; that does not make it unknown
    loose = np.linalg.norm(fit.doubt.flat, axis=0) > MOSTLY
    unknown = (fit.at_limit | loose)[where.angles]
    sd = np.sqrt(np.diagonal(fit.covariance)[where.angles])
    notices = []
    for k in np.flatnonzero((fit.chain.angles < 3 * sd) & ~unknown).tolist():
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


def sides_along_legs(fit: Fit) -> list[Notice]:
    """Refusals of places touched on a side that points along the tube there."""
    notices = []
    for group in fit.evidence.groups:
        if isinstance(group, SidePoints):
            along = np.abs(np.einsum("mi,mi->m", group.side, group.feet(fit.chain).tangent))
            for i in np.flatnonzero(along > np.cos(LEAST_TO_SIDE)).tolist():
                name = fit.evidence.points[group.members[i]].name
                off = format_angle(float(np.arccos(min(along[i], 1.0))))
                notices.append(
                    Notice(
                        f"side-along-leg-{name}",
                        "refusal",
                        f"The side touched at {name} lies {off} degrees from the tube's own direction there: that is "
                        "no side of it. Ways out: name a side that lies square to the tube, or give the place as "
                        'what = "outside" without a side.',
                    )
                )
    return notices


def _splaying(fit: Fit) -> list[Notice]:
    """Cautions on distances across legs that are not parallel."""
    notices = []
    for reading in fit.evidence.readings:
        if isinstance(reading, LegsApart):
            one, other = (fit.chain.frames[2 * (leg - 1), :, 0] for leg in (reading.first, reading.second))
            splay = min(angle_between(one, other), angle_between(one, -other))
            if splay > PARALLEL:
                notices.append(
                    Notice(
                        f"legs-splay-{reading.first}-{reading.second}",
                        "caution",
                        f"Legs {reading.first} and {reading.second} splay by {format_angle(splay)} degrees, so the "
                        "distance across them depends on where it is taken. It was taken as that at the middle of "
                        "each straight; read the bends' angles, or measure across the ends, if it was not.",
                    )
                )
    return notices


def _which_end(fit: Fit, units: Units) -> list[Notice]:
    """Note on which end of a tube known by its scan alone is called the start."""
    if fit.evidence.scan is None or fit.evidence.points:
        return []
    where = place_text(fit.chain.origin, units)
    said = f"The scan does not say which end comes first: the start end is the one near {where}."
    return [Notice("which-end", "note", said)]
