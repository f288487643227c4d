"""A scan: many places on the outside of the tube, in any order, gathered part by part.

The residual is that of an outside point, distance from the centreline less half an OD. Every part of the tube
gathers its points in its own frame and about its own origin, B = rows of [b, f x b] with b the direction
from foot f to point, into one small matrix [B r]^T [B r]; only then do the parameters come in, by the part's
twists S: H = S^T B^T B S. The cost of a point so does not grow with their number, and the sums are exactly the
Gauss-Newton normal equations. The centreline's tangent is continuous and its ends are prolonged, so the
nearest place to any point is square below it, on a straight or within an arc: no clamping is needed.

Where places may lie off the tube, Tukey's biweight (:mod:`plumbend.estimate.biweight`) takes the place of the square
while the tube is looked for. Its width follows the median miss as the fit settles, so that a tube that is still far off
feels all its places (the constants are those of Holland & Welsch 1977, from memory).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from typing import TypeVar

import numpy as np

from plumbend.estimate.biweight import biweight
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray, IntArray, cross
from plumbend.records import record
from plumbend.shape.chain import Chain, Motion
from plumbend.shape.feet import squares_from_elements

T = TypeVar("T")

CHUNK = 8_192
"""Points worked on at a time, so that the temporaries stay in the processor's cache."""
AT_ONCE = 2
"""Chunks worked on side by side, as nearly every machine has so many cores; sums do not depend on it."""
CELLS = 32
"""Cells along each side of the box round a scan, by which its places are gathered."""

BIWEIGHT = 4.685
"""Width of the biweight in standard deviations: 95 % as good as the square where nothing is off."""
PER_MEDIAN = 3 * 1.4826
"""Width in medians of the misses, at least: three standard deviations where nothing is off. With three places in ten
off the tube the median grows by 1.6, and it comes to the same as :data:`BIWEIGHT`."""


@record(eq=False)
class Scan:
    """Places ``at`` (m, 3) mm on the outside of the tube, each with the standard deviation ``sd`` mm along every axis.

    With ``strays`` some of them may be anywhere else, and the farther off the less they count. Neighbouring places may
    be off together, over a length of ``alike`` mm, None where each errs on its own; ``shared`` is the mean correlation
    of two of them that comes of it (:func:`plumbend.shape.alike.shared_by_neighbours`).
    """

    at: FloatArray
    sd: float
    strays: bool = False
    alike: float | None = None
    shared: float = 0.0

    def off_together(self, count: int | None = None) -> float:
        """How many of its places, or of ``count`` of them, count as one: a mean over them is as good as over so many
        times fewer that err each on its own."""
        return 1 + ((len(self.at) if count is None else count) - 1) * self.shared

    def thinned(self, count: int) -> Scan:
        """At most ``count`` of the places, drawn at random but always the same ones."""
        if len(self.at) <= count:
            return self
        # with a few drawn twice, which is no harm and far cheaper than a shuffle of millions
        drawn = np.random.default_rng(0).integers(0, len(self.at), count)
        return replace(self, at=self.at[drawn])

    def gathered(self) -> Scan:
        """The same places, those near each other next to each other, so that a chunk lies along a part of the tube.

        By cells of the box round them, along the curve of Morton (A computer oriented geodetic data base, IBM, 1966),
        which keeps most cells close to those that follow. What fits into one chunk is left as it is.
        """
        if len(self.at) <= CHUNK:
            return self
        columns = np.ascontiguousarray(self.at.T)
        low = columns.min(axis=1)
        side = max(float((columns.max(axis=1) - low).max()) / CELLS, 1e-9)
        curve = np.zeros(len(self.at), dtype=np.uint16)
        for axis, (along, least) in enumerate(zip(columns, low, strict=True)):
            curve |= _SPREAD[np.minimum((along - least) / side, CELLS - 1).astype(np.int64)] << axis
        return replace(self, at=np.take(self.at, np.argsort(curve, kind="stable"), axis=0))


_SPREAD = np.array([sum((cell >> bit & 1) << 3 * bit for bit in range(5)) for cell in range(CELLS)], dtype=np.uint16)
"""The five bits of a cell's number with room for two more between them."""


@record(eq=False)
class _Chunk:
    """Some neighbouring places of a scan: (3, k) mm, the index of the first, and a ball (3,) mm that holds them."""

    at: FloatArray
    start: int
    middle: FloatArray
    reach: float


@record(eq=False)
class _Part:
    """Points of a chunk with their feet on one element, in its frame and about its origin.

    Attributes:
        element: its index.
        chosen: the (k,) of them, by their indices within the chunk.
        rows: (c, k) those of the six rows [b, f x b] that are not always 0.
        places: which of the six they are.
        distance: (k,) mm from the centreline.
    """

    element: int
    chosen: IntArray | slice
    rows: FloatArray
    places: tuple[int, ...]
    distance: FloatArray


