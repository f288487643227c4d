"""Neighbouring places of a scan that are off together: the ± counts them as fewer."""

from __future__ import annotations

import numpy as np
import pytest

from plumbend.shape.certainty import certainty_of
from plumbend.shape.chain import POSE, layout
from plumbend.shape.evidence import Evidence
from plumbend.shape.fit import FormingLimits, fit_from
from plumbend.shape.points import Point
from plumbend.shape.scan import Scan, shared_by_neighbours
from support.tubes import OD, RADIUS, random_tube, scan_places, turn_apart

SD, REACH = 0.5, 20.0
FREE = FormingLimits(RADIUS, -np.inf)


def test_errors_shared_by_neighbours_are_within_their_doubts_where_told_and_beyond_where_not() -> None:
    """40 tubes of 1 and 2 bends: told, the squares of errors over their doubts averaged 0.95; at a reach of 50 mm 0.73
    and at 100 mm 0.57, on the safe side. Not told they averaged 5.5 at 50 mm."""
    rng = np.random.default_rng(1)
    told, untold = [], []
    for number in range(24):
        tube = random_tube(rng, 1 + number % 2)
        exact = scan_places(tube, 100 * (tube.bends + 1), rng, 0.0)
        alike = np.exp(-np.linalg.norm(exact[:, None] - exact[None], axis=2) / REACH) + 1e-9 * np.eye(len(exact))
        at = exact + SD * np.linalg.cholesky(alike) @ rng.normal(size=exact.shape)
        ends = [
            Point(name, "end", at_end + rng.normal(size=3), np.eye(3))
            for name, at_end in (("A", tube.origin), ("F", tube.far_end))
        ]
        for shared, found in ((shared_by_neighbours(at, REACH, tube), told), (0.0, untold)):
            fit = fit_from(tube, Evidence(ends, tube.bends, OD, scan=Scan(at, SD, shared=shared)), FREE)
            off = fit.chain.parameters() - tube.parameters()
            where = layout(tube.bends)
            off[where.rotations] = turn_apart(off[where.rotations], np.zeros(1))
            found.append(off[POSE:] ** 2 / np.diagonal(certainty_of(fit).covariance))
    assert 0.65 <= np.concatenate(told).mean() <= 1.25
    assert np.concatenate(untold).mean() > 1.6


def test_places_that_err_alone_and_places_that_err_as_one() -> None:
    rng = np.random.default_rng(2)
    at = scan_places(random_tube(rng, 2), 3000, rng, SD)
    assert Scan(at, SD, shared=shared_by_neighbours(at, 1e-6)).off_together() == pytest.approx(1.0, abs=1e-3)
    assert Scan(at, SD, shared=shared_by_neighbours(at, 1e9)).off_together() == pytest.approx(3000.0, rel=1e-3)
    assert shared_by_neighbours(at[:1], 10.0) == 0.0
