"""How well every number of a fitted tube is known."""

from __future__ import annotations

import numpy as np

from plumbend.estimate.doubt import IN_PART
from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.chain import POSE, layout
from plumbend.shape.fit import Fit
from plumbend.shape.kinds import corner_moves, end_moves


@record(eq=False)
class Certainty:
    """Standard deviations in mm and radians; NaN where no evidence fixes a number or it is held at a limit.

    Attributes:
        straights: (n + 1,).
        rotations: (n,), the first 0.
        angles: (n,).
        corners: (n + 2, 3).
        tangents: (n, 2), where every bend starts along the straight tube: from the start end, and from the
            far end to the side that is met first from there.
        stops: (n + 1, 2, 3), start and end of every straight in space.
        developed_length: one number.
        held: numbers held at a limit of the die or by a demand, such as "straight-2", "turn-2" or "bend-1", counted
            from 1.
        covariance: (3n, 3n) or (1, 1) for a straight tube: straights, rotations without the first, angles;
            rows and columns of NaN likewise.
    """

    straights: FloatArray
    rotations: FloatArray
    angles: FloatArray
    corners: FloatArray
    tangents: FloatArray
    stops: FloatArray
    developed_length: float
    covariance: FloatArray
    held: frozenset[str] = frozenset()

    @property
    def every_number_known(self) -> bool:
        """Whether evidence, a limit or a demand fixes every number of the program."""
        named = (("straight", self.straights), ("turn", self.rotations), ("bend", self.angles))
        return all(
            f"{kind}-{k + 1}" in self.held for kind, sds in named for k in np.flatnonzero(np.isnan(sds)).tolist()
        )


def certainty_of(fit: Fit) -> Certainty:
    """Doubt of a fit's numbers, each from the one covariance of the chain."""
    chain, where = fit.chain, layout(fit.chain.bends)
    covariance = fit.covariance
    unknown = fit.doubt.loose | fit.at_limit | fit.doubt.told
    sd = np.sqrt(np.maximum(np.diagonal(covariance), 0.0))  # rounding leaves a hair below 0
    sd[unknown] = np.nan
    program = covariance[POSE:, POSE:].copy()
    program[unknown[POSE:]] = np.nan
    program[:, unknown[POSE:]] = np.nan
    length = np.zeros(where.size)
    length[where.straights] = 1.0
    length[where.angles] = chain.radius
    stations = np.zeros((chain.bends, 2, where.size))
    for k in range(chain.bends):
        stations[k, 0, where.straights][: k + 1] = stations[k, 1, where.straights][k + 1 :] = 1.0
        stations[k, 0, where.angles][:k] = stations[k, 1, where.angles][k + 1 :] = chain.radius
    return Certainty(
        sd[where.straights],
        np.concatenate([np.zeros(min(1, chain.bends)), sd[where.rotations]]),
        sd[where.angles],
        _of_places(_corner_jacobian(fit), fit).reshape(-1, 3),
        _of_places(stations.reshape(-1, where.size), fit).reshape(-1, 2),
        _of_places(_stop_jacobian(fit), fit).reshape(-1, 2, 3),
        float(_of_places(length[None], fit)[0]),
        program,
        _held(fit),
    )


def _held(fit: Fit) -> frozenset[str]:
    where = layout(fit.chain.bends)
    held = fit.at_limit | fit.doubt.told
    named = (("straight", where.straights, 1), ("turn", where.rotations, 2), ("bend", where.angles, 1))
    return frozenset(f"{kind}-{k + first}" for kind, part, first in named for k in np.flatnonzero(held[part]))


def _corner_jacobian(fit: Fit) -> FloatArray:
    """(3 (n + 2), p): start end, corners, far end; NaN for a corner that is too far off."""
    chain = fit.chain
    motion = chain.motion(fit.evidence.reference)
    _, start = end_moves(chain, motion, far=False)
    _, stop = end_moves(chain, motion, far=True)
    _, inner = corner_moves(chain, motion, np.arange(1, chain.bends + 1))
    inner[np.isnan(chain.corners()[1:-1]).any(axis=1)] = np.nan
    return np.concatenate([start[None], inner, stop[None]]).reshape(-1, motion.layout.size)


def _stop_jacobian(fit: Fit) -> FloatArray:
    """(6 (n + 1), p): start and end of every straight."""
    chain = fit.chain
    motion = chain.motion(fit.evidence.reference)
    places = chain.tangents()
    axes = np.broadcast_to(np.eye(3), (2, 3, 3))
    moves = np.zeros((chain.bends + 1, 2, 3, motion.layout.size))
    for k, pair in enumerate(places):
        moves[k] = -motion.rows(axes, pair) * motion.layout.before[2 * k]
        moves[k, 1, :, motion.layout.straights.start + k] += chain.frames[2 * k, :, 0]
    return moves.reshape(-1, motion.layout.size)


def _of_places(jacobian: FloatArray, fit: Fit) -> FloatArray:
    """Standard deviations (m,) of numbers with derivatives (m, p); NaN where a direction that nothing fixes
    moves them."""
    variance = np.einsum("mi,ij,mj->m", jacobian, fit.covariance, jacobian)
    sd: FloatArray = np.sqrt(np.maximum(variance, 0.0))
    if len(fit.doubt.flat):
        size = np.linalg.norm(jacobian * fit.doubt.scale, axis=1)
        sd[np.linalg.norm((jacobian * fit.doubt.scale) @ fit.doubt.flat.T, axis=1) > IN_PART * size] = np.nan
    return sd


def together(fit: Fit, first: int) -> tuple[float, float]:
    """Length in mm from the start of straight ``first`` (from 0) through the next bend to the end of the next
    straight, and its standard deviation (NaN where nothing fixes it)."""
    chain, where = fit.chain, layout(fit.chain.bends)
    row = np.zeros(where.size)
    row[where.straights.start + first : where.straights.start + first + 2] = 1.0
    row[where.angles.start + first] = chain.radius
    return float(row @ chain.parameters()), float(_of_places(row[None], fit)[0])
