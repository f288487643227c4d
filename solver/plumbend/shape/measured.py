"""Everything that was measured of one tube."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.evidence import Evidence
from plumbend.shape.points import Point
from plumbend.shape.scan import Scan
from plumbend.shape.tube_readings import TubeReading

if TYPE_CHECKING:  # a tube without demands does not pay for them
    from plumbend.shape.demands import Demand


@record(eq=False)
class Measured:
    """What the shape of one tube is found from.

    Attributes:
        od: outside diameter, mm.
        points: in order from the start end.
        readings: of the tube itself.
        joint: (3m, 3m) mm^2, covariance of all m points together; None where they are independent.
        planar: the tube was told to lie in one plane.
        scan: places on the outside, in any order.
        demands: what the tube is to be.
    """

    od: float
    points: tuple[Point, ...] = ()
    readings: tuple[TubeReading, ...] = ()
    joint: FloatArray | None = None
    planar: bool = False
    scan: Scan | None = None
    demands: tuple[Demand, ...] = ()

    def is_typed(self, index: int) -> bool:
        """Whether one of its points was typed by its coordinates, and not worked out from readings."""
        if self.joint is None:
            return True
        others = np.delete(self.joint[:, 3 * index : 3 * index + 3], range(3 * index, 3 * index + 3), axis=0)
        own = self.points[index].cov
        return not others.any() and np.array_equal(own, np.diag(np.diagonal(own)))

    def in_order(self, order: Sequence[int]) -> Measured:
        """The same with its points in another order, given by their indices."""
        joint = self.joint
        if joint is not None:
            rows = (3 * np.array(order)[:, None] + np.arange(3)).ravel()
            joint = joint[np.ix_(rows, rows)]
        return replace(self, points=tuple(self.points[i] for i in order), joint=joint)

    def without(self, index: int) -> Measured:
        """The same without one of its points."""
        joint = self.joint
        if joint is not None:
            own = range(3 * index, 3 * index + 3)
            joint = np.delete(np.delete(joint, own, axis=0), own, axis=1)
        return replace(self, points=self.points[:index] + self.points[index + 1 :], joint=joint)

    def without_reading(self, index: int) -> Measured:
        """The same without one of its readings of the tube itself."""
        return replace(self, readings=self.readings[:index] + self.readings[index + 1 :])

    def compiled(self, bends: int, points: Sequence[Point] | None = None) -> Evidence:
        """The evidence for a tube of ``bends`` bends; ``points`` are the same with more settled."""
        given = self.points if points is None else points
        return Evidence(given, bends, self.od, self.readings, self.joint, self.scan, self.demands)
