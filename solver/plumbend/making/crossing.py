"""Does a tube cross itself?

Near places along a tube are near in space too, and that is no crossing, so only places some way apart along
it are compared. Twice the outside diameter (OD) is far enough. A centreline never bends tighter than its
radius r, so two of its places a length s <= pi r apart are at least as far from each other as they would be
on a circle of that radius (Schur's comparison theorem; do Carmo, Differential Geometry of Curves and
Surfaces, sect. 5-7, from memory)::

    chord >= 2 r sin(s / 2r)

With r >= OD and s = 2 OD that is 2 OD sin(x)/x, x = OD/r <= 1, hence at least 2 sin(1) OD = 1.68 OD. It
stays above OD for any s from 2 OD to pi r. Two places at least 2 OD apart along the tube and nearer to each
other than OD are therefore two parts of it that run into one another, and nothing else is.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from plumbend.frames import FloatArray, IntArray


class Approach(NamedTuple):
    """Two places of one tube that come near each other, all in mm.

    Attributes:
        distance: from one to the other, centreline to centreline.
        first: length along the tube from its start end to the first of them.
        second: the same for the other, further along.
    """

    distance: float
    first: float
    second: float


def self_crossing(polyline: FloatArray, stations: FloatArray, od: float) -> Approach | None:
    """Where a tube of outside diameter ``od`` mm runs into itself most deeply; None where it does not.

    ``polyline`` and ``stations`` as in :func:`nearest_parts`; no bend tighter than ``od``.
    """
    nearest = nearest_parts(polyline, stations, 2 * od)
    return nearest if nearest.distance < od else None


def nearest_parts(polyline: FloatArray, stations: FloatArray, apart: float) -> Approach:
    """The two places nearest to each other among all that lie at least ``apart`` apart along the tube.

    Args:
        polyline: (m, 3) mm, places on the centreline in their order, m >= 2; between them it runs straight,
            so the answer is good to twice the sagitta of the pieces.
        stations: (m,) mm, length along the tube to each place, never falling and never less than the
            polyline's own length between two places.
        apart: mm, more than 0; 2 OD to find a tube that crosses itself.

    Returns:
        The distance and both stations. On a tube shorter than ``apart`` no two places are compared: the
        distance is then infinite and the stations are those of the ends.

    The squared distance between two segments is a convex quadratic in the two fractions along them. Its
    least value over the fractions allowed, a square with perhaps a corner cut off, lies where its gradient
    vanishes or on an edge. Parallel segments have no such single point, but then an edge is as near.
    """
    real = np.diff(stations) > 0
    segments = _Segments(
        start=polyline[:-1][real],
        run=np.diff(polyline, axis=0)[real],
        station=stations[:-1][real],
        length=np.diff(stations)[real],
    )
    earlier, later = segments.worth_comparing(apart)
    if earlier.size == 0:
        return Approach(np.inf, float(stations[0]), float(stations[-1]))
    near, u, v = _nearest(segments.take(earlier), segments.take(later), apart)
    best = int(np.argmin(near))
    i, j = earlier[best], later[best]
    return Approach(
        float(near[best]),
        float(segments.station[i] + u[best] * segments.length[i]),
        float(segments.station[j] + v[best] * segments.length[j]),
    )


class _Segments(NamedTuple):
    start: FloatArray  # (k, 3) mm
    run: FloatArray  # (k, 3) mm, from start to end
    station: FloatArray  # (k,) mm, of the start
    length: FloatArray  # (k,) mm along the tube, more than 0

    def take(self, which: IntArray) -> _Segments:
        return _Segments(self.start[which], self.run[which], self.station[which], self.length[which])

    def worth_comparing(self, apart: float) -> tuple[IntArray, IntArray]:
        """Pairs, earlier and later, that can hold the nearest two places.

        Two places exactly ``apart`` apart along the tube are no further than that from each other, so a
        pair of segments is passed over where the balls about them are further from each other.
        """
        middle = self.start + self.run / 2
        reach = np.linalg.norm(self.run, axis=1) / 2 + apart / 2 * (1 + 1e-9)
        x, y, z = (np.subtract.outer(axis, axis) for axis in middle.T)
        near = x * x + y * y + z * z <= np.add.outer(reach, reach) ** 2
        allowed = (self.station + self.length)[None, :] - self.station[:, None] >= apart
        earlier, later = np.nonzero(near & allowed)
        return earlier, later


def _nearest(one: _Segments, other: _Segments, apart: float) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Per pair of segments the least distance, and the fractions along both where it is reached."""
    gap = other.start - one.start
    # apart is kept where v * other.length >= short + u * one.length
    short = apart + one.station - other.station
    zero, full = np.zeros_like(short), np.ones_like(short)

    inside_u, inside_v = _level_point(gap, one.run, other.run)
    least_v = short / other.length
    slope = one.length / other.length
    most_u = -short / one.length
    edge_u0 = _along(gap, other.run, least_v, full)
    edge_u1 = _along(gap - one.run, other.run, least_v + slope, full)
    edge_v0 = _along(gap, -one.run, zero, most_u)
    edge_v1 = _along(gap + other.run, -one.run, zero, most_u + 1 / slope)
    cut = _along(
        gap + least_v[:, None] * other.run,
        slope[:, None] * other.run - one.run,
        most_u,
        most_u + 1 / slope,
    )
    u = np.stack([inside_u, zero, full, edge_v0, edge_v1, cut])
    v = np.stack([inside_v, edge_u0, edge_u1, zero, full, least_v + cut * slope])

    # a hair outside is rounding; nan, an edge that is not there, fails every comparison
    slack = 1e-12
    kept = (u >= -slack) & (u <= 1 + slack) & (v >= -slack) & (v <= 1 + slack)
    kept &= v * other.length - u * one.length >= short - slack * (apart + one.station + other.station)
    between = gap + v[..., None] * other.run - u[..., None] * one.run
    distance = np.where(kept, np.linalg.norm(between, axis=-1), np.inf)
    best = np.argmin(distance, axis=0)
    pair = np.arange(best.size)
    return distance[best, pair], u[best, pair], v[best, pair]


def _level_point(gap: FloatArray, one: FloatArray, other: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Fractions at which the distance between two endless lines is least; nan where they are parallel."""
    aa, bb, ab = _dot(one, one), _dot(other, other), _dot(one, other)
    ag, bg = _dot(one, gap), _dot(other, gap)
    determinant = aa * bb - ab * ab
    determinant = np.where(determinant > 1e-14 * aa * bb, determinant, np.nan)
    return (ag * bb - ab * bg) / determinant, (ab * ag - aa * bg) / determinant


def _along(gap: FloatArray, run: FloatArray, low: FloatArray, high: FloatArray) -> FloatArray:
    """The x between 0 and 1, and between low and high, that makes |gap + x run| least; nan where none is."""
    low, high = np.maximum(low, 0.0), np.minimum(high, 1.0)
    squared = _dot(run, run)
    x = -_dot(gap, run) / np.where(squared > 0, squared, 1.0)
    return np.where(low <= high + 1e-12, np.clip(x, low, np.maximum(low, high)), np.nan)


def _dot(a: FloatArray, b: FloatArray) -> FloatArray:
    products: FloatArray = np.einsum("ij,ij->i", a, b)
    return products
