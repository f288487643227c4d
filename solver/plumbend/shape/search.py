"""Out of a false optimum: other cuts of the points into legs, tried where the best fit so far is impossible.

Points on the outside lie up to half an OD off the axis in any direction, so the first cut, made with
straight lines, can put a slight bend in the wrong place; the fit then settles beside the truth. It shows:
the misses are too large for the accuracies. Only then are other cuts tried, and the best fit kept.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.guess import guess_from_legs
from plumbend.shape.kinds import OutsidePoints
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.segments import Legs, Segmentation

MOST_TRIES = 80
SHIFTS = (1, -1, 2, -2, 4, -4)


def best_cut(measured: Measured, legs: Legs, limits: FormingLimits) -> Fit:
    """The fit from one cut of the points into legs, or from a better one where that is impossible."""
    best = _fit_cut(measured, legs, limits)
    tried = {tuple(legs)}
    tries = 0
    while tries < MOST_TRIES and beyond_chance(best.chi2, best.dof):
        for cut in _other_cuts(measured, legs, best):
            if tuple(cut) in tried:
                continue
            tried.add(tuple(cut))
            tries += 1
            found = _fit_cut(measured, cut, limits)
            if found.chi2 < 0.99 * best.chi2:
                best, legs = found, cut
                break
            if tries == MOST_TRIES:
                break
        else:
            break
    return best


def _fit_cut(measured: Measured, legs: Legs, limits: FormingLimits) -> Fit:
    guess = guess_from_legs(measured, legs, limits.radius)
    evidence = measured.compiled(guess.chain.bends, guess.points)
    return fit_from(guess.chain, evidence, limits, planar=measured.planar)


def _other_cuts(measured: Measured, legs: Legs, fit: Fit) -> Iterator[Legs]:
    """The cut that the fit itself suggests, then every end of a leg shifted a few points either way."""
    again = Segmentation(_axis_by_fit(measured, fit)).legs(fit.chain.bends)
    if again is not None:
        yield again
    for leg in range(1, fit.chain.bends + 1):
        last = max((i for i, at in enumerate(legs) if at == leg), default=None)
        if last is None or measured.points[last].what == "corner":
            continue
        for shift in SHIFTS:
            cut = _with_end(legs, leg, last + shift)
            if cut is not None and _may_be(measured.points, cut):
                yield cut


def _axis_by_fit(measured: Measured, fit: Fit) -> list[Point]:
    """Places on the axis: outside points brought in by half an OD toward the fitted tube."""
    places = [replace(p, at=p.at - measured.od / 2 * p.side, side=None) if p.side is not None else p
              for p in fit.evidence.points]  # fmt: skip
    for group in fit.evidence.groups:
        if isinstance(group, OutsidePoints):
            off = group.feet(fit.chain).off
            inward = measured.od / 2 * off / np.maximum(np.linalg.norm(off, axis=1), 1e-9)[:, None]
            for i, member in enumerate(group.members):
                cov = places[member].cov + np.eye(3) * (measured.od / 8) ** 2
                places[member] = replace(places[member], what="centre", at=group.at[i] - inward[i], cov=cov)
    return places


def _with_end(legs: Legs, leg: int, last: int) -> Legs | None:
    """The cut with a leg ending at point ``last`` and the next one beginning behind it; None where one loses all."""
    if not 0 < last < len(legs) - 1:
        return None
    cut = list(legs)
    for i, at in enumerate(legs):
        if i <= last and (at is None or at == leg + 1) and _between(legs, i, leg):
            cut[i] = leg
        elif i > last and (at is None or at == leg) and _between(legs, i, leg):
            cut[i] = leg + 1
    counts = [cut.count(k) for k in (leg, leg + 1)]
    return cut if min(counts) >= 2 else None


def _between(legs: Legs, i: int, leg: int) -> bool:
    """Whether point i lies on leg, on leg + 1 or on the bend between them."""
    before = [at for at in legs[: i + 1] if at is not None]
    after = [at for at in legs[i:] if at is not None]
    return bool(before) and bool(after) and before[-1] >= leg and after[0] <= leg + 1


def _may_be(points: tuple[Point, ...], cut: Legs) -> bool:
    """Whether a cut keeps to the legs that were told, with every corner at the end of its leg."""
    for i, point in enumerate(points):
        if point.leg is not None and cut[i] not in (None, point.leg):
            return False
        if point.what == "corner" and i + 1 < len(cut) and cut[i + 1] == cut[i]:
            return False
    return True
