"""Scans of which three places in ten are off the tube."""

from __future__ import annotations

import numpy as np
import pytest

from plumbend.frames import FloatArray
from plumbend.shape.certainty import certainty_of
from plumbend.shape.chain import POSE, Chain, layout
from plumbend.shape.evidence import Evidence
from plumbend.shape.fit import Fit, FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.robust import Sorted, fit_sorting
from plumbend.shape.scan import Scan, ScanRows
from plumbend.shape.structure import fit_counting_bends, fit_measured
from support.strays import Draw, anywhere, bench, other_tube, pushed, same_tube_beside, vice, with_strays
from support.tubes import OD, RADIUS, clear_of_itself, random_tube, scan_places, turn_apart

LIMITS = FormingLimits(RADIUS)
SD = 0.5
PART = 0.3


def a_tube(rng: np.random.Generator, bends: int) -> Chain:
    while True:
        tube = random_tube(rng, bends, angles=(20, 110), straights=(210, 750))
        if clear_of_itself(tube):
            return tube


def ends_of(tube: Chain) -> tuple[Point, ...]:
    return Point("A", "end", tube.origin, np.eye(3)), Point("F", "end", tube.far_end, np.eye(3))


def sorted_fit(measured: Measured, bends: int | None) -> Sorted:
    def fit_any(part: Measured, *, thorough: bool) -> Fit | None:
        if bends is not None:
            return fit_measured(part, bends, LIMITS, thorough=thorough)
        return fit_counting_bends(part, LIMITS, thorough=thorough)

    found = fit_sorting(measured, fit_any, LIMITS, counting=bends is None)
    assert found is not None
    return found


def errors(fit: Fit, tube: Chain) -> FloatArray:
    off = fit.chain.parameters() - tube.parameters()
    where = layout(tube.bends)
    off[where.rotations] = turn_apart(off[where.rotations], np.zeros(1))
    return off[POSE:]


@pytest.mark.parametrize("kind", [anywhere, vice, bench, other_tube, same_tube_beside], ids=lambda kind: kind.__name__)
def test_strays_of_every_kind_are_left_out_and_the_tube_is_as_good_as_without(kind: Draw) -> None:
    rng = np.random.default_rng(5)
    tube = a_tube(rng, 2)
    at = with_strays(tube, scan_places(tube, 400, rng, SD), PART, kind, rng, SD)
    on_it = round((1 - PART) * len(at))
    found = sorted_fit(Measured(OD, ends_of(tube), scan=Scan(at, SD)), 2)
    alone = fit_measured(Measured(OD, ends_of(tube), scan=Scan(at[:on_it], SD)), 2, LIMITS)
    assert alone is not None
    assert len(found.strays) == pytest.approx(len(at) - on_it, abs=1)
    sd = np.sqrt(np.diagonal(certainty_of(alone).covariance))
    # a place that chance puts beyond the cut may be lost, and nothing else
    assert (np.abs(errors(found.fit, tube) - errors(alone, tube)) < 0.5 * sd).all()
    np.testing.assert_allclose(np.sqrt(np.diagonal(certainty_of(found.fit).covariance)), sd, rtol=0.02)


def test_bends_are_counted_among_strays() -> None:
    rng = np.random.default_rng(8)
    tube = a_tube(rng, 1)
    at = with_strays(tube, scan_places(tube, 300, rng, SD), PART, pushed, rng, SD)
    assert sorted_fit(Measured(OD, ends_of(tube), scan=Scan(at, SD)), None).fit.chain.bends == 1


def test_nothing_is_left_out_of_a_scan_that_is_all_on_the_tube_however_widely_it_scatters() -> None:
    rng = np.random.default_rng(9)
    tube = a_tube(rng, 2)
    for true_sd in (SD, 2.5 * SD):
        at = scan_places(tube, 400, rng, true_sd)
        found = sorted_fit(Measured(OD, ends_of(tube), scan=Scan(at, SD)), 2)
        assert len(found.strays) == 0
        assert found.measured.scan is not None
        assert len(found.measured.scan.at) == 400


def test_what_the_biweight_counts_falls_by_its_gradient() -> None:
    rng = np.random.default_rng(10)
    tube = a_tube(rng, 2)
    at = with_strays(tube, scan_places(tube, 300, rng, SD), PART, pushed, rng, SD)
    evidence = Evidence([], 2, OD, scan=Scan(at, SD, strays=True))
    weights = evidence.weigh(tube)
    assert weights is not None
    assert weights.scan_width is not None
    normal = evidence.normal(tube, weights)
    for i in range(evidence.size):
        step = np.zeros(evidence.size)
        step[i] = 1e-4 if i < 3 or i in range(POSE, POSE + 3) else 1e-6
        less, more = (evidence.normal(evidence.move(tube, way * step), weights).chi2 for way in (-1, 1))
        slope = (more - less) / (2 * step[i])
        assert slope == pytest.approx(2 * normal.gradient[i], rel=1e-3, abs=0.01 * np.abs(normal.gradient[:3]).max())
    # no place counts for more than a third of its width squared
    far = ScanRows(Scan(at + 1e4, SD, strays=True), OD).normal(tube, tube.motion(np.zeros(3)), 2.0)
    assert far.chi2 == pytest.approx(len(at) * 2.0**2 / 3 / SD**2)
