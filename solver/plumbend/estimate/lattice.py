"""Integer least squares: the whole numbers z for which (z - c)^T G (z - c) is least, or the few best of them.

Rounding each number by itself fails where they lean on each other. A change of basis by whole numbers (Lenstra, Lenstra
& Lovász, Mathematische Annalen 261 (1982); Cohen, A Course in Computational Algebraic Number Theory, algorithm 2.6.3)
makes them lean as little as can be, as the method LAMBDA does (Teunissen, Journal of Geodesy 70 (1995); de Jonge &
Tiberius, LGR 12 (1996); Chang, Yang & Zhou, Journal of Geodesy 79 (2005); all from memory). A depth-first search, at
each level from the middle outwards (Schnorr & Euchner, Mathematical Programming 66 (1994)), then finds the least and
proves it. Lists of plain numbers are faster here than arrays: there are some twenty numbers and many small steps.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from operator import mul

import numpy as np
import numpy.typing as npt

from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.records import record

IntArray = npt.NDArray[np.int64]

LOVASZ = 0.99
"""How nearly each vector of the basis must be the shortest that can follow those before it."""
WIDER = 4.0
"""What the search's reach, a sum of squares, is multiplied by where too little lies within it,"""
MOST_WIDER = 12
"""and how often at most."""
MOST_TRIED = 50_000
"""Numbers set in the search at most, a tenth of a second or so; eighteen numbers take some hundred."""
HAIR = 1e-9


@record(eq=False)
class Whole:
    """Whole numbers and what they cost.

    Attributes:
        numbers: (m,).
        cost: (z - c)^T G (z - c), with what the caller adds.
    """

    numbers: IntArray
    cost: float


@record(eq=False)
class Found:
    """What a search found.

    Attributes:
        best: the least first; empty where nothing allowed was met.
        proven: no other is cheaper than those given; False where the search was cut short.
        tried: numbers set on the way.
    """

    best: tuple[Whole, ...]
    proven: bool
    tried: int


def nearest_whole(
    metric: FloatArray,
    centre: FloatArray,
    *,
    count: int = 1,
    within: float = math.inf,
    judge: Callable[[IntArray], float] | None = None,
    between: tuple[FloatArray, FloatArray] | None = None,
) -> Found:
    """The cheapest whole numbers.

    Args:
        metric: (m, m) positive definite G.
        centre: (m,) c, the best numbers were they not to be whole.
        count: how many to find, at most.
        within: none that costs more than so many times the best.
        judge: what whole numbers (m,) cost beside the quadratic, 0 or more; infinite where they are not allowed.
        between: (m,) least and most that each may be, with which the search need not set all the others to see that
            one is not allowed; infinite where there is no limit.

    Raises:
        BadValue: where the metric is not positive definite.
    """
    if not centre.size:
        none = np.zeros(0, dtype=np.int64)
        cost = 0.0 if judge is None else judge(none)
        return Found((Whole(none, cost),) if math.isfinite(cost) else (), True, 0)
    base = np.round(centre)
    basis = _reduced(metric)
    offset = np.linalg.solve(basis.ways.T.astype(float), centre - base)
    search = _Search(basis, offset, base.astype(np.int64), count, within, judge, between)
    reach = search.first_reach()
    for _ in range(MOST_WIDER):
        search.run(reach)
        if search.is_enough(reach) or search.tried >= MOST_TRIED:
            break
        reach *= WIDER
    return Found(tuple(search.best), search.is_enough(reach) and search.tried < MOST_TRIED, search.tried)


@record(eq=False)
class _Basis:
    """A reduced basis: rows ``ways`` (m, m) of whole numbers of the old one, determinant 1 or -1.

    ``lean[i][j]`` for j < i is the part of vector i along the orthogonal vector j, ``squares[j]`` the latter's length
    squared.
    """

    ways: IntArray
    lean: list[list[float]]
    squares: list[float]


def _reduced(metric: FloatArray) -> _Basis:
    try:
        factor = np.linalg.cholesky(metric)
    except np.linalg.LinAlgError as error:
        raise BadValue("The metric of the whole numbers is not positive definite.") from error
    diagonal = np.diagonal(factor)
    lean, squares = (factor / diagonal).tolist(), (diagonal**2).tolist()
    size = len(squares)
    ways = [[int(i == j) for j in range(size)] for i in range(size)]
    k = 1
    while k < size:
        _shorten(ways, lean, k, k - 1)
        if squares[k] < (LOVASZ - lean[k][k - 1] ** 2) * squares[k - 1]:
            _swap(ways, lean, squares, k)
            k = max(k - 1, 1)
        else:
            for j in range(k - 2, -1, -1):
                _shorten(ways, lean, k, j)
            k += 1
    return _Basis(np.array(ways, dtype=np.int64), lean, squares)


def _shorten(ways: list[list[int]], lean: list[list[float]], k: int, j: int) -> None:
    """Take the nearest whole multiple of vector j off vector k."""
    times = round(lean[k][j])
    if times:
        ways[k] = [a - times * b for a, b in zip(ways[k], ways[j], strict=True)]
        row, other = lean[k], lean[j]
        for i in range(j):
            row[i] -= times * other[i]
        row[j] -= times


