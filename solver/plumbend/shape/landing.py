"""Where the ends of a bent tube come to lie: how far a small error moves the far end, and the chance that both ends
land within a gap of where they should.

Only the program's own numbers count: a part is laid in where it fits, so how well the vehicle's place is known is all
one. Everything holds to first order, for a part that is bent exactly to the program.
"""

from __future__ import annotations

import math

import numpy as np

from plumbend.estimate.doubt import IN_PART
from plumbend.frames import FloatArray, cross, unit
from plumbend.records import record
from plumbend.shape.chain import POSE, Chain, layout
from plumbend.shape.fit import Fit
from plumbend.shape.kinds import end_moves

_DIRECTIONS = 2048
"""Directions over which the chance is averaged; the sum over a full turn converges faster than any power."""


@record(eq=False)
class Reach:
    """How the far end moves, the start end lying still with its first leg: mm in vehicle axes.

    Attributes:
        straights: (n + 1, 3) for every mm that a straight is longer.
        rotations: (n, 3) for every radian more of a turn, the first 0.
        angles: (n, 3) for every radian more of a bend.
    """

    straights: FloatArray
    rotations: FloatArray
    angles: FloatArray


@record
class Landing:
    """Chances that both ends land within ``gap`` mm of where they should; NaN where an end is not fixed.

    Attributes:
        between_ends: the part is laid so that both ends miss alike: too long by d, each end misses by d/2.
        from_start: its start end and first leg are laid where they should be, and it is rolled about that leg until the
            far end misses least.
    """

    gap: float
    between_ends: float
    from_start: float


def reach_of(chain: Chain) -> Reach:
    """How far the far end moves for an error in each number of the program."""
    where = layout(chain.bends)
    _, moves = end_moves(chain, chain.motion(chain.origin), far=True)
    none = np.zeros((min(1, chain.bends), 3))
    return Reach(
        moves[:, where.straights].T, np.concatenate([none, moves[:, where.rotations].T]), moves[:, where.angles].T
    )


def landing_of(fit: Fit, gap: float) -> Landing:
    """The chances for a part made to a fit's program, with its whole covariance of the numbers.

    Args:
        fit: the tube as it is to be made.
        gap: mm, above 0.
    """
    chain = fit.chain
    _, moves = end_moves(chain, chain.motion(chain.origin), far=True)
    moves[:, :POSE] = 0.0  # laid in by its start
    if _is_loose(fit, moves):
        return Landing(gap, math.nan, math.nan)
    spread = moves @ fit.covariance @ moves.T
    apart = chain.far_end - chain.origin
    along = unit(apart)
    longer = float(np.sqrt(along @ spread @ along))
    between = 1.0 if longer == 0 else math.erf(2 * gap / longer / math.sqrt(2))
    # rolling about the first leg moves the far end square to it; where that lies on the leg's line, hardly at all
    roll = cross(chain.frame[:, 0], apart)
    away = unit(roll) if np.linalg.norm(roll) > 1e-6 * np.linalg.norm(apart) else chain.frame[:, 2]
    _, _, basis = np.linalg.svd(away[None])
    return Landing(gap, between, _within(basis[1:] @ spread @ basis[1:].T, gap))


def _within(spread: FloatArray, gap: float) -> float:
    """Chance that a place in a plane with covariance (2, 2) lies within ``gap`` of the middle.

    In polar coordinates of the standardised plane the distance is a Rayleigh number times what the direction gives.
    """
    sizes = np.maximum(np.linalg.eigvalsh(spread), 0.0)
    turn = (np.arange(_DIRECTIONS) + 0.5) * (2 * np.pi / _DIRECTIONS)
    variance = sizes[0] * np.cos(turn) ** 2 + sizes[1] * np.sin(turn) ** 2
    return 1.0 if not sizes[1] > 0 else float(-np.expm1(-(gap**2) / (2 * variance)).mean())


def _is_loose(fit: Fit, moves: FloatArray) -> bool:
    """Whether a direction that nothing fixes moves the far end against the start end."""
    if not len(fit.doubt.flat):
        return False
    scaled = moves * fit.doubt.scale
    return bool(np.linalg.norm(scaled @ fit.doubt.flat.T) > IN_PART * np.linalg.norm(scaled))
