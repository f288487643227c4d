"""Other cuts of the points into legs keep to what was told."""

from __future__ import annotations

import numpy as np

from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.structure import fit_measured
from support.tubes import OD, RADIUS, random_tube


def test_a_corner_stays_with_the_bend_it_was_told_for_whatever_fits_better() -> None:
    """The corner of bend 2 told for bend 1: no cut that gives it to bend 2 may be taken, though that would fit."""
    rng = np.random.default_rng(4)
    tube = random_tube(rng, 2, angles=(40.0, 80.0), straights=(400.0, 500.0))
    for told in (1, 2):
        places = [("A", "end", tube.origin)]
        for k, (start, stop) in enumerate(tube.tangents()):
            places += [(f"{k}.{j}", "centre", start + (j + 0.5) / 5 * (stop - start)) for j in range(5)]
            if k == 1:
                places.append(("K", "corner", tube.corners()[2]))
        places.append(("F", "end", tube.far_end))
        points = tuple(
            Point(name, what, at, np.eye(3), bend=told if what == "corner" else None) for name, what, at in places
        )
        fit = fit_measured(Measured(OD, points), 2, FormingLimits(RADIUS))
        assert fit is not None
        assert next(point.bend for point in fit.evidence.points if point.what == "corner") == told
        assert (fit.chi2 < 1e-6) == (told == 2)
