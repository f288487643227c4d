"""How each point and reading of a fitted tube stands to all the rest, from the rows of the one fit.

T = v^T Q_v^+ v over a measurement's own numbers is how much the sum of squares falls without it, to first order
(Baarda 1968; several numbers and correlations after Förstner 1983). Points come first, then readings of the tube
itself, in their order. It is cheap and only as good as the fit: whoever stands out is then left out in earnest.
"""

from __future__ import annotations

from functools import cached_property

import numpy as np
import numpy.typing as npt

from plumbend.estimate.chances import log_chance
from plumbend.frames import FloatArray, IntArray
from plumbend.measuring.snooping import Pair, Snooping, log_level_each
from plumbend.records import record
from plumbend.shape.fit import Fit

LEVEL = 0.005
"""Chance that a tube without a wrong point has one named: 0.5 %."""

_UNCHECKED = 1e-6
"""A way for numbers to be wrong of which less than this part shows in the misses is checked by nothing."""


class Standing:
    """How each of n measurements of a fit stands to the rest.

    Attributes:
        falls: (n,) how much the sum of squares falls without it, to first order.
        log_chances: (n,) logarithm of the chance of such a fall or a larger one; 0 where nothing checks it.
        limit: the log chance below which one is wrong, at :data:`LEVEL` for all together.
    """

    def __init__(self, fit: Fit) -> None:
        """Of a fit at its least sum of squares, or near."""
        self._rows = _rows_of(fit)
        rows = self._rows
        owner, seen, jacobian, given, covariance = rows.owner, rows.seen, rows.jacobian, rows.given, rows.covariance
        # what only limits the tube has no rows
        sizes = np.bincount(owner, minlength=len(fit.evidence.points) + len(fit.evidence.readings))
        width = int(sizes.max(initial=1))
        slot = np.arange(owner.size) - np.repeat(np.cumsum(sizes) - sizes, sizes)
        own_rows = np.zeros((sizes.size, width, jacobian.shape[1]))
        own_rows[owner, slot] = jacobian
        own_seen = np.zeros((sizes.size, width))
        own_seen[owner, slot] = seen
        blocks = -own_rows @ covariance @ np.swapaxes(own_rows, 1, 2)
        if given is None:
            blocks[owner, slot, slot] += 1.0
        else:
            one, other = np.nonzero(owner[:, None] == owner)
            blocks[owner[one], slot[one], slot[other]] += given[one, other]
        parts, ways = np.linalg.eigh(blocks)
        checked = parts > _UNCHECKED
        along = np.einsum("nwk,nw->nk", ways, own_seen)
        self.falls: FloatArray = np.where(checked, along**2 / np.where(checked, parts, 1.0), 0.0).sum(axis=1)
        self.log_chances: FloatArray = np.array(
            [log_chance(fall, count) for fall, count in zip(self.falls, checked.sum(axis=1).tolist(), strict=True)]
        )
        self.limit = log_level_each(LEVEL, sizes.size)

    def stand_out(self) -> list[int]:
        """Those that miss by more than chance allows, the likeliest to be wrong first."""
        order = np.argsort(self.log_chances, kind="stable").tolist()
        return [i for i in order if self.log_chances[i] < self.limit]

    def pairs(self, candidates: npt.NDArray[np.bool_], most: int) -> list[Pair]:
        """The ``most`` pairs of ``candidates`` (n,) that are the likeliest to be wrong together."""
        return self._snooping.pairs(candidates, most)

    @cached_property
    def _snooping(self) -> Snooping:
        rows = self._rows
        plain = np.eye(rows.owner.size) if rows.given is None else rows.given
        checks = plain - rows.jacobian @ rows.covariance @ rows.jacobian.T
        return Snooping(rows.misses, checks, rows.owner)


@record(eq=False)
class _Rows:
    """Rows of a fit, those of a measurement together, each over its own accuracy.

    Attributes:
        owner: (m,) the measurement that each row belongs to.
        misses: (m,) measured less computed.
        seen: (m,) the same weighed by all that they are correlated with.
        jacobian: (m, p) derivatives of ``seen``.
        given: (m, m) weights of the misses; None where they are independent and it is the unit matrix.
        covariance: (p, p) of the tube's parameters.
    """

    owner: IntArray
    misses: FloatArray
    seen: FloatArray
    jacobian: FloatArray
    given: FloatArray | None
    covariance: FloatArray


def _rows_of(fit: Fit) -> _Rows:
    evidence, weights = fit.evidence, fit.minimum.weights
    seen, jacobian = evidence.whitened(fit.chain, weights)
    owner = _owners(fit)
    # demands come last and are not tested: they are wished, not measured
    seen, jacobian = seen[: owner.size], jacobian[: owner.size]
    misses, given = seen, None
    if evidence.joint is not None:
        whiten = np.eye(seen.size)
        of_points = len(weights.whitening[0])
        whiten[:of_points, :of_points] = weights.whitening[0]
        spread = np.linalg.inv(whiten)
        sd = np.linalg.norm(spread, axis=1)
        misses = spread @ seen / sd
        own = whiten * sd
        seen, jacobian, given = own.T @ seen, own.T @ jacobian, own.T @ own
    order = np.argsort(owner, kind="stable")
    if given is not None:
        given = given[np.ix_(order, order)]
    return _Rows(owner[order], misses[order], seen[order], jacobian[order], given, fit.doubt.covariance)


def _owners(fit: Fit) -> IntArray:
    """(rows,) the measurement of every row, in the order in which the evidence gives them, demands left out."""
    evidence = fit.evidence
    groups = evidence.rows(fit.chain, fit.chain.motion(evidence.reference))
    owners = [
        np.repeat(group.members, found.residuals.shape[1]) for group, found in zip(evidence.groups, groups, strict=True)
    ]
    points = len(evidence.points)
    return np.concatenate([*owners, np.arange(points, points + len(evidence.readings))]).astype(np.int64)
