"""The search keeps to what was told, and finds the lower of two minima."""

from __future__ import annotations

from csv import DictReader
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from plumbend.shape.chain import Chain
from plumbend.shape.fit import FormingLimits, fit_from
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.structure import fit_measured
from support.tubes import OD, RADIUS, outside_points, random_tube


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


BY_AXIS = np.diag([3.0, 1.0, 0.5]) ** 2


def two_minima() -> tuple[Measured, Chain]:
    """Places on the outside of a tube with a leg of 195 mm between its last bends, and a tube at the higher minimum:
    bends 5 and 6 share their turn otherwise, and of the places between them the last lies on the bend."""
    with (Path(__file__).parent / "two_minima.csv").open() as file:
        rows = list(DictReader(file))
    points = tuple(
        Point(str(i), row["what"], np.array([float(row[axis]) for axis in "xyz"]), BY_AXIS)
        for i, row in enumerate(rows)
    )
    measured = Measured(OD, points)
    lowest = fit_measured(measured, 6, FormingLimits(RADIUS))
    assert lowest is not None
    angles, straights = lowest.chain.angles.copy(), lowest.chain.straights.copy()
    angles[4:] += np.radians([-5.6, 5.4])
    straights[4] -= 18.6
    straights[6] += 8.4
    return measured, replace(lowest.chain, angles=angles, straights=straights)


def test_of_two_minima_beside_each_other_the_lower_is_found() -> None:
    measured, aside = two_minima()
    found = fit_measured(measured, 6, FormingLimits(RADIUS))
    assert found is not None
    assert found.converged
    assert found.chi2 == pytest.approx(60.63, abs=0.02)
    higher = fit_from(aside, measured.compiled(6), FormingLimits(RADIUS))
    assert higher.converged
    assert higher.chi2 == pytest.approx(68.43, abs=0.02)


def test_a_lower_minimum_than_that_beside_the_truth_is_found() -> None:
    rng = np.random.default_rng(137)
    tube = random_tube(rng, 3, straights=(150.0, 300.0))
    points = tuple(
        replace(point, at=point.at + np.sqrt(np.diagonal(BY_AXIS)) * rng.normal(size=3), cov=BY_AXIS)
        for point in outside_points(tube, 8, rng, 0.0)
    )
    measured = Measured(OD, points)
    beside = fit_from(tube, measured.compiled(3), FormingLimits(RADIUS))
    found = fit_measured(measured, 3, FormingLimits(RADIUS))
    assert found is not None
    assert beside.chi2 == pytest.approx(32.78, abs=0.01)
    assert found.chi2 == pytest.approx(26.70, abs=0.01)
