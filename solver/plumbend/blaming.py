"""What of a tube's measurements is wrong where they cannot all be right, and what is said of it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from plumbend.asking import Why
from plumbend.estimate.chances import beyond_chance
from plumbend.fitting import fit_existing_part, fit_tube, refitting
from plumbend.job.model import WantedTube
from plumbend.making.buildable import Bench
from plumbend.making.limits import impossible_without_limits, limits_that_hold
from plumbend.notices import Notice
from plumbend.progress import Progress, untold
from plumbend.records import record
from plumbend.shape.disagreement import not_flat, other_count, other_radius
from plumbend.shape.find_wrong import MOST_OUT, find_wrong, wrong_as_sorted
from plumbend.shape.fit import Fit
from plumbend.shape.invented import resting_on_one
from plumbend.shape.measured import Measured
from plumbend.shape.remarks import sides_along_legs
from plumbend.shape.search import FEW, HOPELESS
from plumbend.shape.structure import fit_counting_bends
from plumbend.shape.suspects import (
    Accused,
    Found,
    Out,
    Suspect,
    behind_refusal,
    kept_of,
    stands_out,
    without,
    worst_kept,
)
from plumbend.shape.wrong_words import bent_without, kept_as_asked, not_one_tube, what_is_wrong
from plumbend.units import Units

if TYPE_CHECKING:
    from plumbend.shape.slips_of_points import Misread

MANY = 16
"""Points among which wrong ones are sorted out by what most agree on; of fewer each is tried."""


@record
class Asked:
    """What was asked for all tubes of a job.

    Attributes:
        typed_in: the units of the job's figures.
        keep: names of points and readings of the tubes that are never left out.
        why: that what drives the numbers is to be told; None where not.
        progress: told how far the work on a scan has come.
    """

    typed_in: Units
    keep: frozenset[str]
    why: Why | None = None
    progress: Progress = untold


@record(eq=False)
class Judged:
    """A tube's fit, once what is wrong was left out of it.

    Attributes:
        fit: of all that is right.
        found: what was left out; None where nothing was.
        refusals: why the die cannot bend it.
        held: which limits of the die hold it.
        blamed: what is said of what is wrong, or may be.
    """

    fit: Fit
    found: Found | None
    refusals: list[Notice]
    held: list[Notice]
    blamed: list[Notice]


def judged(tube: WantedTube, measured: Measured, fit: Fit, bench: Bench, ends: tuple[str, str], asked: Asked) -> Judged:
    """Look for what is wrong in what a ``fit`` of all of it, within the die's limits, cannot explain."""
    refusals, held = limits_that_hold(fit, bench, ends)
    kept = kept_of(measured, asked.keep)
    found: Found | None = None
    blamed: list[Notice] = sides_along_legs(fit)
    too_many: Out = frozenset()
    impossible = impossible_without_limits(fit)
    # what such a side says of the tube is wrong, whatever the rest say
    search = not blamed
    spoilt = search and (impossible or (not fit.at_limit.any() and stands_out(fit, kept)))
    if spoilt or (search and _bends_in_doubt(tube, measured, fit)):
        found, too_many = _wrong_in(tube, measured, fit, bench, asked, spoilt=spoilt)
    if search and impossible and (found is None or len(found.out) > 1):
        # one wrong point explains it all as well as another bend would, and costs no more
        blamed = _other_shapes(measured, tube, bench)
        if blamed and found is not None and len(found.wrong) > MOST_OUT:
            found = None  # one wrong word about the tube is likelier than many wrong points
    if too_many and not blamed:
        blamed = [not_one_tube(too_many, measured)]
    if found is not None:
        # of a scan only a few points took part so far
        whole = None if measured.scan is None else refitting(tube, fit, bench)(without(measured, found.out))
        fit = whole or found.fit
        refusals, held = limits_that_hold(fit, bench, ends)
        blamed = [*what_is_wrong(found, measured, bench.units), *blamed]
    elif search and refusals and not spoilt:
        refit = refitting(tube, fit, bench, buildable=True)
        blamed = bent_without(behind_refusal(measured, refit, kept), measured)
    blamed += _kept_but_wrong(tube, measured, fit, found, bench, asked)
    return Judged(fit, found, refusals, held, blamed)


