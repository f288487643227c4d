"""The one point that is wrong, where the points as they stand cannot all be right.

Each point in turn is left out and the rest fitted afresh; to go on from the spoilt fit would stay in its hollow. A
point is the wrong one where the rest then agree within their accuracies, and do so by more than chance better
than without any other point.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from plumbend.estimate.chances import beyond_chance
from plumbend.shape.fit import Fit
from plumbend.shape.measured import Measured


@dataclass(frozen=True, slots=True, eq=False)
class Suspects:
    """Points of which one is wrong: ``indices`` in the points' order, the likeliest first; ``fit`` is without that."""

    indices: tuple[int, ...]
    fit: Fit


def find_suspects(measured: Measured, fit_rest: Callable[[Measured], Fit | None]) -> Suspects | None:
    """The points one of which must be wrong, and the fit without the likeliest; None where leaving one out is no help.

    Args:
        measured: points that cannot all be right.
        fit_rest: fits what is left, from a first guess of its own.
    """
    found = []
    for index in range(len(measured.points)):
        fit = fit_rest(measured.without(index))
        if fit is not None and fit.dof > 0 and not beyond_chance(fit.chi2, fit.dof):
            found.append((fit.chi2, index, fit))
    if not found:
        return None
    found.sort(key=lambda one: one[:2])
    least, _, fit = found[0]
    # one more wrong point would cost as much as two or three numbers ill fitted
    alike = [index for chi2, index, _ in found if not beyond_chance(chi2 - least, 2)]
    return Suspects(tuple(alike), fit)
