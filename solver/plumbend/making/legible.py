"""The best numbers that tape and dial can show.

Rounded one by one, the numbers of a program throw the far end off by more than they need, for they lean on each other.
Of all numbers on the grid those are taken that the points like best, the tube shifted and turned to where it then lies
best. They are found by integer least squares on the fit's own normal equations, and the few best are compared by what
the tube then really misses.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbend.estimate.lattice import HAIR, IntArray, nearest_whole
from plumbend.estimate.normal import FLAT
from plumbend.frames import FloatArray
from plumbend.making.buildable import ROUNDING
from plumbend.making.leaning import Laid, Leaning
from plumbend.making.setting import Setting, Steps
from plumbend.making.ties import tied
from plumbend.records import record
from plumbend.shape.chain import POSE, Chain
from plumbend.shape.fit import Fit, FormingLimits, bounds
from plumbend.shape.program import Program

COMPARED = 4
"""So many are compared by what they really miss, at most,"""
NEARLY_BEST = 1.05
"""of those within this of the least by the quadratic: it was off by 2 % in 19 tubes of 20, at steps of 1 mm and 1
degree. Of 240 tubes none came out better where twice as many, or all within 15 %, were compared."""
MANY = 20_000
"""From so many places of a scan on, the quadratic is trusted: they would take longer to go through than to fit."""
ALIKE = 1e-5
"""Sums of squares that differ by less than this part are the same."""
INDIFFERENT = 1e-6
"""What a step is taken to cost along directions that nothing fixes: there the nearest grid value is as good as any."""


@record
class PointCost:
    """How far a tube passes from a point, as a miss in mm: by the exact numbers, the legible ones, and those rounded
    one by one."""

    name: str
    exact: float
    legible: float
    plain: float


@record(eq=False)
class Legible:
    """Numbers that tape and dial can show.

    Attributes:
        program: the tube that they make.
        corners: (n + 2, 3) mm, where its corners then lie, NaN where one is too far off.
        steps: of what is set.
        marks: (n,) mm, pen marks for the starts of the bends along the straight tube, measured from the end or bend
            that the habit measures from, trims not counted; None where the reference offset is not known, and then the
            program's straights are what is set.
        far_end: mm, where the end that is not hooked lies, measured likewise; None without marks.
        stops: (n,) radians on the pointer; None where the springback is not known, and then the program's angles are.
        chi2_added: weighted squares missed more than by the exact numbers.
        plain_added: the same for each number rounded by itself.
        points: misses at each point that was measured.
        proven: no other numbers on the grid are better, by the quadratic.
        chain: the tube that they make, where it then lies best.
    """

    program: Program
    corners: FloatArray
    steps: Steps
    marks: FloatArray | None
    far_end: float | None
    stops: FloatArray | None
    chi2_added: float
    plain_added: float
    points: tuple[PointCost, ...]
    proven: bool
    chain: Chain


def legible_program(
    fit: Fit, setting: Setting, limits: FormingLimits, most_stop: float | None = None, *, is_copy: bool = False
) -> tuple[Legible, Laid] | None:
    """The best numbers on the grid, and the tube that they make where it lies best.

    Args:
        fit: the tube.
        setting: what is set, and in which steps.
        limits: what the die can bend; the numbers keep within them.
        most_stop: the most that the pointer reaches, radians; None where not known.
        is_copy: the fit is a part's, made again on another radius.

    Returns None where no numbers on the grid keep within the limits.
    """
    leaning = Leaning(fit, setting.steps.length, is_copy=is_copy)
    search = Grid(fit, setting, limits, most_stop, leaning)
    candidates, proven = search.candidates(1 if _is_large(fit) else COMPARED)
    if not candidates:
        return None
    exact = fit.chain.parameters()[POSE:]
    plain = search.program(np.round(setting.set_for(exact)))
    trusted = is_copy or _is_large(fit)
    if trusted:
        numbers = candidates[0]
        laid, plainly = leaning.guessed(search.program(numbers)), leaning.guessed(plain)
    else:
        tried = [leaning.nearly_laid(search.program(numbers)) for numbers in candidates]
        best = _first_of_least([one.weighed for one in tried])
        numbers = candidates[best]
        laid, plainly = leaning.settled(tried[best]), leaning.settled(leaning.nearly_laid(plain))
    shown = setting.in_units(numbers)
    marks = shown[setting.straights] if setting.has_marks else None
    legible = Legible(
        laid.chain.program,
        laid.chain.corners(),
        setting.steps,
        None if marks is None else marks[:-1],
        None if marks is None else float(marks[-1]),
        shown[setting.angles] if setting.has_stops else None,
        laid.chi2 - fit.chi2,
        plainly.chi2 - fit.chi2,
        () if is_copy else _costs(fit, laid, plainly),
        proven,
        laid.chain,
    )
    return legible, laid


def _first_of_least(weighed: Sequence[float]) -> int:
    """Which misses least; of those that differ by nothing that is fixed, the first and nearest."""
    least = min(weighed)
    return next(i for i, missed in enumerate(weighed) if missed <= least + ALIKE * (1 + least))


def _is_large(fit: Fit) -> bool:
    scan = fit.evidence.scan
    return scan is not None and len(scan.scan.at) > MANY


class Grid:
    """The numbers on the grid: those that may be chosen freely, what they cost, and which are allowed."""

    def __init__(
        self, fit: Fit, setting: Setting, limits: FormingLimits, most_stop: float | None, leaning: Leaning
    ) -> None:
        self.setting = setting
        self.exact = fit.chain.parameters()[POSE:]
        self.inverse = np.linalg.inv(setting.matrix)
        self.lower, self.upper = (bound[POSE:].copy() for bound in bounds(fit.chain.bends, limits))
        self.lower[setting.angles] = 10 * ROUNDING  # a bend is a bend
        self.most_stop = math.inf if most_stop is None else most_stop
        self.pull = leaning.pull
        self.ties = tied(fit, setting)
        moves = self.inverse @ self.ties.ways
        self.metric = moves.T @ leaning.metric @ moves
        at = self.inverse @ (self.ties.constant - setting.set_for(self.exact))
        firm = max(INDIFFERENT, FLAT * float(np.diagonal(self.metric).max(initial=0.0)))
        near = self.ties.nearest(setting.set_for(self.exact))
        self.metric += firm * np.eye(len(self.metric))
        slope: FloatArray = firm * near - moves.T @ leaning.metric @ at
        self.centre: FloatArray = np.asarray(np.linalg.solve(self.metric, slope), dtype=np.float64)

    def candidates(self, count: int) -> tuple[Sequence[FloatArray], bool]:
        """Numbers set (q,), in steps, the best by the quadratic first; and whether that is proven."""
        found = nearest_whole(
            self.metric, self.centre, count=count, within=NEARLY_BEST, judge=self._judge, between=self._between()
        )
        return [self._set(whole.numbers) for whole in found.best], found.proven

    def _between(self) -> tuple[FloatArray, FloatArray]:
        """(m,) least and most of each free number, where that number alone says whether a limit is kept to."""
        least, most = np.full(self.centre.size, -np.inf), np.full(self.centre.size, np.inf)
        moves = self.inverse @ self.ties.ways
        at = self.program(self.ties.constant)
        for row, lower, upper in zip(moves, self.lower - at - ROUNDING, self.upper - at + ROUNDING, strict=True):
            free = np.flatnonzero(row)
            if free.size == 1:
                (i,) = free.tolist()
                low, high = sorted((lower / row[i], upper / row[i]))
                least[i], most[i] = max(least[i], low - HAIR), min(most[i], high + HAIR)
        return least, most

    def program(self, numbers: FloatArray) -> FloatArray:
        """The program (q,) that numbers set (q,), in steps, make."""
        program: FloatArray = self.inverse @ (numbers - self.setting.constant)
        return program

    def _set(self, chosen: IntArray) -> FloatArray:
        return np.round(self.ties.ways @ chosen + self.ties.constant)

    def _judge(self, chosen: IntArray) -> float:
        """Infinite for what the die cannot bend; where a limit holds the tube, what it costs to go off it."""
        numbers = self._set(chosen)
        program = self.program(numbers)
        if (program < self.lower - ROUNDING).any() or (program > self.upper + ROUNDING).any():
            return math.inf
        if (self.setting.in_units(numbers)[self.setting.angles] > self.most_stop + ROUNDING).any():
            return math.inf
        return max(2 * float(self.pull @ (program - self.exact)), 0.0)


def _costs(fit: Fit, laid: Laid, plainly: Laid) -> tuple[PointCost, ...]:
    misses = [fit.evidence.miss_sizes(chain) for chain in (fit.chain, laid.chain, plainly.chain)]
    return tuple(
        PointCost(point.name, *each)
        for point, *each in zip(fit.evidence.points, *misses, strict=True)
        if point.what != "clear"  # what it is kept clear of is no place to be near to
    )
