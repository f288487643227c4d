"""Gross errors in scans: places of a vice, a bench, a clamp or another tube, pushed places and places anywhere."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from plumbend.frames import FloatArray, frame_along
from plumbend.shape.chain import Chain
from plumbend.shape.scan import Scan, ScanRows
from support.tubes import OD, random_frame, scan_places

LEAST = 5.0
"""Doubts that a stray is off the tube, at least."""

Draw = Callable[[Chain, int, np.random.Generator, float], FloatArray]


def anywhere(tube: Chain, count: int, rng: np.random.Generator, _sd: float) -> FloatArray:
    """Places anywhere within 200 mm of the box round a tube."""
    line = tube.polyline(1.0)[0]
    return rng.uniform(line.min(axis=0) - 200, line.max(axis=0) + 200, (count, 3))


def pushed(tube: Chain, count: int, rng: np.random.Generator, sd: float) -> FloatArray:
    """Places of the tube pushed 5 to 40 doubts off or in, each on its own."""
    off = rng.uniform(LEAST, 8 * LEAST, count) * sd * rng.choice([-1, 1], count)
    return np.concatenate([scan_places(tube, 1, rng, 0.0, OD + 2 * by) for by in np.clip(off, -OD / 3, None)])


def vice(tube: Chain, count: int, rng: np.random.Generator, sd: float) -> FloatArray:
    """Places on the faces of a block of 150 x 100 x 120 mm round a place of the tube."""
    middle, along = _somewhere(tube, rng)
    box = rng.uniform(-0.5, 0.5, (count, 3))
    face = rng.integers(0, 3, count)
    box[np.arange(count), face] = 0.5 * rng.choice([-1, 1], count)
    frame = frame_along(along, rng.normal(size=3))
    return middle + (box * [150.0, 100.0, 120.0]) @ frame.T + sd * rng.normal(size=(count, 3))


def bench(tube: Chain, count: int, rng: np.random.Generator, sd: float) -> FloatArray:
    """Places on a flat bench of 800 x 400 mm that a place of the tube lies over, at 0 to 30 mm."""
    middle, along = _somewhere(tube, rng)
    frame = frame_along(along, rng.normal(size=3))
    flat = np.column_stack(
        [rng.uniform(-400, 400, count), np.full(count, -OD / 2 - rng.uniform(0, 30)), rng.uniform(-200, 200, count)]
    )
    return middle + flat @ frame.T + sd * rng.normal(size=(count, 3))


def clamp(tube: Chain, count: int, rng: np.random.Generator, sd: float) -> FloatArray:
    """Places of a ring of 80 mm length round the tube, 3 to 8 mm thick."""
    middle, along = _somewhere(tube, rng)
    frame = frame_along(along, rng.normal(size=3))
    way = rng.uniform(0, 2 * np.pi, count)
    out = OD / 2 + rng.uniform(3, 8)
    ring = np.column_stack([rng.uniform(-40, 40, count), out * np.cos(way), out * np.sin(way)])
    return middle + ring @ frame.T + sd * rng.normal(size=(count, 3))


def other_tube(tube: Chain, count: int, rng: np.random.Generator, sd: float) -> FloatArray:
    """Places on a straight tube of 33.7 mm, 600 mm long, that stands on the tube at a slant."""
    middle, along = _somewhere(tube, rng)
    away = random_frame(rng)[:, 0]
    away = away - 0.7 * (away @ along) * along
    away = away / np.linalg.norm(away)
    other = Chain(middle + 20 * away, frame_along(away, along), np.array([600.0]), np.zeros(0), np.zeros(0), 140.0)
    return scan_places(other, count, rng, sd, 33.7)


def same_tube_beside(tube: Chain, count: int, rng: np.random.Generator, sd: float) -> FloatArray:
    """Places on a straight tube of the same OD, 500 mm long, that runs along a leg 2 to 4 OD beside it."""
    middle, along = _somewhere(tube, rng)
    frame = frame_along(along, rng.normal(size=3))
    start = middle - 250 * along + OD * rng.uniform(2, 4) * frame[:, 1]
    return scan_places(Chain(start, frame, np.array([500.0]), np.zeros(0), np.zeros(0), 140.0), count, rng, sd)


KINDS: tuple[Draw, ...] = (anywhere, pushed, vice, bench, clamp, other_tube)


def with_strays(
    tube: Chain, at: FloatArray, part: float, kind: Draw, rng: np.random.Generator, sd: float
) -> FloatArray:
    """Scanned places (m, 3) of which the last ``part`` are strays, as measured at least 5 doubts off the tube."""
    wanted = round(part * len(at))
    strays = np.zeros((0, 3))
    while len(strays) < wanted:
        drawn = kind(tube, wanted, rng, sd)
        off = np.abs(ScanRows(Scan(drawn, sd), OD).misses(tube)) >= LEAST * sd
        strays = np.concatenate([strays, drawn[off]])
    return np.concatenate([at[: len(at) - wanted], strays[:wanted]])


def _somewhere(tube: Chain, rng: np.random.Generator) -> tuple[FloatArray, FloatArray]:
    """A place on a tube's axis and the direction there."""
    leg = int(rng.integers(0, tube.bends + 1))
    start, stop = tube.tangents()[leg]
    return start + rng.uniform(0, 1) * (stop - start), tube.frames[2 * leg, :, 0]
