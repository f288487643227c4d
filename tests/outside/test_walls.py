"""Wall, flattening and least wall of bends beside published rules."""

from __future__ import annotations

import pytest

from plumbend.making.walls import (
    flattening,
    outer_strain,
    pressure_factors,
    thickened_to,
    thinned_to,
    wall_to_order,
)


@pytest.mark.parametrize(
    ("in_od", "inside", "outside"),
    [(1.5, 1.25, 0.875), (2, 1.1667, 0.9), (3, 1.1, 0.9286), (5, 1.0556, 0.9545)],
)
def test_pressure_factors(in_od: float, inside: float, outside: float) -> None:
    """ASME B31.3-2016, 304.2.1, equations 3c to 3e; the figures worked from them."""
    assert pressure_factors(in_od, 1.0) == pytest.approx((inside, outside), abs=1e-4)


@pytest.mark.parametrize(
    ("od", "radius", "inside", "outside"),
    [(219.1, 609.6, 1.110, 0.924), (273.05, 762, 1.109, 0.924), (273.2, 1270, 1.060, 0.951)],
)
def test_pressure_factors_of_calculation_sheets(od: float, radius: float, inside: float, outside: float) -> None:
    """Published calculation sheets to ASME B31.3, as printed there."""
    assert pressure_factors(radius, od) == pytest.approx((inside, outside), abs=6e-4)


@pytest.mark.parametrize(("in_od", "factor"), [(6, 1.06), (5, 1.08), (4, 1.14), (3, 1.25)])
def test_wall_to_order(in_od: float, factor: float) -> None:
    """ASME B31.1, table 102.4.5, as repeated in US DoD facilities criteria 4-159-01, table 5-4."""
    assert wall_to_order(in_od * 60.3, 60.3) == pytest.approx(factor)


def test_no_wall_to_order_is_made_up_for_tighter_bends() -> None:
    """The same table has no row below 3 diameters."""
    assert wall_to_order(2.9, 1.0) is None


@pytest.mark.parametrize(
    ("in_od", "out", "inner", "strain"),
    [(2, 0.8, 1.3333, 0.25), (3, 0.8571, 1.2, 0.1667), (4, 0.8889, 1.1429, 0.125), (5, 0.9091, 1.1111, 0.1)],
)
def test_wall_by_volume_kept(in_od: float, out: float, inner: float, strain: float) -> None:
    """Textbook constancy of volume, the neutral line at the centreline; no single source."""
    assert thinned_to(in_od, 1.0) == pytest.approx(out, abs=1e-4)
    assert thickened_to(in_od, 1.0) == pytest.approx(inner, abs=1e-4)
    assert outer_strain(in_od, 1.0) == pytest.approx(strain, abs=1e-4)


def test_flattening() -> None:
    """ASME B16.49-2017: (largest - smallest)/nominal; FIA Appendix J, 253-8.3, asks small/large of 0.9 at least,
    which on the mean OD is 10.53 %."""
    assert flattening(1.0, 0.9, 0.95) == pytest.approx(0.10526, abs=1e-5)
