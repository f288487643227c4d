"""What an adjustment says of readings, taken or not: how far each is off, and how surely."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import Adjusted
from plumbend.measuring.readings import Reading
from plumbend.records import record

_FELT = 1e-6
"""A free motion by a mm that changes a reading by more than this many mm leaves the reading open."""


@record(eq=False)
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

    def changed(self, by: FloatArray) -> Expectation:
        """The same, were what was measured more by ``by`` (c,) mm."""
        return Expectation(self.off + by, self.information, self.known, self.log_spread)


def all_unlikely(stands: Sequence[Expectation]) -> FloatArray:
    """(m,) sums of squares of m readings, each as far off as it is."""
    if not stands:
        return np.zeros(0)
    off, information = np.array([one.off for one in stands]), np.array([one.information for one in stands])
    squares: FloatArray = np.einsum("mc,mcd,md->m", off, information, off)
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
        return self.of_each([reading])[0]

    def of_each(self, readings: Sequence[Reading]) -> list[Expectation]:
        """How each of m readings of one class stands, by itself."""
        computed = readings[0].computed_together(readings, self._at, self._planes)
        off = np.array([reading.measured() for reading in readings]) - computed.values
        first = np.array([[self._network.column[name] for name in reading.places] for reading in readings])
        columns = (first[..., None] + np.arange(3)).reshape(len(readings), -1)
        rows = computed.by_place.reshape(*off.shape, -1)
        planes = [self._network.plane_column[reading.plane] for reading in readings if reading.plane is not None]
        if planes:
            columns = np.concatenate([columns, np.array(planes)[:, None] + np.arange(2)], axis=1)
            rows = np.concatenate([rows, computed.by_plane], axis=2)
        own = np.array([reading.doubt**2 for reading in readings])[:, None, None] * np.eye(off.shape[1])
        covariance = rows @ self._covariance[columns[:, :, None], columns[:, None]] @ rows.swapaxes(1, 2) + own
        information, log_spread = np.linalg.inv(covariance), np.linalg.slogdet(covariance)[1]
        stands = [Expectation(off[i], information[i], off.shape[1], float(log_spread[i])) for i in range(len(readings))]
        if len(self._flat):
            turned, sizes, _ = np.linalg.svd(rows @ self._flat[:, columns].transpose(1, 2, 0))
            for i in np.flatnonzero((sizes > _FELT).any(axis=1)):
                ways = turned[i][:, int((sizes[i] > _FELT).sum()) :]
                stands[i] = _known_along(ways, off[i], covariance[i])
        return stands


def _known_along(ways: FloatArray, off: FloatArray, covariance: FloatArray) -> Expectation:
    """What is known of a reading in some ways (c, w) alone."""
    spread = ways.T @ covariance @ ways
    information = ways @ np.linalg.inv(spread) @ ways.T
    return Expectation(off, information, ways.shape[1], float(np.linalg.slogdet(spread)[1]))
