"""The shortest way through places that come in no order.

Nearest neighbours first, then by the best of two moves for as long as one shortens the way: a run turned about (2-opt;
Croes, Operations Research 6 (1958)) and a short run moved elsewhere, either way round (or-opt; Or 1976). The open way
is a round trip over one more place that is as near to all the others.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray, IntArray

MOST_STARTS = 8
LONGEST_MOVED = 3
LEAST_TURNED = 4
LONGER_STEP = 1.5
_NO_GAIN = 1e-9


def short_ways(apart: FloatArray, first: int | None = None, last: int | None = None) -> list[IntArray]:
    """Short open ways through all of m places, each once; the shortest first, none twice.

    Args:
        apart: (m, m) what a step from one place to another costs.
        first, last: where the way begins and where it stops; None for anywhere.

    Returns:
        Ways of (m,) indices. Without a told end a way and the same backwards count as one.
    """
    count = len(apart)
    if count < 2:
        return [np.arange(count)]
    costs = _round_trip(apart, first, last)
    starts = np.unique(np.linspace(0, count - 1, MOST_STARTS).astype(int)) if first is None else [first]
    if last is not None:
        starts = [*starts, last]
    found: dict[tuple[int, ...], float] = {}
    for start in starts:
        tour = _improved(_nearest_neighbours(apart, int(start)), costs)
        tour = np.roll(tour, -int(np.flatnonzero(tour == count)[0]))[1:]
        ends = (int(tour[0]), int(tour[-1]))
        backwards = ends[1] == first or ends[0] == last if (first, last) != (None, None) else ends[0] > ends[1]
        way = tour[::-1] if backwards else tour
        found[tuple(way.tolist())] = float(apart[way[:-1], way[1:]].sum())
    return [np.array(way) for way in sorted(found, key=found.__getitem__)]


def ways_turned(apart: FloatArray, way: IntArray, first: int | None = None, last: int | None = None) -> list[IntArray]:
    """Ways that differ from one by a long run turned about, the shortest first.

    Where two parts of a tube pass close to each other the shortest way crosses over, and goes one of them backwards.

    Args:
        apart, first, last: as in :func:`short_ways`.
        way: (m,) a way between the told ends.

    Returns:
        Those of :data:`LEAST_TURNED` places and more that make no step more than :data:`LONGER_STEP` times as long as
        the longest.
    """
    count = len(way)
    longest = LONGER_STEP * apart[way[:-1], way[1:]].max(initial=0.0)
    found = []
    for start in range(count):
        for stop in range(start + LEAST_TURNED, count + 1):
            if (first is not None and start == 0) or (last is not None and stop == count) or stop - start == count:
                continue
            longer = 0.0
            for before, near, far in ((start - 1, start, stop - 1), (stop, stop - 1, start)):
                if 0 <= before < count:
                    step = apart[way[before], way[far]]
                    longer += step - apart[way[before], way[near]] if step <= longest else np.inf
            if np.isfinite(longer):
                found.append((longer, start, stop))
    return [np.concatenate([way[:i], way[i:j][::-1], way[j:]]) for _, i, j in sorted(found)]


def _round_trip(apart: FloatArray, first: int | None, last: int | None) -> FloatArray:
    """(m + 1, m + 1): ``apart`` with the one place more, next to which the told ends must stand."""
    count = len(apart)
    costs = np.zeros((count + 1, count + 1))
    costs[:count, :count] = apart
    for end in (first, last):
        if end is not None:
            costs[end, count] = costs[count, end] = -1.0 - float(apart.sum())
    return costs


def _nearest_neighbours(apart: FloatArray, start: int) -> IntArray:
    """The round trip that always goes to the nearest place not yet seen, over place m at the end."""
    count = len(apart)
    left = np.ones(count, dtype=bool)
    way = [start]
    left[start] = False
    while left.any():
        way.append(int(np.argmin(np.where(left, apart[way[-1]], np.inf))))
        left[way[-1]] = False
    return np.array([*way, count])


def _improved(tour: IntArray, costs: FloatArray) -> IntArray:
    """The round trip with the best move made again and again, until none shortens it."""
    while True:
        between = costs[np.ix_(tour, tour)]
        turned, runs = _turning(between), range(1, min(LONGEST_MOVED, len(tour) - 3) + 1)
        gain, tour_after = _best_turn(tour, turned)
        for run in runs:
            for backwards in (False, True):
                other, moved = _best_move(tour, between, run, backwards)
                if other > gain:
                    gain, tour_after = other, moved
        if gain <= _NO_GAIN * max(1.0, float(np.abs(between).max())):
            return tour
        tour = tour_after


def _turning(between: FloatArray) -> FloatArray:
    """(m, m): what is gained when the run behind step i up to step j is turned about, i < j."""
    steps = np.roll(between, -1, axis=1).diagonal()
    gain: FloatArray = steps[:, None] + steps - between - np.roll(between, (-1, -1), axis=(0, 1))
    return np.triu(gain, 1)


def _best_turn(tour: IntArray, gains: FloatArray) -> tuple[float, IntArray]:
    i, j = np.unravel_index(int(np.argmax(gains)), gains.shape)
    turned = tour.copy()
    turned[i + 1 : j + 1] = tour[i + 1 : j + 1][::-1]
    return float(gains[i, j]), turned


def _best_move(tour: IntArray, between: FloatArray, run: int, backwards: bool) -> tuple[float, IntArray]:
    """The best of all moves of ``run`` places in a row to between two others."""
    count = len(tour)
    at = np.arange(count)
    before, last, after = (at - 1) % count, (at + run - 1) % count, (at + run) % count
    left_out = between[before, at] + between[last, after] - between[before, after]
    head, tail = (last, at) if backwards else (at, last)
    following = (at + 1) % count
    put_in = between[head][:, at] + between[tail][:, following] - between[at, following]
    gain = left_out[:, None] - put_in
    for own in range(-1, run):  # no place between itself
        gain[at, (at + own) % count] = -np.inf
    i, j = np.unravel_index(int(np.argmax(gain)), gain.shape)
    rolled = np.roll(tour, -i)
    moved, rest = rolled[:run], rolled[run:]
    behind = int((j - i - run) % count) + 1
    moved = moved[::-1] if backwards else moved
    return float(gain[i, j]), np.concatenate([rest[:behind], moved, rest[behind:]])
