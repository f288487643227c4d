"""Which of several causes explains an error of known size, and how surely. Plain arrays, for readings and points."""

from __future__ import annotations

import math

import numpy as np

from plumbend.estimate.chances import SELDOM, log_chance
from plumbend.frames import FloatArray
from plumbend.records import record

ALIKE = 4.0
"""Causes whose sizes differ by less than this many doubts of the size found count as one."""


@record
class Ranking:
    """Causes by how well they explain an error.

    Attributes:
        best: indices of those that explain it and cannot be told from the best, which comes first; may be empty.
        following: the likeliest of the others; None without one.
        odds: how many times likelier the best is than that one; infinite without one.
    """

    best: tuple[int, ...]
    following: int | None
    odds: float


def rank(left: FloatArray, dof: int, apart: FloatArray, variants: FloatArray) -> Ranking:
    """Rank h causes. One that leaves more unexplained than chance would (0.1 %) is no explanation.

    Args:
        left: (h,) sum of squares that each leaves unexplained.
        dof: how many numbers of the error are known.
        apart: (h, h) distance between the sizes of two causes, in doubts of the size found.
        variants: (h,) how many variants the cause's kind was tried in: kinds are taken to be equally likely, and
            the more variants the less each.
    """
    if not left.size:
        return Ranking((), None, math.inf)
    unlikely = left + 2 * np.log(variants)
    order = [int(i) for i in np.argsort(unlikely, kind="stable")]
    explains = [log_chance(float(part), dof) > math.log(SELDOM) for part in left]
    first = next((i for i in order if explains[i]), None)
    if first is None:
        return Ranking((), order[0], math.inf)
    best = tuple(i for i in order if explains[i] and (i == first or apart[first, i] < ALIKE))
    following = next((i for i in order if i not in best and apart[first, i] >= ALIKE), None)
    odds = math.inf
    if following is not None:
        odds = math.exp(float(np.clip((unlikely[following] - unlikely[first]) / 2, 0.0, 700.0)))
    return Ranking(best, following, odds)


def distances(sizes: FloatArray, information: FloatArray) -> FloatArray:
    """(h, h) distances between sizes (h, c) in their doubts, given the information (c, c) on the size found."""
    between = sizes[:, None] - sizes
    squares = np.einsum("ghc,cd,ghd->gh", between, information, between)
    distances: FloatArray = np.sqrt(np.maximum(squares, 0.0))
    return distances
