"""Points and readings that may be wrong: what they are called, and how they stand to a fit."""

from __future__ import annotations

from collections.abc import Callable, Container, Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from plumbend.estimate.chances import beyond_chance
from plumbend.records import record
from plumbend.shape.fit import Fit
from plumbend.shape.measured import Measured
from plumbend.shape.search import FEW
from plumbend.shape.standing import Standing

if TYPE_CHECKING:  # only a tube with a wrong point pays for it
    from plumbend.shape.slips_of_points import Misread


@record
class Suspect:
    """A point, or a reading of the tube itself, by its place in the list that it was measured in."""

    index: int
    is_reading: bool = False

    def left_out(self, measured: Measured) -> Measured:
        """All that was measured without it."""
        return measured.without_reading(self.index) if self.is_reading else measured.without(self.index)

    def name(self, measured: Measured) -> str:
        """What messages call it."""
        return f"the reading of the {self.typed(measured)}" if self.is_reading else self.typed(measured)

    def typed(self, measured: Measured) -> str:
        """What it is called in the job, to be kept by."""
        return (measured.readings if self.is_reading else measured.points)[self.index].name


Out = frozenset[Suspect]
"""Points and readings that are left out."""


def without(measured: Measured, out: Out) -> Measured:
    """All that was measured without ``out``."""
    for suspect in sorted(out, key=lambda one: -one.index):
        measured = suspect.left_out(measured)
    return measured


def kept_of(measured: Measured, names: Container[str]) -> Out:
    """The points and readings that are never left out, by their names."""
    return frozenset(one for one in all_of(measured.points, measured.readings) if one.typed(measured) in names)


@record
class Accused:
    """A point or reading that is probably wrong, and what it looks like; None where it has no figures to be misread."""

    suspect: Suspect
    misread: Misread | None = None


@record
class Wrong:
    """One wrong point, by those any one of which may be it.

    Attributes:
        accused: the likeliest first; more than one where the others cannot tell.
        all_out: all of them are left out; else the first alone, as the others need the rest.
    """

    accused: tuple[Accused, ...]
    all_out: bool

    @property
    def is_open(self) -> bool:
        """Whether the others do not tell which of several it is."""
        return len(self.accused) > 1


@record(eq=False)
class Found:
    """All that is wrong, what is left out for it, and the fit without."""

    wrong: tuple[Wrong, ...]
    out: Out
    fit: Fit

    def misread(self, suspect: Suspect) -> str | None:
        """What one that is left out looks like; None where it is not, or nothing explains it."""
        everyone = (accused for wrong in self.wrong for accused in wrong.accused)
        words = (one.misread.words for one in everyone if one.suspect == suspect and one.misread is not None)
        return (next(words, None) or None) if suspect in self.out else None


def stands_out(fit: Fit, kept: Container[Suspect] = ()) -> bool:
    """Whether one point or reading that is not ``kept`` misses by more than chance allows, whatever all together do."""
    return bool(standing_out(Standing(fit), all_of(fit.evidence.points, fit.evidence.readings), kept))


def worst_kept(measured: Measured, fit: Fit, out: Out, kept: Out) -> Suspect | None:
    """Of what was ``kept``, that which goes worst with the rest of a ``fit`` without ``out``; None where all goes."""
    if not kept:
        return None
    left = [one for one in all_of(measured.points, measured.readings) if one not in out]
    return next((left[i] for i in Standing(fit).stand_out() if left[i] in kept), None)


def all_of(points: Iterable[object], readings: Iterable[object]) -> list[Suspect]:
    """All points, then all readings."""
    return [
        *(Suspect(i) for i, _ in enumerate(points)),
        *(Suspect(i, is_reading=True) for i, _ in enumerate(readings)),
    ]


def standing_out(standing: Standing, every: list[Suspect], kept: Container[Suspect]) -> list[Suspect]:
    """Those of ``every`` that miss by more than chance allows and are not ``kept``, the likeliest wrong first."""
    return [every[i] for i in standing.stand_out() if every[i] not in kept]


def behind_refusal(
    measured: Measured, fit_rest: Callable[[Measured], Fit | None], kept: Container[Suspect] = ()
) -> tuple[Suspect, ...]:
    """The points and readings without any one of which the rest agree and can be bent, the likeliest first.

    Args:
        measured: what cannot be bent.
        fit_rest: fits what is left, from a first guess of its own; None where that cannot be bent either.
        kept: never left out.
    """
    if measured.scan is not None:
        measured = replace(measured, scan=measured.scan.thinned(FEW))
    found = []
    for order, suspect in enumerate(all_of(measured.points, measured.readings)):
        rest = suspect.left_out(measured)
        fit = fit_rest(rest) if suspect not in kept and (rest.points or rest.readings or rest.scan) else None
        if fit is not None and fit.dof > 0 and not beyond_chance(fit.chi2, fit.dof):
            found.append((fit.chi2, order, suspect))
    found.sort(key=lambda one: one[:2])
    # one more wrong point would cost as much as two or three numbers ill fitted
    return tuple(suspect for chi2, _, suspect in found if not beyond_chance(chi2 - found[0][0], 2))
