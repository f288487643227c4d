"""Places on the axis, in order along the tube, found in a scan.

Small patches of the scan are covered by balls; each patch is nearly a piece of a cylinder of known diameter,
whose axis is fitted. The shortest tree through the axis places is nearly a path, and its longest way is the
order along the tube.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray, IntArray, normals_to
from plumbend.shape.scan import Scan

PATCHES = (1.5, 2.2, 3.0)
"""Radii of a patch in ODs, of which the first that holds enough points is taken."""
SPACING = 0.45
"""Patches lie about this part of their radius apart."""
LEAST_IN_PATCH = 7
MOST_POINTS = 3000


def axis_path(scan: Scan, od: float) -> FloatArray:
    """Places (m, 3) mm on the axis of a tube of outside diameter ``od``, in order from one end to the other.

    They are good to a small part of an OD where the scan goes well round the tube.
    """
    at = scan.thinned(MOST_POINTS).at
    for radius in PATCHES:
        patches = _patches(at, radius * od)
        full = [patch for patch in patches if len(patch) >= LEAST_IN_PATCH]
        if len(full) >= 0.8 * len(patches):
            break
    if len(full) < 2:
        full = patches
    axis = np.array([_axis_place(at[patch], od) for patch in full])
    ordered: FloatArray = axis[_longest_way(axis)]
    return ordered


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
    best, best_sum = middle, np.inf
    thin = np.linalg.svd(flat, full_matrices=False)[2][1]  # a patch from one side is thin toward its axis
    for start in (np.zeros(2), thin * od / 2, -thin * od / 2):
        centre = start
        for _ in range(8):
            off = flat - centre
            distance = np.maximum(np.linalg.norm(off, axis=1), 1e-9)
            rows = -off / distance[:, None]
            step = np.linalg.lstsq(rows, -(distance - od / 2), rcond=None)[0]
            centre = centre + step * min(1.0, od / 4 / max(float(np.linalg.norm(step)), 1e-9))
        size = float(((np.linalg.norm(flat - centre, axis=1) - od / 2) ** 2).sum())
        if size < best_sum and np.linalg.norm(centre) < od:
            best, best_sum = middle + centre @ across, size
    return best


def _longest_way(places: FloatArray) -> IntArray:
    """Indices along the longest way through the shortest tree that joins places (m, 3) (Prim's tree)."""
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
    one_end = _farthest(places, neighbours, 0)[-1]
    return np.array(_farthest(places, neighbours, one_end))


def _farthest(places: FloatArray, neighbours: list[list[int]], start: int) -> list[int]:
    """The longest way from ``start`` through a tree, as indices."""
    way = {start: 0.0}
    came_from = {start: start}
    queue = [start]
    for here in queue:
        for there in neighbours[here]:
            if there not in way:
                way[there] = way[here] + float(np.linalg.norm(places[there] - places[here]))
                came_from[there] = here
                queue.append(there)
    end = max(way, key=way.__getitem__)
    path = [end]
    while path[-1] != start:
        path.append(came_from[path[-1]])
    return path[::-1]
