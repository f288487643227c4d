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
        axis = np.array([_axis_place(at[patch], od) for patch in (full if len(full) >= 2 else patches)])
    ordered: FloatArray = axis[_way(axis, None if ends is None else np.array(ends), od)]
    ordered.setflags(write=False)
    return ordered


def _agreed_axis(at: FloatArray, od: float) -> FloatArray:
    """Places on the axis where enough points agree on it, though others lie off the tube."""
    from plumbend.shape.consensus import agreed_places, evenly  # few scans hold what is not on the tube

    at = evenly(at, od)
    patches, full = _full_patches(at, od, MOST_ON_TUBE)
    axis = agreed_places(at, full, od)
    return axis if len(axis) >= 2 else np.array([_axis_place(at[patch], od) for patch in patches])


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


def _axis_place(at: FloatArray, od: float) -> FloatArray:
    """A place on the axis beside a patch (k, 3): the centre of the circle of known size through its cross-section."""
    middle: FloatArray = at.mean(axis=0)
    if len(at) < LEAST_IN_PATCH:
        return middle
    _, _, axes = np.linalg.svd(at - middle, full_matrices=False)
    across = normals_to(axes[:1])[0]
    flat = (at - middle) @ across.T
    thin = np.linalg.svd(flat, full_matrices=False)[2][1]  # a patch from one side is thin toward its axis
    centres = np.array([np.zeros(2), thin * od / 2, -thin * od / 2])
    for _ in range(8):
        off = flat - centres[:, None]
        distance = np.maximum(np.linalg.norm(off, axis=2), 1e-9)
        rows = off / distance[..., None]
        pull = (rows * (distance - od / 2)[..., None]).sum(axis=1)
        # the little that is added keeps still what points in one line leave open
        step = np.linalg.solve(rows.swapaxes(1, 2) @ rows + len(at) * 1e-9 * np.eye(2), pull[..., None])[..., 0]
        size = np.maximum(np.linalg.norm(step, axis=1), 1e-9)
        centres = centres + step * np.minimum(1.0, od / 4 / size)[:, None]
    sums = ((np.linalg.norm(flat - centres[:, None], axis=2) - od / 2) ** 2).sum(axis=1)
    sums[np.linalg.norm(centres, axis=1) >= od] = np.inf
    best = int(np.argmin(sums))
    return middle + centres[best] @ across if np.isfinite(sums[best]) else middle


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
