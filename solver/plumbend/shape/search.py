"""Out of a false optimum: other cuts of the points into legs, tried where the best fit so far is impossible.

Points on the outside lie up to half an OD off the axis in any direction, so the first cut, made with
straight lines, can put a slight bend in the wrong place; the fit then settles beside the truth. It shows:
the misses are too large for the accuracies. Only then are other cuts tried, and the best fit kept.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.shape.chain import Chain, layout
from plumbend.shape.evidence import Evidence
from plumbend.shape.fit import Fit, FormingLimits, fit_free, fit_from
from plumbend.shape.guess import chain_from_legs
from plumbend.shape.guide import guide_places
from plumbend.shape.kinds import OutsidePoints
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.segments import Legs, Segmentation

FEW = 2000
"""Points of a scan that the search works with."""
MOST_OFF_AXIS = 4.0
"""Accuracies by which a place found in such a scan may be off its leg; what is farther off is no place of the tube."""
MOST_TRIES = 60
"""Cuts tried where points lie off the axis, on the outside or on a side."""
FEW_TRIES = 12
"""The same where all lie on the axis, and straight lines cut them well the first time."""
ENOUGH_TO_JUDGE = 20
"""Iterations by which a cut shows whether it is better than another."""
LEAST_TO_JUDGE = 0.01
"""Part of the sum of squares that a few iterations must take off for a cut to be carried on so far."""
HOPELESS = 25.0
"""Squares missed, on average over all residuals, from which on nothing else is tried to mend a fit."""
LEAST_IN_DOUBT = np.radians(1.0)
"""Doubt of an angle from which on places on the outside may leave room for two tubes."""
BENT_BY = 8.0
"""Doubts by which an angle is changed to find the other."""
NOT_THE_SAME = 1e-4
"""Part of the sum of squares by which another tube must miss less."""
SHIFTS = (1, -1, 2, -2, 4, -4)


class Search:
    """The search for the best tube, over cuts of the guiding places into legs."""

    def __init__(self, measured: Measured, limits: FormingLimits) -> None:
        self.measured = measured
        self.limits = limits
        self.places = guide_places(measured)
        self.segmentation = self._cuts()
        # a scan is looked through by a few of its points, and the rest have their say at the end
        scan = None if measured.scan is None else measured.scan.thinned(FEW)
        self._few = replace(measured, scan=scan)

    def _cuts(self) -> Segmentation:
        if self.measured.scan is None or not self.measured.scan.strays:
            return Segmentation(self.places)
        from plumbend.shape.agreeing import AgreedLegs  # few scans hold what is not on the tube

        return AgreedLegs(self.places, MOST_OFF_AXIS**2)

    def plain(self, bends: int) -> Fit | None:
        """A fit with ``bends`` bends from the likeliest cut alone, carried on only as far as it takes to judge it.

        None where a leg has fewer than two places.
        """
        legs = self.segmentation.legs(bends)
        return None if legs is None else self._fit_cut(legs)

    def thorough(self, bends: int) -> Fit | None:
        """The same, other cuts tried as well for as long as the best is impossible."""
        legs = self.segmentation.legs(bends)
        return None if legs is None else self._best_cut(legs)

    def finished(self, fit: Fit, *, thorough: bool = True) -> Fit:
        """A fit carried on to its end, with all points of the scan.

        Where it is impossible all the same it is not carried far; and no farther at all without ``thorough``.
        """
        impossible = beyond_chance(fit.chi2, fit.dof)
        if impossible and not thorough and self.measured.scan is None:
            return fit
        evidence = fit.evidence
        if self._few.scan is not self.measured.scan:
            evidence = self.measured.compiled(fit.chain.bends, evidence.points)
        if evidence is not fit.evidence or not fit.converged:
            most = 2 * ENOUGH_TO_JUDGE if impossible else 200
            fit = fit_from(fit.chain, evidence, self.limits, planar=self.measured.planar, most_iterations=most)
        return self._lowest_about(fit) if thorough else fit

    def _lowest_about(self, fit: Fit) -> Fit:
        """The fit, or a better one beside it, where slight places on the outside leave room for two.

        A tube may pass places on its outside on either side of each, and places near a joint may lie on the straight
        or on the bend. Where that leaves an angle in doubt, the tube is bent so far that it shows, all else giving way
        as the fit's own doubts say, and let go again.
        """
        if self.measured.scan is not None or fit.evidence.is_held or not _two_sided(self.measured.points):
            return fit
        found: Fit | None = fit
        while found is not None:
            fit, found = found, next((other for other in self._bent(found) if _clearly_less(other, fit)), None)
        return fit

    def _bent(self, fit: Fit) -> Iterator[Fit]:
        """Fits begun with one angle in doubt bent this way or that."""
        covariance, loose = fit.doubt.covariance, fit.doubt.loose
        for k in range(*layout(fit.chain.bends).angles.indices(len(loose))):
            doubt = math.sqrt(covariance[k, k])
            if loose[k] or doubt < LEAST_IN_DOUBT or fit.chi2 > HOPELESS * fit.minimum.normal.count:
                continue
            for by in (BENT_BY, -BENT_BY):
                bent = fit.evidence.move(fit.chain, by / doubt * covariance[:, k])
                found = self._judged(bent, fit.evidence)
                if _clearly_less(found, fit):
                    yield fit_from(found.chain, fit.evidence, self.limits, planar=self.measured.planar)

    def _best_cut(self, legs: Legs) -> Fit:
        best = self._fit_cut(legs)
        off_axis = any(point.what == "outside" or point.side is not None for point in self.measured.points)
        most = MOST_TRIES if off_axis or self.measured.scan is not None else FEW_TRIES
        tried = {tuple(legs)}
        while self._other_cuts_may_help(best):
            for cut in self._other_cuts(legs, best):
                if tuple(cut) in tried or len(tried) > most:
                    continue
                tried.add(tuple(cut))
                found = self._fit_cut(cut)
                if _better(found, best):
                    best, legs = found, cut
                    break
            else:
                break
        return best

    def _other_cuts_may_help(self, fit: Fit) -> bool:
        """Whether what was measured is impossible by itself, or places touched within so much are not kept to."""
        if not fit.evidence.is_held:
            return beyond_chance(fit.chi2, fit.dof)
        from plumbend.shape.held import with_only  # only a tube that must keep something pays for it

        free = fit_free(fit.chain, with_only(fit.evidence, [], []), self.limits, planar=fit.planar)
        touched = any(point.standoff.within is not None for point in fit.evidence.points)
        return beyond_chance(free.chi2, free.dof) or (touched and not fit.demands_met)

    def _fit_cut(self, legs: Legs) -> Fit:
        chain = chain_from_legs(self.places, self.segmentation.agreed(legs), self.limits.radius)
        bend_of = {place.name: leg for place, leg in zip(self.places, legs, strict=True) if place.what == "corner"}
        points = [
            replace(point, bend=bend_of[point.name]) if point.what == "corner" else point
            for point in self.measured.points
        ]
        evidence = self._few.compiled(chain.bends, points)
        if not evidence.alike:
            # weights that differ by direction or tie points together mislead while the tube is far off
            plainly = replace(self._few, joint=None).compiled(chain.bends, [_as_good_every_way(p) for p in points])
            chain = self._judged(chain, plainly).chain
        return self._judged(chain, evidence)

    def _judged(self, chain: Chain, evidence: Evidence) -> Fit:
        """A fit carried on as far as it takes to judge it."""
        return fit_from(
            chain,
            evidence,
            self.limits,
            planar=self.measured.planar,
            most_iterations=ENOUGH_TO_JUDGE,
            least_gain=LEAST_TO_JUDGE,
        )

    def _other_cuts(self, legs: Legs, fit: Fit) -> Iterator[Legs]:
        """The cut that the fit itself suggests, runs of legs shared out evenly, every end of a leg shifted a few
        places, and every bend moved to where there is none."""
        again = Segmentation(self._axis_by_fit(fit)).legs(fit.chain.bends)
        if again is not None:
            yield again
        for cut in _evened(legs):
            if _may_be(self.places, cut):
                yield cut
        for leg in range(1, fit.chain.bends + 1):
            last = max((i for i, at in enumerate(legs) if at == leg), default=None)
            if last is None or self.places[last].what == "corner":
                continue
            for shift in SHIFTS:
                shifted = _with_end(legs, leg, last + shift)
                if shifted is not None and _may_be(self.places, shifted):
                    yield shifted
        for cut in _bend_moved(legs):
            if _may_be(self.places, cut):
                yield cut

    def _axis_by_fit(self, fit: Fit) -> list[Point]:
        """The guiding places with those of outside points brought in by half an OD toward the fitted tube."""
        od = self.measured.od
        found = {}
        for group in fit.evidence.groups:
            if isinstance(group, OutsidePoints):
                off = group.feet(fit.chain).off
                inward = od / 2 * off / np.maximum(np.linalg.norm(off, axis=1), 1e-9)[:, None]
                for i, member in enumerate(group.members):
                    point = fit.evidence.points[member]
                    cov = point.cov + np.eye(3) * (od / 8) ** 2
                    found[point.name] = replace(point, what="centre", at=group.at[i] - inward[i], cov=cov)
        return [found.get(place.name, place) for place in self.places]


def _better(found: Fit, best: Fit) -> bool:
    """Whether a fit keeps what the tube must keep where the best does not, or else misses clearly less."""
    if found.demands_met != best.demands_met:
        return found.demands_met
    return found.chi2 < 0.99 * best.chi2


def _clearly_less(found: Fit, fit: Fit) -> bool:
    return found.chi2 < fit.chi2 - NOT_THE_SAME * (1 + fit.chi2)


def _two_sided(points: Sequence[Point]) -> bool:
    """Whether some place may lie on either side of the tube."""
    return any(
        point.what == "outside" or (point.what == "touch" and point.standoff.tube_is is None) for point in points
    )


def _as_good_every_way(point: Point) -> Point:
    return replace(point, cov=np.eye(3) * (np.trace(point.cov) / 3))


def _with_end(legs: Legs, leg: int, last: int) -> Legs | None:
    """The cut with a leg ending at place ``last`` and the next one beginning behind it; None where one loses all."""
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


def _spans(legs: Legs) -> list[tuple[int, int]]:
    """First and last place of every leg."""
    runs = [[i for i, at in enumerate(legs) if at == leg] for leg in range(1, max(at or 0 for at in legs) + 1)]
    return [(run[0], run[-1]) for run in runs]


def _evened(legs: Legs) -> Iterator[Legs]:
    """Cuts in which two, three or all neighbouring legs share their places evenly."""
    spans = _spans(legs)
    for run in dict.fromkeys((len(spans), 3, 2)):
        for k in range(len(spans) - run + 1):
            first, last = spans[k][0], spans[k + run - 1][1]
            if last - first + 1 >= 2 * run:
                edges = [first + (last + 1 - first) * i // run for i in range(run + 1)]
                even = [(edges[i], edges[i + 1] - 1) for i in range(run)]
                yield _cut_of([*spans[:k], *even, *spans[k + run :]], len(legs))


def _bend_moved(legs: Legs) -> Iterator[Legs]:
    """Cuts in which two neighbouring legs are made one, and another is split or a run of places left to a bend
    becomes a leg."""
    spans = _spans(legs)
    for k in range(len(spans) - 1):
        merged = [*spans[:k], (spans[k][0], spans[k + 1][1]), *spans[k + 2 :]]
        for j, (first, last) in enumerate(merged):
            if j != k and last - first >= 3:
                middle = (first + last) // 2
                yield _cut_of([*merged[:j], (first, middle), (middle + 1, last), *merged[j + 1 :]], len(legs))
            if j + 1 < len(merged) and merged[j + 1][0] - last > 2:
                between = (last + 1, merged[j + 1][0] - 1)
                yield _cut_of([*merged[: j + 1], between, *merged[j + 1 :]], len(legs))


def _cut_of(spans: list[tuple[int, int]], count: int) -> Legs:
    """The cut whose legs run over the spans (first, last) of places."""
    cut: Legs = [None] * count
    for leg, (first, last) in enumerate(spans, 1):
        cut[first : last + 1] = [leg] * (last + 1 - first)
    return cut


def _may_be(points: list[Point], cut: Legs) -> bool:
    """Whether a cut keeps to the legs and bends that were told, with every corner at the end of its leg."""
    for i, point in enumerate(points):
        if point.leg is not None and cut[i] not in (None, point.leg):
            return False
        if point.what == "corner":
            if cut[i] is None or point.bend not in (None, cut[i]):
                return False
            if i + 1 < len(cut) and cut[i + 1] == cut[i]:
                return False
    return True
