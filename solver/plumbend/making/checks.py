"""What tape and table tell of a finished part: how far its ends are apart, how high it stands, and which hand it is."""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.chain import POSE, Chain, layout

MARK_SD, ANGLE_SD, TURN_SD = 1.0, math.radians(0.5), math.radians(1.0)
"""mm and radians, standard deviations of what is set with usual care (common practice, no source)."""

_FLAT = 1.0  # mm; what hangs lower by less needs no blocks
_TELLING = 0.5  # of the OD; a part whose places lift by less does not show its hand
_UPPER_95 = 1.6449  # of the standard normal distribution


@record
class Lying:
    """A part with the two legs of one bend flat on a table, or on blocks where the rest hangs lower.

    Attributes:
        bend: counted from 1; its legs are the straights ``bend`` and ``bend`` + 1.
        on: the three named places it lies on.
        blocks: mm, the least height of three equal blocks under these; 0 where it lies on the table.
        tops: names of other places, and how high the top of the tube is there over the table or the blocks, mm.
        turns: which way the bend turns, looking down along the tube from the start end. The mirror part turns the other
            way when the same place is up.
        highest: the place that is up.
    """

    bend: int
    on: tuple[str, str, str]
    blocks: float
    tops: tuple[tuple[str, float], ...]
    turns: Literal["left", "right"]
    highest: str


@record
class Checks:
    """Check dimensions of a part with its ends trimmed, mm.

    Attributes:
        end_to_end: from the middle of one end's face to that of the other.
        longest: between the two places farthest apart, outside to outside.
        lying: None for a part so nearly flat that it does not show its hand.
        miss: mm; the far end of a part made blind with usual care lies within it 19 times of 20, the start end laid
            where it belongs.
    """

    end_to_end: float
    longest: float
    lying: Lying | None
    miss: float


def checks_of(chain: Chain, od: float, ends: tuple[str, str]) -> Checks:
    """The checks of a tube of outside diameter ``od`` mm whose ends have these names."""
    apart = float(np.linalg.norm(chain.far_end - chain.origin))
    return Checks(apart, _longest(chain, od), _lying(chain, od, ends), expected_miss(chain))


def expected_miss(chain: Chain) -> float:
    """mm within which the far end comes out 19 times of 20, for marks, bends and turns set with usual care.

    The square of the miss is taken as a scaled chi-square of the same mean and variance (Satterthwaite), its upper
    95 % by the cube root of Wilson and Hilferty.
    """
    where = layout(chain.bends)
    sd = np.zeros(where.size)
    sd[where.straights], sd[where.rotations], sd[where.angles] = MARK_SD, TURN_SD, ANGLE_SD
    moves = chain.motion(chain.origin).rows(np.eye(3)[None], chain.far_end[None])[0]
    moved = (moves * sd)[:, POSE:]
    spread = moved @ moved.T
    mean, square = float(np.trace(spread)), float(np.trace(spread @ spread))
    part = 2 * square / (9 * mean**2)
    return math.sqrt(mean * (1 - part + _UPPER_95 * math.sqrt(part)) ** 3)


def _longest(chain: Chain, od: float) -> float:
    """Largest distance between two places of the outside, found along the line between those found before."""
    places, tangents = _along(chain)
    along = chain.far_end - chain.origin
    longest = 0.0
    for way in (along, *np.eye(3)):
        direction, before = way, 0.0
        for _ in range(30):
            size = float(np.linalg.norm(direction))
            if size < 1e-9 or size - before < 1e-9 * before:
                break
            direction, before = direction / size, size
            pair = [_farthest(places, tangents, od, s * direction) for s in (1.0, -1.0)]
            direction = pair[0] - pair[1]
            longest = max(longest, float(np.linalg.norm(direction)))
    return longest


def _farthest(places: FloatArray, tangents: FloatArray, od: float, way: FloatArray) -> FloatArray:
    """The place of the outside that lies farthest along a unit direction: on a disc square to the centreline."""
    across = way - (tangents @ way)[:, None] * tangents
    size = np.linalg.norm(across, axis=1)
    at = int(np.argmax(places @ way + od / 2 * size))
    farthest: FloatArray = places[at] + (od / 2 * across[at] / size[at] if size[at] > 1e-12 else 0.0)
    return farthest


def _along(chain: Chain) -> tuple[FloatArray, FloatArray]:
    """Places along the centreline (m, 3) and its direction there."""
    places, tangents = [], []
    for k in range(chain.bends + 1):
        straight = chain.tangents()[k]
        places.append(straight)
        tangents.append(np.repeat(chain.frames[2 * k, :, 0][None], 2, axis=0))
        if k < chain.bends:
            steps = np.linspace(0.0, float(chain.angles[k]), 91)
            frame = chain.frames[2 * k + 1]
            zero = np.zeros_like(steps)
            outward = np.stack([np.sin(steps), -np.cos(steps), zero], axis=1)
            places.append(chain.origins[2 * k + 1] + chain.radius * outward @ frame.T)
            tangents.append(np.stack([np.cos(steps), np.sin(steps), zero], axis=1) @ frame.T)
    return np.concatenate(places), np.concatenate(tangents)


def _lying(chain: Chain, od: float, ends: tuple[str, str]) -> Lying | None:
    """With that bend's legs down that leaves least below them, the rest up."""
    places, _ = _along(chain)
    best: tuple[float, int, float] | None = None
    for k in range(chain.bends):
        frame = chain.frames[2 * k + 1]
        heights = (places - chain.origins[2 * k + 1]) @ frame[:, 2]
        if np.abs(heights).max() < _TELLING * od:
            return None
        for up in (1.0, -1.0):
            below = max(0.0, -float((up * heights).min()))
            if best is None or below < best[0] - 1e-6:
                best = (below, k, up)
    if best is None:
        return None
    below, k, up = best
    axis = up * chain.frames[2 * k + 1, :, 2]
    tops = []
    for name, index, place, along in _named(chain, ends):
        height = float((place - chain.origins[2 * k + 1]) @ axis)
        if index not in _resting(k):
            tops.append((name, height + od / 2 + od / 2 * math.sqrt(max(0.0, 1 - float(along @ axis) ** 2))))
    first, second = (ends[0] if k == 0 else f"bend {k}"), (ends[1] if k == chain.bends - 1 else f"bend {k + 2}")
    return Lying(
        k + 1,
        (first, f"bend {k + 1}", second),
        below if below > _FLAT else 0.0,
        tuple(tops),
        "left" if up > 0 else "right",
        max(tops, key=lambda top: top[1])[0],
    )


def _resting(bend: int) -> tuple[int, int, int]:
    """The named places at the ends of a bend's two legs, and the bend itself."""
    return bend, bend + 1, bend + 2


def _named(chain: Chain, ends: tuple[str, str]) -> list[tuple[str, int, FloatArray, FloatArray]]:
    """Both ends and the middle of every bend: name, number along the tube, place, direction."""
    named = [(ends[0], 0, chain.origin, chain.frames[0, :, 0])]
    for k in range(chain.bends):
        half = float(chain.angles[k]) / 2
        frame = chain.frames[2 * k + 1]
        place = chain.origins[2 * k + 1] + chain.radius * (frame @ np.array([math.sin(half), -math.cos(half), 0.0]))
        named.append((f"bend {k + 1}", k + 1, place, frame @ np.array([math.cos(half), math.sin(half), 0.0])))
    return [*named, (ends[1], chain.bends + 1, chain.far_end, chain.frames[-1, :, 0])]
