"""A part's own bend radius from its scan, and the part made again on another die."""

from __future__ import annotations

import numpy as np
import pytest

from plumbend.making.corners import program_from_corners
from plumbend.shape.chain import POSE
from plumbend.shape.copies import fit_part, made_again
from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.scan import Scan
from plumbend.shape.structure import fit_measured
from support.tubes import OD, clear_of_itself, random_tube, scan_places, turn_apart

DIE = 140.0
PART = 150.0


def test_radius_and_copy_are_as_good_as_they_say() -> None:
    """120 scanned parts: squares of errors over their doubts average to 1, each mean good to about 0.13."""
    rng = np.random.default_rng(31)
    squares = []
    while len(squares) < 120:
        part = random_tube(rng, 2, angles=(40.0, 100.0), radius=PART)
        if not clear_of_itself(part):
            continue
        ends = tuple(
            Point(name, "end", place + rng.normal(size=3), np.eye(3))
            for name, place in (("A", part.origin), ("F", part.far_end))
        )
        measured = Measured(OD, ends, scan=Scan(scan_places(part, 90, rng, 0.5), 0.5))
        fit = fit_measured(measured, 2, FormingLimits(DIE))
        assert fit is not None
        found = fit_part(fit)
        copy = made_again(found, DIE)
        wanted = program_from_corners(part.corners(), DIE)
        off = np.concatenate(
            [
                copy.chain.straights - wanted.straights,
                turn_apart(copy.chain.rotations, wanted.rotations)[1:],
                copy.chain.angles - wanted.angles,
            ]
        )
        sd = np.sqrt(np.diagonal(copy.doubt.covariance)[POSE:])
        squares.append(np.concatenate([[(found.radius - PART) / found.sd], off / sd]) ** 2)
    means = np.mean(squares, axis=0)
    assert 0.85 < means.mean() < 1.15, means
    assert (means < 1.6).all(), means


def test_a_copy_on_the_same_radius_is_the_part() -> None:
    rng = np.random.default_rng(2)
    part = random_tube(rng, 2, angles=(40.0, 100.0), radius=PART)
    measured = Measured(OD, scan=Scan(scan_places(part, 200, rng, 0.0), 0.5))
    fit = fit_measured(measured, 2, FormingLimits(DIE))
    assert fit is not None
    found = fit_part(fit)
    assert found.radius == pytest.approx(PART, abs=0.01)
    copy = made_again(found, found.radius)
    np.testing.assert_allclose(copy.chain.straights, found.fit.chain.straights)
    np.testing.assert_allclose(copy.doubt.covariance[-2:, -2:].diagonal() > 0, True)


def test_a_straight_part_has_no_radius_to_tell() -> None:
    rng = np.random.default_rng(4)
    part = random_tube(rng, 0)
    fit = fit_measured(Measured(OD, scan=Scan(scan_places(part, 80, rng, 0.5), 0.5)), 0, FormingLimits(DIE))
    assert fit is not None
    assert np.isnan(fit_part(fit).radius)