class ScanRows:
    """A scan as evidence for tubes of outside diameter ``od``."""

    def __init__(self, scan: Scan, od: float) -> None:
        self.scan = scan
        self.od = od
        columns = np.ascontiguousarray(scan.at.T)
        self._chunks = [_chunk(columns, start) for start in range(0, len(scan.at), CHUNK)]

    @property
    def errs_together(self) -> bool:
        """Whether its places are off together with their neighbours, and all of them may be on the tube."""
        return self.scan.alike is not None and not self.scan.strays

    def width(self, chain: Chain) -> float | None:
        """Width, mm, of the biweight at a chain; None where every place is on the tube."""
        if not self.scan.strays:
            return None
        return max(BIWEIGHT * self.scan.sd, PER_MEDIAN * float(np.median(np.abs(self.misses(chain)))))

    def normal(self, chain: Chain, motion: Motion, width: float | None = None) -> Normal:
        """Normal equations of all points, whitened; with a ``width``, mm, those of the biweight."""
        moments, total = self._gathered(chain, width, self._misses_of)
        hessian = np.zeros((motion.layout.size, motion.layout.size))
        gradient = np.zeros(motion.layout.size)
        for element, moment in enumerate(moments):
            twists = _in_own_frame(chain, motion, element)
            hessian += twists.T @ moment[:6, :6] @ twists
            gradient -= twists.T @ moment[:6, 6]
        if width is None:
            total = float(moments[:, 6, 6].sum())
        count = max(1, round(len(self.scan.at) / self.scan.off_together()))
        return Normal(hessian * self._weight, gradient * self._weight, total * self._weight, count)

    def matrix_with(self, further: FloatArray, chain: Chain, motion: Motion, width: float | None = None) -> FloatArray:
        """(p + 1, p + 1): the matrix of the normal equations with one number more, by which each miss (m,) changes by
        ``further``."""
        moments, _ = self._gathered(chain, width, lambda chunk, part: further[chunk.start :][part.chosen])
        size = motion.layout.size
        matrix = np.zeros((size + 1, size + 1))
        for element, moment in enumerate(moments):
            twists = np.zeros((7, size + 1))
            twists[:6, :size] = -_in_own_frame(chain, motion, element)
            twists[6, size] = 1.0
            matrix += twists.T @ moment @ twists
        return matrix * self._weight

    @property
    def _weight(self) -> float:
        """Of every square of a miss, mm^-2."""
        return 1 / self.scan.sd**2 / self.scan.off_together()

    def misses(self, chain: Chain) -> FloatArray:
        """(m,) mm, + away from the tube."""
        off = self._each_chunk(chain, lambda _, parts: [(part.chosen, part.distance) for part in parts])
        misses = np.empty(len(self.scan.at))
        for chunk, of_chunk in zip(self._chunks, off, strict=True):
            for chosen, distance in of_chunk:
                misses[chunk.start :][chosen] = distance
        misses -= self.od / 2
        return misses

    def _misses_of(self, _chunk: _Chunk, part: _Part) -> FloatArray:
        return part.distance - self.od / 2

    def _gathered(
        self, chain: Chain, width: float | None, last: Callable[[_Chunk, _Part], FloatArray]
    ) -> tuple[FloatArray, float]:
        """[B r]^T [B r] (7, 7) of every element, r being the ``last`` row, and the sum of what the biweight counts."""
        moments = np.zeros((2 * chain.bends + 1, 7, 7))
        total = 0.0

        def work(chunk: _Chunk, parts: Iterator[_Part]) -> tuple[list[tuple[int, FloatArray]], float]:
            return self._moments(chunk, parts, width, last)

        # added up in the order of the chunks, whoever was the first to be done
        for of_chunk, counted in self._each_chunk(chain, work):
            for element, moment in of_chunk:
                moments[element] += moment
            total += counted
        return moments, total

    def _moments(
        self, chunk: _Chunk, parts: Iterator[_Part], width: float | None, last: Callable[[_Chunk, _Part], FloatArray]
    ) -> tuple[list[tuple[int, FloatArray]], float]:
        """The same of every part of a chunk."""
        moments = []
        total = 0.0
        for part in parts:
            table = np.concatenate([part.rows, last(chunk, part)[None]])
            if width is not None:
                counted, factors = biweight(part.distance - self.od / 2, width)
                total += counted
                table *= factors
            where = np.array([*part.places, 6])
            moment = np.zeros((7, 7))
            moment[np.ix_(where, where)] = table @ table.T
            moments.append((part.element, moment))
        return moments, total

    def _each_chunk(self, chain: Chain, work: Callable[[_Chunk, Iterator[_Part]], T]) -> Sequence[T]:
        """What comes of the parts of every chunk, in the order of the chunks, on a few cores."""
        if not self._chunks:
            return []
        near = _elements_near(chain, self._chunks)
        if len(self._chunks) <= AT_ONCE:
            return [work(one, _parts(chain, one, elements)) for one, elements in zip(self._chunks, near, strict=True)]
        from concurrent.futures import ThreadPoolExecutor  # only large scans pay for it

        with ThreadPoolExecutor(AT_ONCE) as threads:
            return list(threads.map(lambda one, elements: work(one, _parts(chain, one, elements)), self._chunks, near))