def _swap(ways: list[list[int]], lean: list[list[float]], squares: list[float], k: int) -> None:
    """Change places of vectors k - 1 and k."""
    ways[k - 1], ways[k] = ways[k], ways[k - 1]
    for j in range(k - 1):
        lean[k - 1][j], lean[k][j] = lean[k][j], lean[k - 1][j]
    leaning = lean[k][k - 1]
    square = squares[k] + leaning**2 * squares[k - 1]
    lean[k][k - 1] = leaning * squares[k - 1] / square
    squares[k] *= squares[k - 1] / square
    squares[k - 1] = square
    for row in lean[k + 1 :]:
        before = row[k]
        row[k] = row[k - 1] - leaning * before
        row[k - 1] = before + lean[k][k - 1] * row[k]


@record
class _Settled:
    """A number that is known once a vector and those after it are chosen.

    Attributes:
        ways: how often each of these vectors has it.
        least, most: that they may come to.
    """

    ways: list[int]
    least: float
    most: float


class _Search:
    """Depth-first from the last vector of the basis, whose orthogonal part is about the longest, to the first."""

    def __init__(
        self,
        basis: _Basis,
        offset: FloatArray,
        base: IntArray,
        count: int,
        within: float,
        judge: Callable[[IntArray], float] | None,
        between: tuple[FloatArray, FloatArray] | None,
    ) -> None:
        self.basis, self.base = basis, base
        self.offset: list[float] = offset.tolist()
        # what leans on vector k, of those after it
        self._leaning = [[row[k] for row in basis.lean[k + 1 :]] for k in range(len(self.offset))]
        self.count, self.within, self.judge = count, within, judge
        self._settled: list[list[_Settled]] = [[] for _ in self.offset]
        for i, (least, most) in enumerate(zip(*between, strict=True) if between else ()):
            if math.isfinite(least) or math.isfinite(most):
                last = int(np.flatnonzero(basis.ways[:, i])[0])
                below, above = float(least - base[i]), float(most - base[i])
                self._settled[last].append(_Settled(basis.ways[last:, i].tolist(), below, above))
        self.best: list[Whole] = []
        self.tried = 0

    def first_reach(self) -> float:
        """What numbers rounded one after the other cost (Babai 1986): the least costs no more where all are allowed."""
        size = len(self.offset)
        off = [0.0] * size
        cost = 0.0
        for k in range(size - 1, -1, -1):
            middle = self._middle(k, off)
            chosen = round(middle)
            off[k] = chosen - self.offset[k]
            cost += self.basis.squares[k] * (chosen - middle) ** 2
        return max(cost, min(self.basis.squares) / 4) * (1 + HAIR) + HAIR

    def is_enough(self, reach: float) -> bool:
        """Whether all that was asked for was found within ``reach``."""
        return len(self.best) == self.count or (bool(self.best) and reach >= self.best[0].cost * self.within)

    def _middle(self, k: int, off: list[float]) -> float:
        """The best number at k for those after it, which are ``off`` by so much."""
        middle: float = self.offset[k] - sum(map(mul, self._leaning[k], off[k + 1 :]))
        return middle

    def run(self, reach: float) -> None:
        """Go through all whole numbers within ``reach``, which shrinks as good ones are found."""
        self.best = []
        squares, offset, size = self.basis.squares, self.offset, len(self.offset)
        chosen, middle, steps, off = [0.0] * size, [0.0] * size, [0.0] * size, [0.0] * size
        above = [0.0] * (size + 1)
        k = size - 1
        down = True
        while self.tried < MOST_TRIED:
            if down:
                middle[k] = self._middle(k, off)
                chosen[k] = float(round(middle[k]))
                steps[k] = 1.0 if middle[k] >= chosen[k] else -1.0
            self.tried += 1
            cost = above[k + 1] + squares[k] * (chosen[k] - middle[k]) ** 2
            if cost > reach:
                k += 1
                if k == size:
                    return
                down = False
            elif self._settled[k] and not self._allowed(k, chosen):
                down = False
            elif k:
                above[k] = cost
                off[k] = chosen[k] - offset[k]
                k -= 1
                down = True
                continue
            else:
                reach = self._take(chosen, cost, reach)
                down = False
            # the next nearest: to the other side of the middle, each time one farther
            chosen[k] += steps[k]
            steps[k] = -steps[k] - math.copysign(1.0, steps[k])

    def _allowed(self, k: int, chosen: list[float]) -> bool:
        """Whether the numbers that are settled once k is chosen are within what they may be."""
        return all(one.least <= sum(map(mul, one.ways, chosen[k:])) <= one.most for one in self._settled[k])

    def _take(self, chosen: list[float], cost: float, reach: float) -> float:
        """Keep whole numbers that are good enough; gives what the search need go out to from now on."""
        numbers = self.base + np.array(chosen, dtype=np.int64) @ self.basis.ways
        if self.judge is not None:
            cost += self.judge(numbers)
        if cost > reach:
            return reach
        self.best.append(Whole(numbers, cost))
        self.best.sort(key=lambda whole: whole.cost)
        del self.best[self.count :]
        farthest = self.best[0].cost * self.within
        self.best = [whole for whole in self.best if whole.cost <= farthest + HAIR]
        full = self.best[-1].cost if len(self.best) == self.count else reach
        return min(reach, full, farthest + HAIR)
