"""Tubes of which only places are known: neither bends nor legs, and of every second pair not the order either."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from plumbend.shape.chain import Chain
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.measured import Measured
from plumbend.shape.order import put_in_order
from plumbend.shape.structure import fit_counting_bends
from support.tubes import OD, RADIUS, clear_of_itself, leg_points, outside_points, random_tube

LIMITS = FormingLimits(RADIUS)
SD = 1.6


@dataclass(frozen=True, slots=True, eq=False)
class Unknown:
    """A tube, and places measured on it.

    Attributes:
        tube: 1 to 6 bends of 20 to 110 degrees, straights of 1.5 CLR to 750 mm, 2 OD clear of itself.
        kind: what the places are.
        measured: them, each good to 1.6 mm, as typed.
        ordered: whether that is in order.
        in_order: the same in order.
    """

    tube: Chain
    kind: str
    measured: Measured
    ordered: bool
    in_order: Measured

    def found(self) -> Fit:
        measured = self.measured if self.ordered else put_in_order(self.measured, None, LIMITS).measured
        counted = fit_counting_bends(measured, LIMITS)
        assert counted is not None
        return counted

    def begun_from_the_truth(self) -> Fit:
        return fit_from(self.tube, self.in_order.compiled(self.tube.bends), LIMITS)


def unknown_tube(seed: int) -> Unknown:
    """By turns 5 to 7 places on the axis of every leg, or 9 to 12 on its outside; by turns of two in order or not,
    and where not with both ends told, one or none."""
    rng = np.random.default_rng([seed, 77])
    while True:
        tube = random_tube(rng, int(rng.integers(1, 7)), angles=(20, 110), straights=(1.5 * RADIUS, 750))
        if clear_of_itself(tube, 2 * OD):
            break
    on_axis, ordered = seed % 2 == 0, (seed // 2) % 2 == 0
    points = (
        leg_points(tube, int(rng.integers(5, 8)), rng, SD)
        if on_axis
        else outside_points(tube, int(rng.integers(9, 13)), rng, SD)
    )
    told = 2 if ordered else 2 - (seed // 4) % 3
    for i, end in ((len(points) - 1, 1), (0, 0)):
        if told <= end and on_axis:
            points[i] = replace(points[i], what="centre")
        elif told <= end:
            del points[i]
    in_order = Measured(OD, tuple(points))
    order = list(range(len(points)))
    if not ordered:
        order = rng.permutation(len(points)).tolist()
        if told == 2 and order.index(0) > order.index(len(points) - 1):  # of two ends the start is typed first
            i, j = order.index(0), order.index(len(points) - 1)
            order[i], order[j] = order[j], order[i]
    kind = "centre" if on_axis else "outside"
    return Unknown(tube, kind, in_order.in_order(order), ordered, in_order)