def _chunk(columns: FloatArray, start: int) -> _Chunk:
    at = columns[:, start : start + CHUNK]
    low, high = at.min(axis=1), at.max(axis=1)
    return _Chunk(at, start, (low + high) / 2, float(np.linalg.norm(high - low)) / 2)


def _elements_near(chain: Chain, chunks: list[_Chunk]) -> list[list[int]]:
    """Elements that some place of every chunk may be nearest to."""
    apart = np.sqrt(squares_from_elements(chain, np.array([chunk.middle for chunk in chunks]), prolonged=True))
    reach = np.array([chunk.reach for chunk in chunks])
    # a place is nearer to the middle's nearest element, or farther from another, by no more than its own way off
    most = apart.min(axis=1) + 2 * reach * (1 + 1e-9) + 1e-6
    return [np.flatnonzero(row <= limit).tolist() for row, limit in zip(apart, most, strict=True)]


def _parts(chain: Chain, chunk: _Chunk, elements: list[int]) -> Iterator[_Part]:
    """Parts of a chunk that lie on ``elements``, every one on one of them."""
    locals_ = [chain.frames[element].T @ (chunk.at - chain.origins[element][:, None]) for element in elements]
    if len(elements) == 1:
        yield _part(chain, elements[0], slice(chunk.at.shape[1]), locals_[0])
        return
    nearest = _nearest(chain, elements, locals_)
    for k, element in enumerate(elements):
        chosen = np.flatnonzero(nearest == k)
        if chosen.size:
            yield _part(chain, element, chosen, locals_[k][:, chosen])


def _nearest(chain: Chain, elements: list[int], locals_: list[FloatArray]) -> IntArray:
    """(k,) which of the ``elements`` each place is square above at the least distance.

    ``locals_`` are the places (3, k) in each element's frame about its origin.
    """
    best = np.full(locals_[0].shape[1], np.inf)
    nearest = np.zeros(best.size, dtype=np.int64)
    for k, (element, (x, y, z)) in enumerate(zip(elements, locals_, strict=True)):
        if element % 2:
            half = chain.angles[element // 2] / 2
            sine, cosine = np.sin(half), np.cos(half)
            # turned so that the arc's middle lies straight ahead; within half a U-bend either way
            ahead, aside = x * sine - y * cosine, x * cosine + y * sine
            within = np.abs(aside) * cosine <= ahead * sine
            distance = (_length(x, y) - chain.radius) ** 2 + z * z
        else:
            within = np.ones(x.size, dtype=bool)
            if element > 0:
                within &= x >= 0
            if element < 2 * chain.bends:
                within &= x <= chain.straights[element // 2]
            distance = y * y + z * z
        better = within & (distance < best)
        nearest[better] = k
        best[better] = distance[better]
    return nearest


def _part(chain: Chain, element: int, chosen: IntArray | slice, local: FloatArray) -> _Part:
    x, y, z = local
    if element % 2 == 0:
        distance = _length(y, z)
        by, bz = y / distance, z / distance
        # f = (x, 0, 0): f x b = (0, -x bz, x by)
        return _Part(element, chosen, np.stack([by, bz, -x * bz, x * by]), (1, 2, 4, 5), distance)
    r = chain.radius
    rho = _length(x, y)
    ex, ey = x / rho, y / rho
    out = rho - r
    distance = _length(out, z)
    b_out, bz = out / distance, z / distance
    # f = r e: f x b = r bz (e x a) = r bz (ey, -ex, 0)
    rows = np.stack([b_out * ex, b_out * ey, bz, r * bz * ey, -r * bz * ex])
    return _Part(element, chosen, rows, (0, 1, 2, 3, 4), distance)


def _length(one: FloatArray, other: FloatArray) -> FloatArray:
    """Lengths (k,) of what has these parts; mm neither overflow nor vanish, so that numpy's hypot is not needed."""
    length: FloatArray = np.sqrt(one * one + other * other)
    return length


def _in_own_frame(chain: Chain, motion: Motion, element: int) -> FloatArray:
    """(6, p): twists of the parameters before an element, in its frame about its origin."""
    v, w = motion.twists[:3], motion.twists[3:]
    arm = chain.origins[element] - motion.reference
    moved = v + cross(w.T, arm).T
    frame = chain.frames[element].T
    twists: FloatArray = np.concatenate([frame @ moved, frame @ w]) * motion.layout.before[element]
    return twists
