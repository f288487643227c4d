"""All the evidence of one tube, weighted: residual first, weight second.

A row along direction b has the variance b^T Sigma b of its point (for straights exactly the marginal over
the unknown place along the tube, for arcs to first order). Points that are correlated with each other are
whitened together, densely.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import field
from typing import TYPE_CHECKING

import numpy as np

from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.chain import Chain, Motion, layout
from plumbend.shape.kinds import OnTube, OutsidePoints, PointGroup, Rows, group_points
from plumbend.shape.points import Point
from plumbend.shape.scan import Scan, ScanRows
from plumbend.shape.tube_readings import TubeReading

if TYPE_CHECKING:  # a tube without demands does not pay for them
    from plumbend.shape.demands import Demand


@record(eq=False)
class Weights:
    """How the points' rows are whitened, held while a step is judged.

    Attributes:
        directions: per group (m, k, 3), the directions that the whitening is stated along.
        whitening: per group (m, k, k), or one (rows, rows) for all where points are correlated. Both are empty
            where every point is as good one way as another.
        scan_width: mm, of the biweight of a scan whose places may be off the tube; else None.
    """

    directions: list[FloatArray] = field(default_factory=list)
    whitening: list[FloatArray] = field(default_factory=list)
    scan_width: float | None = None


class Evidence:
    """Points and readings of one tube, compiled for one number of bends.

    As a problem for :func:`plumbend.estimate.minimise.minimise` its states are chains.
    """

    def __init__(
        self,
        points: Sequence[Point],
        bends: int,
        od: float,
        readings: Sequence[TubeReading] = (),
        joint: FloatArray | None = None,
        scan: Scan | None = None,
        demands: Sequence[Demand] = (),
    ) -> None:
        """Compile evidence for a tube of ``bends`` bends.

        Args:
            points: in order from the start end.
            bends: number of bends.
            od: outside diameter, mm.
            readings: of the tube itself.
            joint: (3m, 3m) mm^2, covariance of all m points together, in their order; None where they are
                independent and each point's own ``cov`` holds.
            scan: places on the outside, in any order.
            demands: what the tube is to be; those that are good to something are weighed, the others kept exactly.
        """
        self.bends = bends
        self.od = od
        self.points = list(points)
        self.readings = list(readings)
        self.joint = joint
        self.scan = None if scan is None else ScanRows(scan, od)
        self.reference = self._middle()
        self.groups = list(group_points(self.points, bends, od))
        self.demands = list(demands)
        limiting = [i for i, point in enumerate(self.points) if point.limits]
        self.limiting = OutsidePoints(self.points, limiting, bends, od) if limiting else None
        self._covariance = np.array([point.cov for point in points]).reshape(-1, 3, 3)
        self._sd = self._common_sds()

    def _middle(self) -> FloatArray:
        """A place amid the evidence, about which turns are stated."""
        if self.points:
            middle: FloatArray = np.mean([point.at for point in self.points], axis=0)
            return middle
        return np.zeros(3) if self.scan is None else self.scan.scan.at[:1000].mean(axis=0)

    def _common_sds(self) -> list[FloatArray] | None:
        """Per group the standard deviation (m,) of points as good one way as another; None if some are not."""
        variance = self._covariance[:, 0, 0]
        alike = np.array_equal(self._covariance, variance[:, None, None] * np.eye(3))
        if self.joint is not None or not alike:
            return None
        return [np.sqrt(variance[group.members]) for group in self.groups]

    @property
    def alike(self) -> bool:
        """Whether every point is as good one way as another and independent of the others."""
        return self._sd is not None

    def groups_alike(self) -> Iterator[tuple[PointGroup, FloatArray]]:
        """Every group with the standard deviations (m,) of its points; none where :attr:`alike` does not hold."""
        yield from zip(self.groups, self._sd or (), strict=self._sd is not None)

    @property
    def is_held(self) -> bool:
        """Whether there is anything that the tube must meet or keep to, beside missing the rest by little."""
        return self.limiting is not None or any(demand.sds is None for demand in self.demands)

    @property
    def sides_told(self) -> list[int]:
        """Points that say on which side of them the tube lies."""
        return [i for i, point in enumerate(self.points) if point.standoff.tube_is is not None]

    def rows(self, chain: Chain, motion: Motion, weights: Weights | None = None) -> list[Rows]:
        """Rows of every group of points, along the directions that ``weights`` hold."""
        held = [None] * len(self.groups) if weights is None or not weights.directions else weights.directions
        return [group.rows(chain, motion, basis) for group, basis in zip(self.groups, held, strict=True)]

    def values(self, state: Chain) -> FloatArray:
        """The chain's parameters (p,)."""
        return state.parameters()

    def move(self, state: Chain, step: FloatArray) -> Chain:
        """The chain after a step (p,)."""
        return state.moved(step, self.reference)

    def weigh(self, state: Chain) -> Weights | None:
        """Whitening along the rows' directions: None where every point is as good one way as another, and no place
        of a scan is off the tube."""
        width = None if self.scan is None else self.scan.width(state)
        if self._sd is not None:
            return None if width is None else Weights(scan_width=width)
        directions = [rows.directions for rows in self.rows(state, state.motion(self.reference))]
        if self.joint is None:
            return Weights(directions, [np.linalg.inv(np.linalg.cholesky(q)) for q in self._blocks(directions)], width)
        return Weights(directions, [np.linalg.inv(np.linalg.cholesky(self._dense(directions, self.joint)))], width)

    def held_to(self, state: Chain, weights: Weights | None) -> Weights:
        """The same weights along directions that stay what they are at the state, so that rows may be compared with
        those of a state beside it."""
        if weights is not None and weights.whitening:
            return weights
        assert self._sd is not None
        directions = [rows.directions for rows in self.rows(state, state.motion(self.reference))]
        alike = zip(directions, self._sd, strict=True)
        return Weights(directions, [np.eye(b.shape[1]) / sd[:, None, None] for b, sd in alike])

    def _blocks(self, directions: list[FloatArray]) -> list[FloatArray]:
        """Per group (m, k, k): covariance of each point's own rows."""
        return [
            b @ self._own_covariance(group.members) @ np.swapaxes(b, 1, 2)
            for group, b in zip(self.groups, directions, strict=True)
        ]

    def _own_covariance(self, members: list[int]) -> FloatArray:
        if self.joint is None:
            return self._covariance[members]
        blocks = self.joint.reshape(len(self.points), 3, len(self.points), 3)
        return blocks[members, :, members, :]

    def _dense(self, directions: list[FloatArray], joint: FloatArray) -> FloatArray:
        """(rows, rows): covariance of all rows of all points."""
        spread = np.zeros((sum(b.shape[0] * b.shape[1] for b in directions), len(self.points), 3))
        row = 0
        for group, b in zip(self.groups, directions, strict=True):
            for member, rows in zip(group.members, b, strict=True):
                spread[row : row + len(rows), member] = rows
                row += len(rows)
        flat = spread.reshape(len(spread), -1)
        return flat @ joint @ flat.T

    def whitened(self, state: Chain, weights: Weights | None) -> tuple[FloatArray, FloatArray]:
        """Residuals (m,) and derivatives (m, p) of points, readings and demands, each divided by its doubt."""
        motion = state.motion(self.reference)
        size = motion.layout.size
        groups = self.rows(state, motion, weights)
        residuals: list[FloatArray] = []
        jacobian: list[FloatArray] = []
        if weights is None or not weights.whitening:
            assert self._sd is not None
            for rows, sd in zip(groups, self._sd, strict=True):
                residuals.append((rows.residuals / sd[:, None]).ravel())
                jacobian.append((rows.jacobian / sd[:, None, None]).reshape(-1, size))
        elif self.joint is None:
            for rows, whitening in zip(groups, weights.whitening, strict=True):
                residuals.append(np.matmul(whitening, rows.residuals[:, :, None]).ravel())
                jacobian.append(np.matmul(whitening, rows.jacobian).reshape(-1, size))
        else:
            residuals.append(weights.whitening[0] @ np.concatenate([rows.residuals.ravel() for rows in groups]))
            jacobian.append(weights.whitening[0] @ np.concatenate([rows.jacobian.reshape(-1, size) for rows in groups]))
        for reading in self.readings:
            residual, row = reading.residual(state, motion)
            residuals.append(np.array([residual / reading.sd]))
            jacobian.append(row[None] / reading.sd)
        for demand in self.demands:
            if demand.sds is not None:
                off, moves = demand.rows(state, motion)
                residuals.append(off / demand.sds)
                jacobian.append(moves / demand.sds[:, None])
        none = [np.zeros(0)], [np.zeros((0, size))]
        return np.concatenate(residuals or none[0]), np.concatenate(jacobian or none[1])

    def normal(self, state: Chain, weights: Weights | None) -> Normal:
        """Normal equations of all rows, whitened."""
        normal = Normal.from_rows(*self.whitened(state, weights))
        if self.scan is None:
            return normal
        width = None if weights is None else weights.scan_width
        return normal + self.scan.normal(state, state.motion(self.reference), width)

    def gradient_noise(self, state: Chain, weights: Weights | None) -> FloatArray:
        """(p, p): covariance of the gradient of the normal equations, where places of the scan are off together."""
        from plumbend.shape.alike import gradient_noise  # few scans say so

        assert self.scan is not None
        _, rows = self.whitened(state, weights)
        noise: FloatArray = rows.T @ rows + gradient_noise(self.scan.scan, state, state.motion(self.reference))
        return noise

    def misses(self, chain: Chain, covariance: FloatArray, answer: FloatArray) -> list[Miss]:
        """Every point's miss, in the points' order.

        Args:
            chain: the fitted tube.
            covariance: (p, p) of its parameters, pose included.
            answer: (p, p) by which they answer to what was measured, as :attr:`plumbend.shape.fit.Fit.answer`.
        """
        misses: list[Miss | None] = [None] * len(self.points)
        others = self._not_weighed()
        for group, rows in self._rows_of_all(chain, others):
            own = rows.directions @ self._own_covariance(group.members) @ np.swapaxes(rows.directions, 1, 2)
            weighed = np.einsum("mi,mij,mj->m", rows.residuals, np.linalg.inv(own), rows.residuals)
            # what took part in the fit draws the tube after its own error
            shared = covariance if group in others else covariance - 2 * answer
            left = own + rows.jacobian @ shared @ np.swapaxes(rows.jacobian, 1, 2)
            if group in others:
                weighed = np.zeros_like(weighed)
            for i, member in enumerate(group.members):
                residual = rows.residuals[i]
                size = _size(residual)
                along = residual / abs(size) if size else np.ones(len(residual)) / np.sqrt(len(residual))
                doubt = float(np.sqrt(max(along @ left[i] @ along, 0.0)))
                misses[member] = Miss(size, doubt, float(np.sqrt(weighed[i] / len(residual))))
        return [miss for miss in misses if miss is not None]

    def miss_sizes(self, chain: Chain) -> list[float]:
        """Every point's miss in mm, in the points' order, + is away from the tube for places outside the axis."""
        sizes = {
            member: _size(residual)
            for group, rows in self._rows_of_all(chain, self._not_weighed())
            for member, residual in zip(group.members, rows.residuals, strict=True)
        }
        return [sizes[i] for i in sorted(sizes)]

    def _not_weighed(self) -> list[PointGroup]:
        """What is met or kept clear of, and had no part in the fit, unless it may be missed by so much."""
        apart = [i for i, point in enumerate(self.points) if not point.weighs]
        return [OutsidePoints(self.points, apart, self.bends, self.od)] if apart else []

    def _rows_of_all(self, chain: Chain, others: list[PointGroup]) -> Iterator[tuple[PointGroup, Rows]]:
        motion = chain.motion(self.reference)
        for group in [*self.groups, *others]:
            yield group, group.rows(chain, motion, None)

    def beyond_ends(self, chain: Chain) -> Iterator[tuple[int, float, bool]]:
        """Points whose feet lie beyond an end: index, by how much in mm, and whether beyond the far end.

        An end straight that no point fixes has no end to lie beyond; the caller knows.
        """
        for group in self.groups:
            if isinstance(group, OnTube):
                foot = group.feet(chain)
                for i in np.flatnonzero(foot.beyond > 0).tolist():
                    yield group.members[i], float(foot.beyond[i]), bool(foot.along[i] > 0)

    @property
    def size(self) -> int:
        """Number of the chain's parameters."""
        return layout(self.bends).size


def _size(residual: FloatArray) -> float:
    """One residual keeps its sign; more are the parts of a distance."""
    return float(residual[0]) if len(residual) == 1 else math.sqrt(float(residual @ residual))


@record
class Miss:
    """How far a fitted tube passes from one point.

    Attributes:
        size: mm; for places outside the axis + is away from the tube, else a distance.
        doubt: standard deviation of the miss, mm, along its own direction.
        weighed: the miss over the point's accuracy, without sign; 0 for what only limits the tube.
    """

    size: float
    doubt: float
    weighed: float
