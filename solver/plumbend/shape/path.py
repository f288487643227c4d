"""Places on the axis, in order along the tube, found in a scan.

Small patches of the scan are covered by balls; each patch is nearly a piece of a cylinder of known diameter,
whose axis is fitted. The shortest tree through the axis places is nearly a path, and its longest way is the
order along the tube.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from plumbend.frames import FloatArray, IntArray, normals_to
from plumbend.shape.scan import Scan

PATCHES = (1.5, 2.2, 3.0)
"""Radii of a patch in ODs, of which the first that holds enough points is taken."""
SPACING = 0.45
"""Patches lie about this part of their radius apart."""
LEAST_IN_PATCH = 7
MOST_POINTS = 3000
MOST_ON_TUBE = 0.55
"""Part of the points, some of them off the tube, that patches with enough points must hold."""


AT_END = 3.0
"""A place within so many ODs of an end that was told is at it."""

Place = tuple[float, float, float]


@lru_cache(maxsize=2)
def axis_path(scan: Scan, od: float, ends: tuple[Place, Place] | None = None) -> FloatArray:
    """Places (m, 3) mm on the axis of a tube of outside diameter ``od``, in order from one end to the other.

    Where the ``ends`` of the tube, mm, are told, what branches off the way between them is left out.

    They are good to a small part of an OD where the scan goes well round the tube. Kept for the next call, since a
    tube is fitted again and again without one or another of its points; not to be written to.
    """
    at = scan.thinned(MOST_POINTS).at
    if scan.strays:
        axis = _agreed_axis(at, od)
    else:
        patches, full = _full_patches(at, od)
        axis = _axis_places(at, full if len(full) >= 2 else patches, od)
    ordered: FloatArray = axis[_way(axis, None if ends is None else np.array(ends), od)]
    ordered.setflags(write=False)
    return ordered


def _agreed_axis(at: FloatArray, od: float) -> FloatArray:
    """Places on the axis where enough points agree on it, though others lie off the tube."""
    from plumbend.shape.consensus import agreed_places, evenly  # few scans hold what is not on the tube

    at = evenly(at, od)
    patches, full = _full_patches(at, od, MOST_ON_TUBE)
    axis = agreed_places(at, full, od)
    return axis if len(axis) >= 2 else _axis_places(at, patches, od)


def _full_patches(at: FloatArray, od: float, part: float | None = None) -> tuple[list[IntArray], list[IntArray]]:
    """Patches as small as can be while most of them hold enough points, and those that do.

    With ``part`` so many of the points must lie in these: places anywhere have a patch each.
    """
    for radius in PATCHES:
        patches = _patches(at, radius * od)
        full = [patch for patch in patches if len(patch) >= LEAST_IN_PATCH]
        if part is None:
            enough = len(full) >= 0.8 * len(patches)
        else:
            enough = bool(full) and np.unique(np.concatenate(full)).size >= part * len(at)
        if enough:
            break
    return patches, full


def _patches(at: FloatArray, reach: float) -> list[IntArray]:
    """Indices of the points within ``reach`` of each of a few points that lie some way apart."""
    left = np.ones(len(at), dtype=bool)
    patches = []
    while left.any():
        seed = at[np.flatnonzero(left)[0]]
        apart = np.linalg.norm(at - seed, axis=1)
        left &= apart > SPACING * reach
        patches.append(np.flatnonzero(apart <= reach))
    return patches


def _axis_places(at: FloatArray, patches: list[IntArray], od: float) -> FloatArray:
    """Places (k, 3) on the axis, one beside each patch: the centre of the circle of known size through its
    cross-section; the middle of a patch of too few points.

    All patches at once, their points one patch after the other.
    """
    counts = np.array([len(patch) for patch in patches])
    firsts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    owner = np.repeat(np.arange(len(patches)), counts)

    def summed(of_points: FloatArray) -> FloatArray:
        sums: FloatArray = np.add.reduceat(of_points, firsts, axis=0)
        return sums

    places = at[np.concatenate(patches)]
    middles = summed(places) / counts[:, None]
    off = places - middles[owner]
    along = np.linalg.eigh(summed(off[:, :, None] * off[:, None, :]))[1][:, :, 2]
    across = normals_to(along)
    flat = np.matmul(across[owner], off[:, :, None])[:, :, 0]
    # a patch from one side is thin toward its axis
    thin = np.linalg.eigh(summed(flat[:, :, None] * flat[:, None, :]))[1][:, :, 0] * (od / 2)
    centres = np.stack([np.zeros_like(thin), thin, -thin], axis=1)
    for _ in range(8):
        x, y, distance = _from_centres(flat, centres[owner])
        over, x, y = distance - od / 2, x / distance, y / distance
        # the little that is added keeps still what points in one line leave open
        xx, yy = (summed(part * part) + counts[:, None] * 1e-9 for part in (x, y))
        xy, pull_x, pull_y = summed(x * y), summed(x * over), summed(y * over)
        step = np.stack([yy * pull_x - xy * pull_y, xx * pull_y - xy * pull_x], axis=2) / (xx * yy - xy**2)[..., None]
        size = np.maximum(np.linalg.norm(step, axis=2, keepdims=True), 1e-9)
        centres = centres + step * np.minimum(1.0, od / 4 / size)
    sums = summed((_from_centres(flat, centres[owner])[2] - od / 2) ** 2)
    sums[np.linalg.norm(centres, axis=2) >= od] = np.inf
    sums[counts < LEAST_IN_PATCH] = np.inf
    best = np.argmin(sums, axis=1)
    chosen = np.arange(len(patches)), best
    centre = np.where(np.isfinite(sums[chosen])[:, None], centres[chosen], 0.0)
    axis: FloatArray = middles + np.matmul(centre[:, None, :], across)[:, 0]
    return axis


def _from_centres(flat: FloatArray, centres: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """(m, c) how far places (m, 2) lie from each of their centres (m, c, 2): to the side, up, and all of it."""
    x, y = flat[:, :1] - centres[:, :, 0], flat[:, 1:] - centres[:, :, 1]
    return x, y, np.maximum(np.sqrt(x * x + y * y), 1e-9)


def _way(places: FloatArray, ends: FloatArray | None, od: float) -> IntArray:
    """Indices of places (m, 3) along the way between the ends (2, 3) of the tube, else along the longest way."""
    neighbours = _shortest_tree(places)
    if ends is not None:
        apart = np.linalg.norm(places[:, None] - ends, axis=2)
        first, last = np.argmin(apart, axis=0).tolist()
        if first != last and float(apart.min(axis=0).max()) <= AT_END * od:
            return np.array(_way_to(last, _ways_from(places, neighbours, first)[1]))
    one_end = _farthest(places, neighbours, 0)[-1]
    return np.array(_farthest(places, neighbours, one_end))


def _shortest_tree(places: FloatArray) -> list[list[int]]:
    """Neighbours of every place in the shortest tree that joins places (m, 3) (Prim's tree)."""
    count = len(places)
    near = np.full(count, np.inf)
    parent = np.full(count, -1)
    inside = np.zeros(count, dtype=bool)
    neighbours: list[list[int]] = [[] for _ in range(count)]
    current = 0
    for _ in range(count):
        inside[current] = True
        if parent[current] >= 0:
            neighbours[current].append(int(parent[current]))
            neighbours[parent[current]].append(current)
        apart = np.linalg.norm(places - places[current], axis=1)
        closer = ~inside & (apart < near)
        near[closer], parent[closer] = apart[closer], current
        if inside.all():
            break
        current = int(np.argmin(np.where(inside, np.inf, near)))
    return neighbours


def _farthest(places: FloatArray, neighbours: list[list[int]], start: int) -> list[int]:
    """The longest way from ``start`` through a tree, as indices."""
    way, came_from = _ways_from(places, neighbours, start)
    return _way_to(max(way, key=way.__getitem__), came_from)


def _ways_from(places: FloatArray, neighbours: list[list[int]], start: int) -> tuple[dict[int, float], dict[int, int]]:
    """How long the way from ``start`` through a tree is to every place, mm, and which place comes before it."""
    way = {start: 0.0}
    came_from = {start: start}
    queue = [start]
    for here in queue:
        for there in neighbours[here]:
            if there not in way:
                way[there] = way[here] + float(np.linalg.norm(places[there] - places[here]))
                came_from[there] = here
                queue.append(there)
    return way, came_from


def _way_to(end: int, came_from: dict[int, int]) -> list[int]:
    """The way through a tree to ``end`` from where all ways begin, as indices."""
    path = [end]
    while came_from[path[-1]] != path[-1]:
        path.append(came_from[path[-1]])
    return path[::-1]