def _wrong_in(
    tube: WantedTube, measured: Measured, fit: Fit, bench: Bench, asked: Asked, *, spoilt: bool
) -> tuple[Found | None, Out]:
    """What is wrong; where nothing is found, those of many points that are off the tube that most agree on."""
    kept, looks_like = kept_of(measured, asked.keep), _looks_like(measured, bench, asked)
    counting = tube.bends is None
    if measured.scan is not None or len(measured.points) < MANY:
        refit = refitting(tube, fit, bench)
        return find_wrong(measured, fit, refit, looks_like, kept, counting=counting, spoilt=spoilt), frozenset()
    from plumbend.shape.many_wrong import sort_points  # only many points with a wrong one among them pay for it

    sorted_ = sort_points(measured, tube.bends, bench.limits, kept)
    if sorted_ is not None and sorted_.out and not sorted_.too_many:
        refit = refitting(replace(tube, bends=sorted_.fit.chain.bends), fit, bench)
        found = wrong_as_sorted(measured, fit, refit, looks_like, sorted_.out, kept)
        if found is not None:
            return found, frozenset()
    if fit.chi2 > HOPELESS * max(fit.dof, 1):
        return None, frozenset() if sorted_ is None else sorted_.out
    # to count the bends for each of many that is left out would take minutes
    refit = refitting(replace(tube, bends=fit.chain.bends), fit, bench)
    return find_wrong(measured, fit, refit, looks_like, kept, spoilt=spoilt), frozenset()


def _bends_in_doubt(tube: WantedTube, measured: Measured, fit: Fit) -> bool:
    """Whether bends that nobody told may stand for a wrong point."""
    return tube.bends is None and bool(resting_on_one(measured, fit))


def _looks_like(measured: Measured, bench: Bench, asked: Asked) -> Callable[[Suspect, Fit], Misread | None]:
    """What a wrong point looks like beside the fit without it."""
    from plumbend.shape.slips_of_points import misread_of  # a tube without a wrong point does not pay for it

    def looks_like(suspect: Suspect, rest: Fit) -> Misread | None:
        if suspect.is_reading:
            return None
        point, figures = measured.points[suspect.index], measured.is_typed(suspect.index)
        return misread_of(point, rest, asked.typed_in, bench.units, far=suspect.index > 0, figures=figures)

    return looks_like


def _kept_but_wrong(
    tube: WantedTube, measured: Measured, fit: Fit, found: Found | None, bench: Bench, asked: Asked
) -> list[Notice]:
    """Caution about what goes worst with the rest and was kept."""
    out = frozenset() if found is None else found.out
    worst = worst_kept(measured, fit, out, kept_of(measured, asked.keep))
    if worst is None:
        return []
    rest = refitting(tube, fit, bench)(without(measured, out | {worst}))
    misread = None if rest is None else _looks_like(measured, bench, asked)(worst, rest)
    return [kept_as_asked(Accused(worst, misread), measured, bench.units)]


def _other_shapes(measured: Measured, tube: WantedTube, bench: Bench) -> list[Notice]:
    """Cautions where everything agrees on a tube that does not lie flat as told, on one of another number of bends, or
    a scan on another radius."""
    if measured.scan is not None:
        measured = replace(measured, scan=measured.scan.thinned(FEW))
    if tube.planar:
        bent = fit_tube(replace(measured, planar=False), tube.bends, bench.limits, thorough=False)
        if bent is not None and _agrees(bent):
            return [not_flat()]
    if tube.bends is not None and (measured.points or measured.scan is not None):  # readings count their bends
        counted = fit_counting_bends(measured, bench.limits, thorough=False)
        if counted is not None and _agrees(counted) and counted.chain.bends != tube.bends:
            return [other_count(counted.chain.bends, tube.bends)]
    if measured.scan is not None:
        part = fit_existing_part(measured, tube.bends, bench.die.radius)
        if part is not None and part.is_told and _agrees(part.fit):
            return [other_radius(part.radius, bench.die.radius, bench.units)]
    return []


def _agrees(fit: Fit) -> bool:
    return fit.dof > 0 and not beyond_chance(fit.chi2, fit.dof)
