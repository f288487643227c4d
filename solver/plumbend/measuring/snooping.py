"""Which measurements do not go with the rest: each by itself, and two by two.

Data snooping after Baarda, A Testing Procedure for Use in Geodetic Networks (1968); measurements of several numbers
and correlations between them after Förstner, Reliability and Discernability of Extended Gauss-Markov Models (1983).
All of it works on plain arrays: misses over their accuracies, and their covariance R = I - A C A^T.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from plumbend.estimate.chances import log_chance
from plumbend.frames import FloatArray, IntArray
from plumbend.records import record

_UNCHECKED = 1e-6
"""A way for numbers to be wrong of which less than this part shows in the misses is checked by nothing."""


def log_level_each(level: float, count: int) -> float:
    """Logarithm of the level for each of ``count`` tests that are at ``level`` all together."""
    return math.log(-math.expm1(math.log1p(-level) / max(count, 1)))


@record
class Pair:
    """Two measurements that would be wrong together.

    Attributes:
        first, second: their indices.
        fall: how much the sum of squares falls without them.
        log_chance: logarithm of the chance of such a fall or a larger one.
    """

    first: int
    second: int
    fall: float
    log_chance: float


class Snooping:
    """How each of n measurements stands to the rest.

    Attributes:
        falls: (n,) how much the sum of squares falls without it, to first order.
        counts: (n,) how many of its numbers the others check.
        log_chances: (n,) logarithm of the chance of such a fall or a larger one.
    """

    def __init__(self, misses: FloatArray, checks: FloatArray, owner: IntArray) -> None:
        """From misses (M,) over their accuracies, at or near the least sum of squares.

        Args:
            misses: (M,) measured less computed, over the accuracies.
            checks: (M, M) their covariance, I - A C A^T.
            owner: (M,) the measurement from 0 to n - 1 that each number belongs to; a measurement's stand together.
        """
        sizes = np.bincount(owner)
        n, width = sizes.size, int(sizes.max(initial=1))
        slot = np.arange(owner.size) - np.repeat(np.cumsum(sizes) - sizes, sizes)
        padded = np.zeros((n, width, n, width))
        padded[owner[:, None], slot[:, None], owner, slot] = checks
        seen = np.zeros((n, width))
        seen[owner, slot] = checks @ misses
        each = np.arange(n)
        sizes_of, ways = np.linalg.eigh(padded[each, :, each])
        checked = sizes_of > _UNCHECKED
        scale = np.where(checked, 1 / np.sqrt(np.where(checked, sizes_of, 1.0)), 0.0)
        whiten = ways * scale[:, None]
        # every measurement's own misses as independent standard numbers, 0 where nothing checks them
        self._own: FloatArray = np.einsum("nwk,nw->nk", whiten, seen)
        half = np.einsum("iwk,iwjv->ijkv", whiten, padded)
        self._cross: FloatArray = np.einsum("ijkv,jvl->ijkl", half, whiten)
        self.falls: FloatArray = (self._own**2).sum(axis=1)
        self.counts: IntArray = checked.sum(axis=1)
        self.log_chances: FloatArray = np.array(list(map(log_chance, self.falls, self.counts.tolist())))

    def alike(self, i: int) -> FloatArray:
        """(n,) the largest correlation of what each measurement misses with what ``i`` does, 0 to 1; 1 for itself."""
        alike: FloatArray = np.linalg.norm(self._cross[i], ord=2, axis=(1, 2))
        return np.minimum(alike, 1.0)

    def pairs(self, candidates: npt.NDArray[np.bool_], most: int) -> list[Pair]:
        """The ``most`` pairs of ``candidates`` (n,) whose fall has the least chance, these first.

        The fall of a pair is g^T (R_ij)^-1 g with both their misses and the block of both.
        """
        first, second = np.triu_indices(len(self.falls), 1)
        able = candidates & (self.counts > 0)
        first, second = (index[able[first] & able[second]] for index in (first, second))
        cross = self._cross[first, second]
        left = self._own[second] - np.einsum("pkl,pk->pl", cross, self._own[first])
        block = np.eye(cross.shape[-1]) - np.einsum("pkl,pkm->plm", cross, cross)
        sizes, ways = np.linalg.eigh(block)
        apart = sizes > _UNCHECKED
        parts = np.einsum("plm,pl->pm", ways, left) ** 2 / np.where(apart, sizes, 1.0)
        falls = self.falls[first] + np.where(apart, parts, 0.0).sum(axis=1)
        counts = self.counts[first] + self.counts[second] - (~apart).sum(axis=1)
        chances = np.array(list(map(log_chance, falls, counts.tolist())))
        best = np.argsort(chances, kind="stable")[:most]
        return [Pair(int(first[p]), int(second[p]), float(falls[p]), float(chances[p])) for p in best]
