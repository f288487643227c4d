"""Springback by elastic recovery beside textbook moments."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbend.making.springback import elastic_recovery
from plumbend.tubing import Tubing

INCH = 25.4
PSI = 0.00689475729


@pytest.mark.parametrize(
    ("od", "wall", "clr", "strength", "modulus", "opens"),
    [
        (38.1, 3.048, 114.3, 350.0, 205e3, 1.2696),
        (44.45, 2.413, 152.4, 450.0, 205e3, 1.8199),
        (1.5 * INCH, 0.12 * INCH, 4.5 * INCH, 50e3 * PSI, 29e6 * PSI, 1.2821),
    ],
)
def test_opening_of_a_square_bend(
    od: float, wall: float, clr: float, strength: float, modulus: float, opens: float
) -> None:
    """Unloading M/(E I) (Beer, Johnston and DeWolf, Mechanics of Materials, ch. 4) with the textbook's fully plastic
    moment of a tube; the figures worked from these, with no published table of bent tubes found."""
    part = elastic_recovery(Tubing(od, wall), clr, modulus, strength)
    assert part is not None
    assert 90 * part == pytest.approx(opens, abs=1e-3)


def test_thin_tube() -> None:
    """Shape factor 4/pi of a thin tube (textbook): the opening is near 4/pi Y/E R/r."""
    part = elastic_recovery(Tubing(38.1, 0.01), 114.3, 205e3, 350.0)
    assert part == pytest.approx(4 / math.pi * 350 / 205e3 * 114.3 / 19.045, rel=1e-3)


@pytest.mark.parametrize(("od", "wall", "factor"), [(38.1, 3.048, 1.3770), (44.45, 2.413, 1.3434)])
def test_shape_factor(od: float, wall: float, factor: float) -> None:
    """Fully plastic over yield moment of a tube, (D^3 - d^3)/6 over pi (D^4 - d^4)/(32 D): textbook, figures worked."""
    part = elastic_recovery(Tubing(od, wall), 114.3, 205e3, 350.0)
    assert part is not None
    assert part * 205e3 * od / (2 * 114.3 * 350.0) == pytest.approx(factor, abs=1e-4)


def test_elastic_core_is_nothing_at_the_radius_of_a_die() -> None:
    """Stress E y/R up to the yield strength, summed over the tube's section: 0.99998 of the fully plastic moment."""
    od, wall, radius, modulus, strength = 38.1, 3.048, 114.3, 205e3, 350.0
    outer, inner = od / 2, od / 2 - wall
    y = (np.arange(400_000) + 0.5) * outer / 400_000
    width = 2 * (np.sqrt(outer**2 - y**2) - np.sqrt(np.maximum(inner**2 - y**2, 0.0)))
    moment = 2 * float((np.minimum(modulus * y / radius, strength) * width * y).sum()) * outer / 400_000
    second = math.pi * (od**4 - (od - 2 * wall) ** 4) / 64
    part = elastic_recovery(Tubing(od, wall), radius, modulus, strength)
    assert part is not None
    assert moment / (part * modulus * second / radius) == pytest.approx(0.99998, abs=1e-5)
