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

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from plumbend.estimate.biweight import biweight
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray, IntArray, cross
from plumbend.records import record
from plumbend.shape.chain import Chain, Motion
from plumbend.shape.feet import feet

CHUNK = 32_768
"""Points worked on at a time, so that the temporaries stay in the processor's cache."""

BIWEIGHT = 4.685
"""Width of the biweight in standard deviations: 95 % as good as the square where nothing is off."""
PER_MEDIAN = 3 * 1.4826
"""Width in medians of the misses, at least: three standard deviations where nothing is off. With three places in ten
off the tube the median grows by 1.6, and it comes to the same as :data:`BIWEIGHT`."""


MOST_PAIRED = 2000
"""Places whose distances from one another tell how many of a scan are off together."""


@record(eq=False)
class Scan:
    """Places (m, 3) mm on the outside of the tube, each with the standard deviation ``sd`` mm along every axis.

    With ``strays`` some of them may be anywhere else, and the farther off the less they count. Neighbouring places may
    be off together, over a length of ``alike`` mm, None where each errs on its own; ``shared`` is the mean correlation
    of two of them that comes of it (:func:`shared_by_neighbours`).
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


def shared_by_neighbours(at: FloatArray, reach: float, chain: Chain | None = None) -> float:
    """Mean correlation of the misses of two of the places (m, 3) mm.

    Their errors are taken to be alike as exp(-d / reach) at a distance of d mm. Beside a ``chain`` only what these have
    in common square to the tube counts, at both places; without, all of it, which is more.
    """
    few = at
    if len(at) > MOST_PAIRED:
        few = at[np.random.default_rng(0).choice(len(at), MOST_PAIRED, replace=False)]
    if len(few) < 2:
        return 0.0
    outward = None
    if chain is not None:
        off = feet(chain, few).off
        outward = off / np.maximum(np.linalg.norm(off, axis=1), 1e-9)[:, None]
    total = 0.0
    for i, place in enumerate(few):
        alike = np.exp(-np.linalg.norm(few - place, axis=1) / reach)
        if outward is not None:
            alike *= (outward @ outward[i]) ** 2
        total += float(alike.sum()) - 1.0
    return total / (len(few) * (len(few) - 1))


@record(eq=False)
class _Part:
    """Points of a chunk with their feet on one element, in its frame and about its origin.

    Attributes:
        element: its index.
        chosen: (k,) indices within the chunk.
        rows: (c, k) those of the six rows [b, f x b] that are not always 0.
        places: which of the six they are.
        distance: (k,) mm from the centreline.
    """

    element: int
    chosen: IntArray
    rows: FloatArray
    places: tuple[int, ...]
    distance: FloatArray


class ScanRows:
    """A scan as evidence for tubes of outside diameter ``od``."""

    def __init__(self, scan: Scan, od: float) -> None:
        self.scan = scan
        self.od = od
        self._columns = np.ascontiguousarray(scan.at.T)

    def width(self, chain: Chain) -> float | None:
        """Width, mm, of the biweight at a chain; None where every place is on the tube."""
        if not self.scan.strays:
            return None
        return max(BIWEIGHT * self.scan.sd, PER_MEDIAN * float(np.median(np.abs(self.misses(chain)))))

    def normal(self, chain: Chain, motion: Motion, width: float | None = None) -> Normal:
        """Normal equations of all points, whitened; with a ``width``, mm, those of the biweight."""
        moments = np.zeros((2 * chain.bends + 1, 7, 7))
        total = 0.0
        for _, part in self._parts(chain):
            miss = part.distance - self.od / 2
            table = np.concatenate([part.rows, miss[None]])
            if width is not None:
                counted, factors = biweight(miss, width)
                total += counted
                table *= factors
            where = np.array([*part.places, 6])
            moments[part.element][np.ix_(where, where)] += table @ table.T
        hessian = np.zeros((motion.layout.size, motion.layout.size))
        gradient = np.zeros(motion.layout.size)
        for element, moment in enumerate(moments):
            twists = _in_own_frame(chain, motion, element)
            hessian += twists.T @ moment[:6, :6] @ twists
            gradient -= twists.T @ moment[:6, 6]
        together = self.scan.off_together()
        weight = 1 / self.scan.sd**2 / together
        if width is None:
            total = float(moments[:, 6, 6].sum())
        count = max(1, round(len(self.scan.at) / together))
        return Normal(hessian * weight, gradient * weight, total * weight, count)

    def misses(self, chain: Chain) -> FloatArray:
        """(m,) mm, + away from the tube."""
        misses = np.empty(len(self.scan.at))
        for start, part in self._parts(chain):
            misses[start + part.chosen] = part.distance - self.od / 2
        return misses

    def _parts(self, chain: Chain) -> Iterator[tuple[int, _Part]]:
        """Parts of every chunk, with the index of the chunk's first point."""
        for start in range(0, self._columns.shape[1], CHUNK):
            chunk = self._columns[:, start : start + CHUNK]
            locals_ = [_local(chain, element, chunk) for element in range(2 * chain.bends + 1)]
            nearest = _nearest(chain, locals_)
            for element, local in enumerate(locals_):
                chosen = np.flatnonzero(nearest == element)
                if chosen.size:
                    yield start, _part(chain, element, chosen, local[:, chosen])


