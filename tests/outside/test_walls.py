"""Wall, flattening and least wall of bends beside published rules."""

from __future__ import annotations

import pytest

from plumbend.making.buildable import Bench
from plumbend.making.walls import (
    RULE_BOOK_RADIUS,
    RULE_BOOK_ROUNDNESS,
    flattening,
    outer_strain,
    pressure_factors,
    thickened_to,
    thinned_to,
    wall_notes,
    wall_to_order,
)
from plumbend.shop import Die
from plumbend.tubing import Tubing


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


@pytest.mark.parametrize(
    ("od", "radius", "pressure", "stress", "weld", "inside", "outside"),
    [(219.1, 609.6, 0.6, 137.9, 1.0, 0.528, 0.440), (273.2, 1270, 5.82, 82.68, 0.975, 10.14, 9.13)],
)
def test_least_walls_of_calculation_sheets(
    od: float, radius: float, pressure: float, stress: float, weld: float, inside: float, outside: float
) -> None:
    """Published calculation sheets to ASME B31.3: t = P D/(2 (S E W/I + P Y)) with Y 0.4, E 1, as printed there."""
    walls = [pressure * od / (2 * (stress * weld / factor + pressure * 0.4)) for factor in pressure_factors(radius, od)]
    assert walls == pytest.approx((inside, outside), abs=0.01)


@pytest.mark.parametrize(("in_od", "tight"), [(2.9, True), (3.0, False), (3.5, False)])
def test_rule_books_want_three_diameters(in_od: float, tight: bool) -> None:
    """Formula SAE Rules 2021, F.5.2.1: at least 3 x OD at the centreline; FIA Appendix J, 253-8.3 (read second hand),
    the same, and the small diameter at least 0.9 of the large one."""
    notes = wall_notes(Bench(Tubing(45.0, 2.5), Die("die", in_od * 45.0), "mm"))
    assert any(note.code == "tight-radius" for note in notes) == tight
    assert (RULE_BOOK_RADIUS, RULE_BOOK_ROUNDNESS) == (3.0, 0.9)
