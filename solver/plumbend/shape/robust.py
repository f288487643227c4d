"""Which places of a scan are on the tube: gross errors found, and left out of the fit.

The tube is first fitted to a few of the places as if all were on it. Where some are not, it is looked for with Tukey's
biweight (:mod:`plumbend.shape.scan`), from places on the axis that most of their neighbourhood agrees on
(:mod:`plumbend.shape.consensus`). What lies more than :data:`CUT` doubts off is then left out, and the tube is fitted
to the rest by plain least squares, the cut being made anew until it settles. Of places that are on the tube the cut
takes 7 in a million, so that this last step is as good as the fit without gross errors and its doubts are true.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from typing import Protocol

import numpy as np
import numpy.typing as npt

from plumbend.estimate.chances import beyond_chance
from plumbend.frames import FloatArray
from plumbend.progress import Progress, untold
from plumbend.records import record
from plumbend.shape.feet import feet
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.guide import scan_path
from plumbend.shape.measured import Measured
from plumbend.shape.scan import Scan, ScanRows
from plumbend.shape.search import FEW

CUT = 4.5
"""Doubts off the tube beyond which a place is not on it."""
PER_MILLION = 6.8
"""Places in a million on the tube that chance puts beyond the cut."""
NO_CHANCE = 6.5
"""Doubts off the tube where chance puts none, however many there are."""
PER_DOUBT = 1.4826
"""Standard deviation over the median size of what is normally distributed."""
FEW_STRAYS = 0.05
"""Up to so many off the tube do not hide where it runs."""
MOST_STRAYS = 0.35
"""With more of the places off the tube it is not sure which tube they are of."""
WIDEST = 3.0
"""Up to so many times its doubt a scan may scatter as a whole before most of it is taken to be off the tube."""
ROUNDS = 6
TIMES_COUNTED = 4
"""Bends are counted anew until they are the same, at most so often."""
IN_SEARCH = 1000
"""Places of a scan that the tube is looked for with where some are off it."""
LEAST_KEPT = 10

Kept = npt.NDArray[np.bool_]


class FitAny(Protocol):
    """How a tube is fitted to what was measured of it; None where that does not place one."""

    def __call__(self, measured: Measured, /, *, thorough: bool) -> Fit | None:
        """The fit, ``thorough`` where it is to be searched for when impossible."""


@record(eq=False)
class Sorted:
    """A scan sorted into places that are on the tube and places that are not.

    Attributes:
        measured: what was measured, with the places on the tube alone.
        fit: the tube fitted to that.
        strays: (m, 3) mm, the places that are not on the tube.
    """

    measured: Measured
    fit: Fit
    strays: FloatArray

    @property
    def part_off(self) -> float:
        """Part of the places that are not on the tube."""
        assert self.measured.scan is not None
        return len(self.strays) / (len(self.strays) + len(self.measured.scan.at))


def fit_sorting(
    measured: Measured, fit_any: FitAny, limits: FormingLimits, *, counting: bool, progress: Progress = untold
) -> Sorted | None:
    """A tube fitted to what was measured, without the places of its scan that are not on it.

    Args:
        measured: with a scan.
        fit_any: fits a tube to what it is given, bends told or counted.
        limits: of the die; bends keep the radius that ``fit_any`` gives them.
        counting: ``fit_any`` counts the bends.
        progress: told how far it has come.
    """
    scan = measured.scan
    assert scan is not None
    progress("finding the straights", len(scan.at))
    rough = _sorted_few(_with(measured, scan.thinned(FEW)), fit_any, limits, counting=counting)
    if rough is None:
        return None
    if scan.alike is not None:
        from plumbend.shape.alike import shared_by_neighbours  # few scans say that neighbours are off together

        # now that it is known which way each place faces
        scan = replace(scan, shared=shared_by_neighbours(scan.at, scan.alike, rough.chain))
    progress("fitting the tube", len(scan.at))
    scan = scan.gathered()
    measured = _with(measured, scan)
    fit, kept = _settled(measured, rough, limits)
    on_it = measured if kept.all() else _with(measured, replace(scan, at=scan.at[kept]))
    return Sorted(on_it, fit, scan.at[~kept])


def _with(measured: Measured, scan: Scan) -> Measured:
    return replace(measured, scan=scan)


def _sorted_few(few: Measured, fit_any: FitAny, limits: FormingLimits, *, counting: bool) -> Fit | None:
    """A fit to those of a few places that are on the tube."""
    assert few.scan is not None
    plain = fit_any(few, thorough=False)
    if plain is not None and nearly_all_on_it(few, plain):
        fit, kept = _settled_counting(few, plain, fit_any, limits, counting=counting)
        if _agrees(few, fit, kept) and kept.mean() >= 1 - FEW_STRAYS:
            return fit
    if plain is not None and _alike(few, plain):
        # all scatter more widely than they are said to
        searched = fit_any(few, thorough=True)
        if searched is not None and _alike(few, searched):
            return searched
    best, most = None, -1
    amid = _with(few, replace(few.scan.thinned(IN_SEARCH), strays=True))
    for rough, thorough in _looked_for(few, plain, amid, fit_any):
        fit, kept = _settled_counting(few, rough, fit_any, limits, counting=counting)
        if _agrees(few, fit, kept) and kept.mean() >= 1 - MOST_STRAYS and (thorough or _passes_all(amid, fit)):
            return fit
        if _on_it(few, fit) > most:
            best, most = fit, _on_it(few, fit)
    return best  # as many places as can be on one tube, however widely the rest scatter


def _looked_for(few: Measured, plain: Fit | None, amid: Measured, fit_any: FitAny) -> Iterator[tuple[Fit, bool]]:
    """First fits, in ever more costly ways, and whether they were searched for thoroughly."""
    if plain is not None:
        yield plain, False
    for places, thorough in ((amid, False), (amid, True), (few, True)):
        fit = fit_any(places, thorough=thorough)
        if fit is not None:
            yield fit, thorough


def nearly_all_on_it(few: Measured, fit: Fit) -> bool:
    """Whether all but a few of the places lie on the tube of a fit."""
    assert few.scan is not None
    return _on_it(few, fit) >= (1 - FEW_STRAYS) * len(few.scan.at)


def _alike(few: Measured, fit: Fit) -> bool:
    """Whether the places scatter about the tube of a fit like one another, though more widely than they are said to."""
    assert few.scan is not None
    misses = np.abs(ScanRows(few.scan, few.od).misses(fit.chain))
    wide = PER_DOUBT * float(np.median(misses))
    return wide <= WIDEST * few.scan.sd and float((misses > CUT * wide).mean()) <= FEW_STRAYS


def _on_it(few: Measured, fit: Fit) -> int:
    assert few.scan is not None
    return int((np.abs(ScanRows(few.scan, few.od).misses(fit.chain)) <= CUT * few.scan.sd).sum())


def _passes_all(amid: Measured, fit: Fit) -> bool:
    """Whether a fit passes nearly all places that look like the axis of such a tube: none of its legs is left out."""
    off = np.linalg.norm(feet(fit.chain, scan_path(amid)).off, axis=1)
    return float((off > amid.od / 2).mean()) <= FEW_STRAYS


def _settled_counting(
    few: Measured, fit: Fit, fit_any: FitAny, limits: FormingLimits, *, counting: bool
) -> tuple[Fit, Kept]:
    """A fit to the places that are on its tube, its bends counted anew where those off the tube made more."""
    fit, kept = _settled(few, fit, limits)
    assert few.scan is not None
    for _ in range(TIMES_COUNTED if counting else 0):
        if kept.all():
            break
        again = fit_any(_with(few, replace(few.scan, at=few.scan.at[kept])), thorough=False)
        if again is None or again.chain.bends == fit.chain.bends:
            break
        fit, kept = _settled(few, again, limits)
    return fit, kept


def _settled(measured: Measured, fit: Fit, limits: FormingLimits) -> tuple[Fit, Kept]:
    """A fit to the places that are on the tube of a fit, again until they are the same, and which (m,) they are."""
    scan = measured.scan
    assert scan is not None
    rows = ScanRows(scan, measured.od)
    if fit.evidence.scan is not None and fit.evidence.scan.scan is scan:  # every place took part in the fit
        before = np.ones(len(scan.at), dtype=bool)
    else:
        before = np.zeros(len(scan.at), dtype=bool)  # none is known to be on the tube
    misses = rows.misses(fit.chain)
    scatter = 1.0
    for _ in range(ROUNDS):
        kept = _kept(misses, CUT * scan.sd * scatter)
        if kept.sum() < LEAST_KEPT:
            return fit, np.ones_like(kept)
        if np.array_equal(kept, before):
            break
        rest = measured if kept.all() else _with(measured, replace(scan, at=scan.at[kept]))
        evidence = rest.compiled(fit.chain.bends, fit.evidence.points)
        fit = fit_from(fit.chain, evidence, limits, planar=measured.planar)
        misses, before = rows.misses(fit.chain), kept
        scatter = _scatter(scan, misses[kept])
    return fit, before


def _kept(misses: FloatArray, most: float) -> Kept:
    """Which places are on a tube that they miss by so much: all, where chance explains those beyond the cut."""
    off = np.abs(misses)
    kept: Kept = off <= most
    beyond = len(kept) - int(kept.sum())
    usual = len(kept) * PER_MILLION / 1e6
    if beyond and beyond <= usual + 3 * math.sqrt(usual) and float(off.max()) < most * NO_CHANCE / CUT:
        kept[:] = True
    return kept


def _scatter(scan: Scan, misses: FloatArray) -> float:
    """How much more widely most places scatter than they are said to; 1 where they may all be on the tube."""
    if _may_be_on_it(scan, misses):
        return 1.0
    return max(1.0, PER_DOUBT * float(np.median(np.abs(misses))) / scan.sd)


def _may_be_on_it(scan: Scan, misses: FloatArray) -> bool:
    together = scan.off_together(misses.size)
    return not beyond_chance(float((misses**2).sum()) / scan.sd**2 / together, max(1, round(misses.size / together)))


def _agrees(few: Measured, fit: Fit, kept: Kept) -> bool:
    """Whether the places kept lie on the tube, whatever the points and readings beside them say."""
    assert few.scan is not None
    return _may_be_on_it(few.scan, ScanRows(few.scan, few.od).misses(fit.chain)[kept])
