"""Evidence that a tube must meet or keep to: places touched exactly or within so much, places kept clear of, and what
the tube is demanded to be; and on which side of such places it passes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from plumbend.estimate.demanded import Demanded
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray
from plumbend.shape.chain import Chain
from plumbend.shape.curvature import curvature_missing
from plumbend.shape.demands import Demand, Symmetric
from plumbend.shape.evidence import Evidence
from plumbend.shape.guide import beside
from plumbend.shape.kinds import OutsidePoints
from plumbend.shape.points import Point

ROUGHLY = np.radians(0.2)
"""Standard deviation of a demand for an angle on the way to where it is kept."""
ROUGHLY_MM = 1.0
"""The same of one for a length."""


_FREE: dict[str, dict[str, Any]] = {
    "touch": {"exact": False, "within": None},
    "clear": {"gap": -np.inf, "tube_is": None},
}
"""What frees a tube from a place on the body."""


class HeldEvidence:
    """Evidence as a problem with demands, for :func:`plumbend.estimate.constrained.minimise_held`."""

    def __init__(self, evidence: Evidence) -> None:
        self.evidence = evidence
        self.exact = [i for i, demand in enumerate(evidence.demands) if demand.sds is None]
        members = [] if evidence.limiting is None else evidence.limiting.members
        stand = [evidence.points[i].standoff for i in members]
        self._at = np.array([k for k, off in enumerate(stand) if off.exact], dtype=int)
        # a place that may be missed by so much limits the tube from both sides
        within = [off.within for off in stand]
        self._over = np.array(
            [k for k, i in enumerate(members) if evidence.points[i].what == "clear" or within[k] is not None], dtype=int
        )
        self._under = np.array([k for k in self._over if within[k] is not None], dtype=int)
        self._room_over = np.array([within[k] or 0.0 for k in self._over])
        self._room_under = np.array([within[k] or 0.0 for k in self._under])
        self._members = members

    def owners(self) -> list[int | None]:
        """The point that sets each row of what is demanded, one or two for a point; None for a demand on the tube."""
        own = sum(self.evidence.demands[i].count for i in self.exact)
        members = self._members
        return [
            *(members[k] for k in self._at),
            *(None for _ in range(own)),
            *(members[k] for k in self._over),
            *(members[k] for k in self._under),
        ]

    def values(self, state: Chain) -> FloatArray:
        """The chain's parameters (p,)."""
        return self.evidence.values(state)

    def move(self, state: Chain, step: FloatArray) -> Chain:
        """The chain after a step (p,)."""
        return self.evidence.move(state, step)

    def weigh(self, state: Chain) -> Any:
        """Weights of what is missed."""
        return self.evidence.weigh(state)

    def normal(self, state: Chain, weights: Any) -> Normal:
        """Normal equations of what is missed."""
        return self.evidence.normal(state, weights)

    def demanded(self, state: Chain) -> Demanded:
        """All that must be met: exact touches and demands, then limits from below, then from above."""
        motion = state.motion(self.evidence.reference)
        off, moves = np.zeros(0), np.zeros((0, motion.layout.size))
        if self.evidence.limiting is not None:
            rows = self.evidence.limiting.rows(state, motion, None)
            off, moves = rows.residuals[:, 0], rows.jacobian[:, 0]
        exact = [self.evidence.demands[i].rows(state, motion) for i in self.exact]
        values = [
            off[self._at],
            *(own for own, _ in exact),
            off[self._over] + self._room_over,
            self._room_under - off[self._under],
        ]
        jacobian = [moves[self._at], *(own for _, own in exact), moves[self._over], -moves[self._under]]
        equal = self._at.size + sum(own.size for own, _ in exact)
        count = equal + self._over.size + self._under.size
        return Demanded(np.concatenate(values), np.concatenate(jacobian), np.arange(count) < equal)

    def curvature(self, state: Chain, multipliers: FloatArray) -> FloatArray | None:
        """What the Lagrangian's second derivatives have beside the normal matrix, where it is known."""
        if self.exact:
            return None
        at, over = self._at.size, self._at.size + self._over.size
        pushes = np.zeros(len(self._members))
        pushes[self._at] = multipliers[:at]
        pushes[self._over] += multipliers[at:over]
        pushes[self._under] -= multipliers[over:]
        return curvature_missing(self.evidence, state, pushes)


def as_measured(evidence: Evidence) -> Evidence:
    """Evidence in which what is to be met exactly is merely measured."""
    points = [
        replace(point, standoff=replace(point.standoff, exact=False)) if point.standoff.exact else point
        for point in evidence.points
    ]
    return _with(evidence, points, [_loosely(demand) for demand in evidence.demands])


def freed(point: Point) -> Point:
    """A point that limits the tube in no way: merely measured, or of no account where it was kept clear of."""
    if not point.limits:
        return point
    return replace(point, standoff=replace(point.standoff, **_FREE[point.what]))


def with_only(evidence: Evidence, points: Sequence[int], demands: Sequence[int]) -> Evidence:
    """Evidence of which only some points and some exact demands must be kept."""
    kept = [point if i in points else freed(point) for i, point in enumerate(evidence.points)]
    some = [demand for i, demand in enumerate(evidence.demands) if demand.sds is not None or i in demands]
    return _with(evidence, kept, some)


def drawn_over(evidence: Evidence, members: Sequence[int], sides: FloatArray | None = None) -> Evidence:
    """Evidence in which the tube's axis is drawn to the sides told of some points, or to ``sides`` (m, 3) of them."""
    points = list(evidence.points)
    for k, i in enumerate(members):
        side = points[i].standoff.tube_is if sides is None else sides[k]
        points[i] = beside(replace(points[i], standoff=replace(points[i].standoff, tube_is=side)), evidence.od)
    return _with(evidence, points, evidence.demands)


def _with(evidence: Evidence, points: Sequence[Point], demands: Sequence[Demand]) -> Evidence:
    scan = None if evidence.scan is None else evidence.scan.scan
    return Evidence(points, evidence.bends, evidence.od, evidence.readings, evidence.joint, scan, demands)


def _loosely(demand: Demand) -> Demand:
    if demand.sds is not None:
        return demand
    if isinstance(demand, Symmetric):
        return replace(demand, length=ROUGHLY_MM, angle=ROUGHLY, rotation=ROUGHLY)
    return replace(demand, sd=ROUGHLY)


def passed_on(chain: Chain, evidence: Evidence, members: Sequence[int]) -> FloatArray:
    """(m, 3) unit vectors from points on the body to the tube's axis."""
    off = OutsidePoints(evidence.points, list(members), evidence.bends, evidence.od).feet(chain).off
    toward: FloatArray = -off / np.maximum(np.linalg.norm(off, axis=1, keepdims=True), 1e-9)
    return toward


def wrong_sides(chain: Chain, evidence: Evidence) -> list[int]:
    """Points that the tube passes on another side than told."""
    told = evidence.sides_told
    if not told:
        return []
    toward = passed_on(chain, evidence, told)
    sides = [evidence.points[i].standoff.tube_is for i in told]
    return [i for i, side, way in zip(told, sides, toward, strict=True) if side is not None and side @ way < 0]