def _local(chain: Chain, element: int, chunk: FloatArray) -> FloatArray:
    """Coordinates (3, k) of places (3, k) in an element's frame about its origin."""
    local: FloatArray = chain.frames[element].T @ (chunk - chain.origins[element][:, None])
    return local


def _nearest(chain: Chain, locals_: list[FloatArray]) -> IntArray:
    """(k,) the element that each place is square above at the least distance."""
    last = len(locals_) - 1
    best = np.full(locals_[0].shape[1], np.inf)
    nearest = np.zeros(best.size, dtype=np.int64)
    for element, (x, y, z) in enumerate(locals_):
        if element % 2:
            half = chain.angles[element // 2] / 2
            sine, cosine = np.sin(half), np.cos(half)
            # turned so that the arc's middle lies straight ahead; within half a U-bend either way
            ahead, aside = x * sine - y * cosine, x * cosine + y * sine
            within = np.abs(aside) * cosine <= ahead * sine
            distance = (np.hypot(x, y) - chain.radius) ** 2 + z * z
        else:
            within = np.ones(x.size, dtype=bool)
            if element > 0:
                within &= x >= 0
            if element < last:
                within &= x <= chain.straights[element // 2]
            distance = y * y + z * z
        better = within & (distance < best)
        nearest[better] = element
        best[better] = distance[better]
    return nearest


def _part(chain: Chain, element: int, chosen: IntArray, local: FloatArray) -> _Part:
    x, y, z = local
    if element % 2 == 0:
        distance = np.hypot(y, z)
        by, bz = y / distance, z / distance
        # f = (x, 0, 0): f x b = (0, -x bz, x by)
        return _Part(element, chosen, np.stack([by, bz, -x * bz, x * by]), (1, 2, 4, 5), distance)
    r = chain.radius
    rho = np.hypot(x, y)
    ex, ey = x / rho, y / rho
    out = rho - r
    distance = np.hypot(out, z)
    b_out, bz = out / distance, z / distance
    # f = r e: f x b = r bz (e x a) = r bz (ey, -ex, 0)
    rows = np.stack([b_out * ex, b_out * ey, bz, r * bz * ey, -r * bz * ex])
    return _Part(element, chosen, rows, (0, 1, 2, 3, 4), distance)


def _in_own_frame(chain: Chain, motion: Motion, element: int) -> FloatArray:
    """(6, p): twists of the parameters before an element, in its frame about its origin."""
    v, w = motion.twists[:3], motion.twists[3:]
    arm = chain.origins[element] - motion.reference
    moved = v + cross(w.T, arm).T
    frame = chain.frames[element].T
    twists: FloatArray = np.concatenate([frame @ moved, frame @ w]) * motion.layout.before[element]
    return twists
