"""Numbers set that are not free: what a plane, a limit or a demand fixes, and what demands make alike."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from plumbend.frames import FloatArray
from plumbend.making.setting import Setting
from plumbend.records import record
from plumbend.shape.chain import POSE
from plumbend.shape.fit import Fit

if TYPE_CHECKING:  # a tube without demands does not pay for them
    from plumbend.shape.demands import Demand

ON_THE_GRID = 1e-6
"""A number within so many steps of the grid is on it."""


@record(eq=False)
class Ties:
    """Numbers set = ways @ free numbers + constant, all whole.

    Attributes:
        ways: (q, m).
        constant: (q,).
    """

    ways: FloatArray
    constant: FloatArray

    def nearest(self, numbers: FloatArray) -> FloatArray:
        """Free numbers (m,) that come nearest to numbers set (q,)."""
        free, *_ = np.linalg.lstsq(self.ways, numbers - self.constant, rcond=None)
        return np.asarray(free, dtype=np.float64)


def tied(fit: Fit, setting: Setting) -> Ties:
    """What is not free of the numbers set for a fitted tube, in steps.

    Turns of a planar tube are none or half a turn. A straight or an angle that a limit holds takes the last step within
    it, an exact bend the nearest one. Bends of equal angles, and halves of a symmetric tube, are set alike. Where marks
    are set, straights are differences of them, and the search itself sees to their limits.
    """
    numbers = setting.set_for(fit.chain.parameters()[POSE:])
    fixed = _fixed(fit, setting, numbers)
    of = list(range(numbers.size))
    sign, constant = np.ones(numbers.size), np.zeros(numbers.size)
    for one, other, opposite in _alike(fit, setting):
        if opposite:
            # the two add up to nothing or to a whole turn
            together = float(np.round(numbers[one] + numbers[other]))
            if one == other:
                fixed.setdefault(one, float(np.round(numbers[one])))
            else:
                of[other], sign[other], constant[other] = one, -1.0, together
        else:
            of = [of[one] if was == of[other] else was for was in of]
    known: dict[int, float] = {}
    for i, value in fixed.items():
        known.setdefault(of[i], sign[i] * (value - constant[i]))
    free = sorted(set(of) - known.keys())
    ways = np.zeros((numbers.size, len(free)))
    for i, leader in enumerate(of):
        if leader in known:
            constant[i] += sign[i] * known[leader]
        else:
            ways[i, free.index(leader)] = sign[i]
    return Ties(ways, constant)


def _fixed(fit: Fit, setting: Setting, numbers: FloatArray) -> dict[int, float]:
    """Numbers that are fixed, by where they stand; limits come first."""
    fixed: dict[int, float] = {}
    held = fit.at_limit[POSE:]
    lengths, turns, angles = (
        range(numbers.size)[part] for part in (setting.straights, setting.rotations, setting.angles)
    )
    for i in np.flatnonzero(held).tolist():
        if i in lengths and not setting.has_marks:
            fixed[i] = float(np.ceil(numbers[i] - ON_THE_GRID))
        elif i in angles:
            fixed[i] = float(np.floor(numbers[i] + ON_THE_GRID))
    if fit.planar:
        fixed.update((i, float(np.round(numbers[i]))) for i in turns)
    demands = _demands(fit)
    if demands:
        from plumbend.shape.demands import BendExactly  # only a tube with demands pays for them

        for bend in (demand.bend for demand in demands if isinstance(demand, BendExactly)):
            fixed.setdefault(angles[bend - 1], float(np.round(numbers[angles[bend - 1]])))
    return fixed


def _alike(fit: Fit, setting: Setting) -> Iterator[tuple[int, int, bool]]:
    """Pairs of numbers set that must be alike, or opposite but for whole turns, by where they stand."""
    demands = _demands(fit)
    if not demands:
        return
    from plumbend.shape.demands import EqualAngles, Symmetric  # only a tube with demands pays for them

    size = setting.constant.size
    straights, turns, angles = (range(size)[part] for part in (setting.straights, setting.rotations, setting.angles))
    for demand in demands:
        if isinstance(demand, EqualAngles):
            first, *others = (angles[bend - 1] for bend in demand.which)
            yield from ((first, other, False) for other in others)
        elif isinstance(demand, Symmetric):
            halves = [angles] if setting.has_marks else [straights, angles]
            for part in halves:
                yield from ((part[k], part[-1 - k], False) for k in range(len(part) // 2))
            yield from ((turns[k], turns[-1 - k], True) for k in range((len(turns) + 1) // 2))


def _demands(fit: Fit) -> list[Demand]:
    """Demands that must be kept exactly."""
    return [demand for demand in fit.evidence.demands if demand.sds is None]
