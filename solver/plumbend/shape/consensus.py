"""Places on the axis found in a scan of which many places may be off the tube: vice, bench, other parts.

A patch of the scan is put to a vote. Through pairs of its points, seen along each of many directions, go cylinders
of the tube's diameter; the one that most points of the patch lie on is refined on those alone (random sample
consensus, Fischler & Bolles 1981, with directions and pairs that are always the same ones). Patches where few
agree hold no tube.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray, IntArray, normals_to

CELL = 1 / 3
"""Before the vote the scan is thinned to one point in each cube of this part of an OD, so that a vice scanned
closely has no more votes than its size gives it."""
DIRECTIONS = 100
"""Directions looked along, some 12 degrees apart."""
PAIRS = 40
MOST_IN_VOTE = 40
ON_IT = 1 / 8
"""Part of an OD by which a point may be off a straight piece of tube: a bend is off it by that over a patch."""
AGREED = 0.25
"""A patch counts with this part of the usual agreement, which is the votes for its tube times their share."""
FLAT = 1 / 30
"""Part of an OD that places on a tube stand out of a plane, as a standard deviation; a strip 80 degrees wide does."""
STEPS = 6


def evenly(at: FloatArray, od: float) -> FloatArray:
    """One of the places (m, 3) in each small cube."""
    cells = np.floor(at / (CELL * od)).astype(np.int64)
    first = np.unique(cells, axis=0, return_index=True)[1]
    even: FloatArray = at[np.sort(first)]
    return even


def agreed_places(at: FloatArray, patches: list[IntArray], od: float) -> FloatArray:
    """Places (k, 3) on the axis of a tube that most points of their patches lie on.

    Args:
        at: (m, 3) mm, places of a scan.
        patches: indices of the points of every patch.
        od: outside diameter, mm.
    """
    rng = np.random.default_rng(0)
    along = _directions()
    across = normals_to(along)
    found = [_vote(at[patch], along, across, od, rng) for patch in patches]
    agreement = np.array([size for _, size in found])
    # by points: the usual patch is one on the tube, though those elsewhere may be more
    usual = float(np.average(agreement, weights=agreement)) if agreement.any() else 0.0
    return np.array([place for place, size in found if size >= AGREED * usual]).reshape(-1, 3)


def _directions() -> FloatArray:
    """(DIRECTIONS, 3) unit vectors, spread evenly over half a sphere along a spiral."""
    up = (np.arange(DIRECTIONS) + 0.5) / DIRECTIONS
    round_it = np.pi * (1 + np.sqrt(5)) * np.arange(DIRECTIONS)
    aside = np.sqrt(1 - up**2)
    return np.column_stack([aside * np.cos(round_it), aside * np.sin(round_it), up])


def _vote(
    at: FloatArray, along: FloatArray, across: FloatArray, od: float, rng: np.random.Generator
) -> tuple[FloatArray, float]:
    """A place on the axis that most of a patch (k, 3) agree on, and how well they do."""
    middle: FloatArray = at.mean(axis=0)
    centred = at - middle
    few = centred[rng.choice(len(at), min(len(at), MOST_IN_VOTE), replace=False)]
    flat = few @ np.swapaxes(across, 1, 2)  # (d, k, 2)
    one, other = rng.integers(0, len(few), (2, PAIRS))
    chord = flat[:, other] - flat[:, one]
    length = (chord**2).sum(axis=2)
    with np.errstate(divide="ignore", invalid="ignore"):
        rise = np.sqrt(od**2 / 4 / length - 1 / 4)[..., None] * np.stack([-chord[..., 1], chord[..., 0]], axis=2)
    halfway = flat[:, one] + chord / 2
    centres = np.concatenate([halfway + rise, halfway - rise], axis=1)  # nan where no circle goes through both
    # squares of single precision: this is where the time goes, and a vote needs no digits
    sideways, up = ((centres[:, :, None, i] - flat[:, None, :, i]).astype(np.float32) for i in range(2))
    square = sideways * sideways + up * up
    votes = ((square > ((0.5 - ON_IT) * od) ** 2) & (square < ((0.5 + ON_IT) * od) ** 2)).sum(axis=2)
    best = np.unravel_index(np.argmax(votes), votes.shape)
    direction = along[best[0]]
    place, on_it = _settled(centred, direction, centres[best] @ across[best[0]], od)
    if _flat(centred[on_it], od):
        return middle + place, 0.0
    return middle + place, float(on_it.sum()) * float(on_it.mean())


def _flat(at: FloatArray, od: float) -> bool:
    """Whether places (k, 3) lie in a plane: a cylinder laid on a bench has a strip of it within tolerance."""
    if len(at) < 4:
        return True
    spread = np.linalg.svd(at - at.mean(axis=0), compute_uv=False)[-1] / np.sqrt(len(at))
    return bool(spread < FLAT * od)


def _settled(at: FloatArray, along: FloatArray, place: FloatArray, od: float) -> tuple[FloatArray, FloatArray]:
    """The axis fitted to the points (k, 3) on it: its place nearest to their middle, and which they are (k,)."""
    tolerance = 1.5 * ON_IT * od
    for _ in range(STEPS):
        across = normals_to(along[None])[0]
        flat, way = (at - place) @ across.T, (at - place) @ along
        off = np.hypot(*flat.T)
        on_it = np.abs(off - od / 2) < tolerance
        tolerance = ON_IT * od
        if on_it.sum() < 5:
            break
        outward = flat[on_it] / off[on_it, None]
        rows = np.concatenate([outward, outward * way[on_it, None] / od], axis=1)
        step = np.linalg.lstsq(rows, off[on_it] - od / 2, rcond=1e-3)[0]
        place = place + step[:2] @ across
        along = along + (step[2:] / od) @ across
        along = along / np.linalg.norm(along)
        place = place + (at[on_it].mean(axis=0) - place) @ along * along
    return place, on_it
