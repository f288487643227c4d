"""A scan gathered part by part: neighbouring places together, each chunk on the few parts it may lie on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plumbend.frames import FloatArray
from plumbend.shape import scan as gathering
from plumbend.shape.chain import Chain
from plumbend.shape.feet import feet
from plumbend.shape.scan import CHUNK, Scan, ScanRows
from support.tubes import OD, random_tube, scan_places

COUNT = 3 * CHUNK + 500


def scanned(seed: int, bends: int) -> tuple[Chain, Scan]:
    """A tube, one of its bends back on itself, and a scan of it with a heap and some places anywhere beside it."""
    rng = np.random.default_rng(seed)
    tube = random_tube(rng, bends)
    if bends > 1:
        tube = replace(tube, angles=np.array([np.pi, *tube.angles[1:]]))
    at = scan_places(tube, COUNT, rng, 0.5)
    at[:300] = at[:300].mean(axis=0) + rng.normal(size=(300, 3)) * 400
    at[300:600] = tube.far_end + rng.normal(size=(300, 3)) * OD
    rng.shuffle(at)
    return tube, Scan(at, 0.5)


def numbers(rows: ScanRows, tube: Chain, width: float | None = None) -> FloatArray:
    """All that comes of a scan's normal equations."""
    normal = rows.normal(tube, tube.motion(np.zeros(3)), width)
    return np.concatenate([normal.hessian.ravel(), normal.gradient, [normal.chi2]])


def test_gathered_places_are_the_same_with_neighbours_together() -> None:
    _, scan = scanned(0, 4)
    gathered = scan.gathered().at
    assert np.array_equal(np.sort(gathered.view("f8,f8,f8"), axis=0), np.sort(scan.at.view("f8,f8,f8"), axis=0))
    steps = np.linalg.norm(np.diff(gathered, axis=0), axis=1)
    assert np.median(steps) < 0.1 * np.median(np.linalg.norm(np.diff(scan.at, axis=0), axis=1))
    few = Scan(scan.at[:CHUNK], 0.5)
    assert few.gathered() is few


@pytest.mark.parametrize("bends", [0, 1, 2, 5])
def test_the_nearest_part_is_among_those_asked(bends: int, monkeypatch: pytest.MonkeyPatch) -> None:
    tube, scan = scanned(bends, bends)
    rows = ScanRows(scan.gathered(), OD)
    misses, sums = rows.misses(tube), [numbers(rows, tube, width) for width in (None, 3.0)]
    asked = gathering._elements_near(tube, rows._chunks)
    assert len(asked) == 4
    everything = list(range(2 * bends + 1))
    monkeypatch.setattr(gathering, "_elements_near", lambda _, chunks: [everything for _ in chunks])
    assert np.array_equal(rows.misses(tube), misses)
    for width, before in zip((None, 3.0), sums, strict=True):
        assert numbers(rows, tube, width) == pytest.approx(before, rel=1e-12, abs=1e-9)


def test_a_chunk_asks_few_parts() -> None:
    tube, scan = scanned(6, 6)
    clean = Scan(scan.at[np.linalg.norm(feet(tube, scan.at).off, axis=1) < OD], 0.5)
    rows = ScanRows(Scan(np.tile(clean.at, (5, 1)), 0.5).gathered(), OD)
    asked = [len(elements) for elements in gathering._elements_near(tube, rows._chunks)]
    assert len(asked) > 13
    assert np.mean(asked) < 7  # of 13


def test_misses_are_those_of_places_on_the_outside() -> None:
    tube, scan = scanned(3, 3)
    foot = feet(tube, scan.at)
    within = foot.beyond == 0  # beyond the ends the straights of a scan run on through the rest of the tube
    near = within & (np.linalg.norm(foot.off, axis=1) < OD)
    assert near.mean() > 0.9
    misses = ScanRows(scan, OD).misses(tube)
    assert misses[near] == pytest.approx(np.linalg.norm(foot.off[near], axis=1) - OD / 2, abs=1e-9)


def test_a_place_counts_the_same_on_one_core_or_more(monkeypatch: pytest.MonkeyPatch) -> None:
    tube, scan = scanned(4, 4)
    results = []
    for cores in (4, 2, 1):
        monkeypatch.setattr(gathering, "AT_ONCE", cores)
        rows = ScanRows(scan, OD)
        results.append((rows.misses(tube), numbers(rows, tube), numbers(rows, tube, 3.0)))
    for other in results[1:]:
        for one, same in zip(results[0], other, strict=True):
            assert np.array_equal(one, same)


def test_the_order_of_the_places_does_not_matter() -> None:
    tube, scan = scanned(5, 3)
    before, after = (numbers(ScanRows(given, OD), tube) for given in (scan, scan.gathered()))
    assert after == pytest.approx(before, rel=1e-9, abs=1e-6)
