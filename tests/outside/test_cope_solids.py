"""Random joints against a general-purpose CAD kernel: where its lines meet its solids, and what its cuts remove."""

import math

import numpy as np
import pytest

from plumbend.ends.joints import joint
from plumbend.ends.outline import outline, turning_places
from support.cope_solids import KINDS, cut_tube, first_hits, random_joint, volume


@pytest.mark.parametrize("kind", KINDS)
def test_outline_and_volume_of_the_cut(kind: str) -> None:
    leg, neighbours, solids = random_joint(np.random.default_rng(71), kind)
    rounds = np.linspace(0, 2 * math.pi, 24, endpoint=False) + 0.013
    for radius in (leg.outer, leg.inner):
        assert outline(leg, neighbours, rounds, radius) == pytest.approx(
            first_hits(leg, solids, rounds, radius), abs=1e-6
        )
    fine = np.linspace(0, 2 * math.pi, 2000, endpoint=False)
    nodes, weights = np.polynomial.legendre.leggauss(12)
    rings = [outline(leg, neighbours, fine, leg.outer - leg.wall * (1 - x) / 2) for x in nodes]
    # no longer than the cut runs: the kernel keeps the slivers past a tip, which fall off in the shop
    length = float(max(outline(leg, neighbours, fine, radius).max() for radius in (leg.outer, leg.inner)))
    radii = leg.outer - leg.wall * (1 - nodes) / 2
    kept = sum(w * r * ring.mean() for w, r, ring in zip(weights, radii, rings, strict=True)) * math.pi * leg.wall
    whole = math.pi * (leg.outer**2 - leg.inner**2) * length
    removed = whole - volume(cut_tube(leg, solids, length))
    assert whole - kept == pytest.approx(removed, rel=1e-4)


@pytest.mark.parametrize("kind", KINDS)
def test_long_and_short_point_by_brute_force(kind: str) -> None:
    leg, neighbours, solids = random_joint(np.random.default_rng(72), kind)
    places = turning_places(leg, neighbours)
    longest, shortest = max(place.at for place in places), min(place.at for place in places)
    rounds = np.linspace(0, 2 * math.pi, 180, endpoint=False)
    found = first_hits(leg, solids, rounds, leg.outer)
    assert longest >= found.max() - 1e-6
    assert shortest <= found.min() + 1e-6
    # lines 2 degrees apart are at most 1 degree off; a kink is no steeper there than the tube's own slant
    assert longest == pytest.approx(found.max(), abs=leg.od / 40)
    assert shortest == pytest.approx(found.min(), abs=leg.od / 40)
    # just inside of a place that only touches, so that the kernel finds it too
    for place in places:
        hit = first_hits(leg, solids, np.array([place.round]), leg.outer - 1e-6)
        assert hit[0] == pytest.approx(place.at, abs=0.02)


@pytest.mark.parametrize("kind", ["equal", "unequal", "plate"])
def test_clocking_is_the_side_that_comes_out_short(kind: str) -> None:
    leg, neighbours, solids = random_joint(np.random.default_rng(73), kind)
    clocking = joint(leg, neighbours[0]).clocking
    assert clocking is not None
    off = np.radians([10.0, 35.0, 80.0, 120.0, 160.0])
    found = [first_hits(leg, solids, clocking + way * off, leg.outer) for way in (1, -1)]
    assert found[0] == pytest.approx(found[1], abs=1e-6)
    tight, wide = first_hits(leg, solids, clocking + np.array([0.0, math.pi]), leg.outer)
    assert tight < wide
