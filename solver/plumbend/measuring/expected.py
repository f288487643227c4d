"""What an adjustment says of readings, taken or not: how far each is off, and how surely."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import Adjusted
from plumbend.measuring.readings import Reading

_FELT = 1e-6
"""A free motion by a mm that changes a reading by more than this many mm leaves the reading open."""


@dataclass(frozen=True, slots=True, eq=False)
class Expectation:
    """How a reading that had no part in the adjustment stands to it.

    Attributes:
        off: (c,) mm, measured less what the places found say.
        information: (c, c) 1/mm^2, inverse of the covariance of ``off`` where the places found say anything.
        known: in how many ways they do, at most c.
        log_spread: logarithm of the determinant of that covariance, in ``known`` ways.
    """

    off: FloatArray
    information: FloatArray
    known: int
    log_spread: float

    @property
    def doubt(self) -> FloatArray:
        """(c,) mm, one standard deviation of ``off``; infinite where nothing is known."""
        if self.known < self.off.size:
            own = np.diagonal(self.information)
            return np.where(own > 0, 1 / np.sqrt(np.where(own > 0, own, 1.0)), np.inf)
        doubt: FloatArray = np.sqrt(np.diagonal(np.linalg.inv(self.information)))
        return doubt

    def unlikely(self, off: FloatArray) -> FloatArray:
        """(...) sums of squares, were the reading off by (..., c) mm."""
        squares: FloatArray = np.einsum("...c,cd,...d->...", off, self.information, off)
        return squares


class Expected:
    """Expectations from one adjustment."""

    def __init__(self, adjusted: Adjusted) -> None:
        network = adjusted.network
        self._network = network
        self._at = {place.name: adjusted.place(place.name) for place in network.places}
        self._planes = {plane.name: adjusted.planes[i] for i, plane in enumerate(network.planes)}
        self._covariance = adjusted.full_covariance
        flat = np.zeros((len(adjusted.doubt.flat), adjusted.state.size))
        flat[:, network.free] = adjusted.doubt.flat * adjusted.doubt.scale
        self._flat = flat / np.linalg.norm(flat, axis=1, keepdims=True)

    def of(self, reading: Reading) -> Expectation:
        """How a reading of the same places stands; it must have had no part in the adjustment."""
        computed = reading.computed(self._at, self._planes)
        off = np.array(reading.measured()) - computed.values[0]
        columns = [self._network.column[name] + axis for name in reading.places for axis in range(3)]
        rows = computed.by_place[0].reshape(len(off), -1)
        if reading.plane is not None:
            at = self._network.plane_column[reading.plane]
            columns += [at, at + 1]
            rows = np.concatenate([rows, computed.by_plane[0]], axis=1)
        covariance = rows @ self._covariance[np.ix_(columns, columns)] @ rows.T + reading.doubt**2 * np.eye(len(off))
        ways = np.eye(len(off))
        if len(self._flat):
            open_ways, sizes, _ = np.linalg.svd(rows @ self._flat[:, columns].T)
            ways = open_ways[:, int((sizes > _FELT).sum()) :]
        spread = ways.T @ covariance @ ways
        information = ways @ np.linalg.inv(spread) @ ways.T
        return Expectation(off, information, ways.shape[1], float(np.linalg.slogdet(spread)[1]))
