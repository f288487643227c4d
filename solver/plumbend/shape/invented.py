"""Bends that may stand for a wrong point: where they were counted, one point off its leg can buy one or two.

A bend and a wrong point are weighed by what each must gain in the sum of squares before it is believed. A bend pays
:data:`~plumbend.shape.structure.PRICE` ln N; a wrong point pays :func:`price_of_a_wrong_point`, which is a little less
for 10 points and more: it takes two numbers away where a bend adds three and has its place to choose as well.
"""

from __future__ import annotations

import math

import numpy as np

from plumbend.shape.fit import Fit
from plumbend.shape.guide import guide_places
from plumbend.shape.measured import Measured
from plumbend.shape.segments import Segmentation
from plumbend.shape.structure import PRICE

FEW_ON_A_LEG = 3
"""Of two bends that a wrong point bought, the leg between has no more places than so many."""

_MOST_TRIED = 12


def price_of_a_wrong_point(measurements: int, level: float) -> float:
    """What leaving one of so many measurements out must gain in the sum of squares.

    The worst of n points with two numbers each exceeds 2 ln(n / level) with a chance of ``level``.
    """
    return 2 * math.log(max(measurements, 1) / level)


def resting_on_one(measured: Measured, fit: Fit) -> list[int]:
    """The points without which fewer bends than a counted ``fit`` has may do, the likeliest first.

    Judged by straight lines through the legs alone; what it names is to be fitted without. Tubes with corners or a
    scan are left alone: there the bends do not rest on single points.
    """
    points, bends = measured.points, fit.chain.bends
    if not bends or measured.scan is not None or any(point.what == "corner" for point in points):
        return []
    places = guide_places(measured)
    if not places:
        return []
    whole = Segmentation(places)
    legs = whole.legs(bends)
    if legs is None or min(legs.count(leg) for leg in range(1, bends + 2)) > FEW_ON_A_LEG:
        return []
    price = PRICE * math.log(fit.minimum.normal.count)
    limit = whole.costs_of_cuts(bends)[-1] + price * bends
    found = []
    for i in range(len(places)):
        costs = Segmentation(places[:i] + places[i + 1 :]).costs_of_cuts(bends - 1)
        least = float(np.min(costs + price * np.arange(bends)))
        # lines are a rough measure: points hard by a bend or on the outside lie off them
        if least < limit + price:
            found.append((least, i))
    return [i for _, i in sorted(found)[:_MOST_TRIED]]
