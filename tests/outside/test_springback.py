"""Springback by elastic recovery beside textbook moments."""

from __future__ import annotations

import math

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
