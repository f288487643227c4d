"""The one point or reading that is wrong, where what was measured cannot all be right.

Each in turn is left out and the rest fitted afresh; to go on from the spoilt fit would stay in its hollow. One is
wrong where the rest then agree within their accuracies, and do so by more than chance better than without any other.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from plumbend.estimate.chances import beyond_chance
from plumbend.shape.fit import Fit
from plumbend.shape.measured import Measured
from plumbend.shape.search import FEW


@dataclass(frozen=True, slots=True)
class Suspect:
    """A point, or a reading of the tube itself, by its place in the list that it was measured in."""

    index: int
    is_reading: bool = False

    def left_out(self, measured: Measured) -> Measured:
        """All that was measured without it."""
        return measured.without_reading(self.index) if self.is_reading else measured.without(self.index)

    def name(self, measured: Measured) -> str:
        """What messages call it."""
        if self.is_reading:
            return f"the reading of the {measured.readings[self.index].name}"
        return measured.points[self.index].name


@dataclass(frozen=True, slots=True, eq=False)
class Suspects:
    """Points and readings of which one is wrong, the likeliest first; ``fit`` is without that."""

    likely: tuple[Suspect, ...]
    fit: Fit


def find_suspects(measured: Measured, fit_rest: Callable[[Measured], Fit | None]) -> Suspects | None:
    """The points and readings one of which must be wrong, and the fit without the likeliest.

    None where leaving one out is no help.

    Args:
        measured: what cannot all be right.
        fit_rest: fits what is left, from a first guess of its own; None where that is no better.
    """
    if measured.scan is not None:
        measured = replace(measured, scan=measured.scan.thinned(FEW))
    every = [
        *(Suspect(i) for i in range(len(measured.points))),
        *(Suspect(i, is_reading=True) for i in range(len(measured.readings))),
    ]
    found = []
    for order, suspect in enumerate(every):
        rest = suspect.left_out(measured)
        fit = fit_rest(rest) if rest.points or rest.readings or rest.scan is not None else None
        if fit is not None and fit.dof > 0 and not beyond_chance(fit.chi2, fit.dof):
            found.append((fit.chi2, order, suspect, fit))
    if not found:
        return None
    found.sort(key=lambda one: one[:2])
    least, _, _, fit = found[0]
    # one more wrong point would cost as much as two or three numbers ill fitted
    alike = tuple(suspect for chi2, _, suspect, _ in found if not beyond_chance(chi2 - least, 2))
    return Suspects(alike, fit)
