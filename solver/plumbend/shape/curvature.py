"""What the normal equations leave out of the second derivatives of misses and limits.

Number i of a chain moves a place f on one of its elements by V_i = v_i + w_i x (f - c), and together with a later
number j by w_i x V_j more; the pose's turns, which are one rotation vector, by the mean of both orders. Half the square
of the distance of a point P from the axis, v = P - f, has the second derivatives

    V_i . V_j - v . (w_i x V_j) - q_i q_j / (1 - kappa n.v),    q_i = t . V_i - v . (w_i x t)

with t the tangent, n the inward normal and kappa the curvature at the foot f, which slides as the tube moves. Those of
the distance d itself are these less the product of its slopes v/d . V_i, over d.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from plumbend.frames import FloatArray, cross
from plumbend.shape.chain import POSE, Chain, Motion, layout
from plumbend.shape.evidence import Evidence
from plumbend.shape.feet import Feet
from plumbend.shape.kinds import CentrePoints, EndPoints, OutsidePoints


def curvature_missing(evidence: Evidence, chain: Chain, pushes: FloatArray) -> FloatArray | None:
    """(p, p) second derivatives of half the sum of squares beside its normal matrix, less those of distances kept.

    Args:
        evidence: what was measured.
        chain: where the tube lies.
        pushes: (m,) multiplier of the distance of each of ``evidence.limiting`` from the axis.

    Returns:
        None where there is evidence of a kind of which they are not known. Some are worse than none: where the tube is
        in balance, what pushes and what pulls it nearly take away each other's.
    """
    if not evidence.alike or evidence.readings or evidence.demands or evidence.scan is not None:
        return None
    motion = chain.motion(evidence.reference)
    missing = np.zeros((motion.layout.size, motion.layout.size))
    for group, sd in evidence.groups_alike():
        weights = 1 / sd**2
        if isinstance(group, EndPoints):
            missing += _of_end(group, chain, motion, weights)
        elif isinstance(group, CentrePoints):
            missing += _of_feet(group.feet(chain), motion, weights, False)
        elif isinstance(group, OutsidePoints):
            foot = group.feet(chain)
            distance = np.linalg.norm(foot.off, axis=1)
            missing += _of_feet(foot, motion, weights * (1 - group.off_axis / distance), True)
        else:
            return None
    if evidence.limiting is not None:
        foot = evidence.limiting.feet(chain)
        missing -= _of_feet(foot, motion, pushes / np.linalg.norm(foot.off, axis=1), True)
    return missing


def _of_feet(foot: Feet, motion: Motion, weights: FloatArray, of_distance: bool) -> FloatArray:
    """Weighed sum of what half the square has beside the slopes that its rows hold: those of both parts square to the
    tube, or of the distance alone."""
    before = motion.layout.before[foot.element][:, None, :]
    moves, turns = _moves(foot.place, motion, before)
    along = np.einsum("mi,mip->mp", foot.tangent, moves)
    slide = along - np.einsum("mi,mip->mp", cross(foot.tangent, foot.off), turns)
    stretch = 1 - foot.curvature * np.einsum("mi,mi->m", foot.inward, foot.off)
    missing = _bent(foot.off * weights[:, None], moves, turns, motion.layout.bends)
    missing += (along * weights[:, None]).T @ along - (slide * (weights / stretch)[:, None]).T @ slide
    if of_distance:
        away = foot.off / np.linalg.norm(foot.off, axis=1, keepdims=True)
        across = np.einsum("mi,mip->mp", cross(foot.tangent, away), moves)
        missing += (across * weights[:, None]).T @ across
    return missing


def _of_end(group: EndPoints, chain: Chain, motion: Motion, weights: FloatArray) -> FloatArray:
    """The same of an end, whose rows hold all slopes."""
    place = np.broadcast_to(chain.far_end if group.far else chain.origin, group.at.shape)
    before = np.arange(motion.layout.size)[None, None] < (motion.layout.size if group.far else POSE)
    return _bent((group.at - place) * weights[:, None], *_moves(place, motion, before), motion.layout.bends)


def _moves(place: FloatArray, motion: Motion, before: np.ndarray) -> tuple[FloatArray, FloatArray]:
    """V and w (m, 3, p) of places (m, 3)."""
    moves = -motion.rows(np.broadcast_to(np.eye(3), (len(place), 3, 3)), place)
    return moves * before, motion.twists[3:] * before


def _bent(pull: FloatArray, moves: FloatArray, turns: FloatArray, bends: int) -> FloatArray:
    """Sum of -pull . (w_i x V_j), for pulls (m, 3) and i the earlier number of the two."""
    levers = np.swapaxes(cross(pull[:, None, :], np.swapaxes(turns, 1, 2)), 1, 2)
    count = moves.shape[2]
    half = -(levers.reshape(-1, count).T @ moves.reshape(-1, count)) * _earlier(bends)
    return half + half.T


@lru_cache(maxsize=64)
def _earlier(bends: int) -> FloatArray:
    """(p, p) 1 where the first number comes before the second along the chain, 1/2 where neither does."""
    where = layout(bends)
    rank = np.zeros(where.size)
    rank[3:POSE] = 1  # the pose is turned before it is shifted
    rank[where.straights] = 2 + 3 * np.arange(bends + 1)
    rank[where.rotations] = 3 + 3 * np.arange(1, max(bends, 1))
    rank[where.angles] = 4 + 3 * np.arange(bends)
    earlier: FloatArray = (rank[:, None] < rank) + 0.5 * (rank[:, None] == rank)
    return earlier
