"""Numbers rounded to what is known of them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from plumbend.typed import parse_length
from plumbend.units import Units
from plumbend_cli.known import known_angle, known_length

INCH = 25.4


@pytest.mark.parametrize(
    ("inches", "sd", "value", "within"),
    [
        (13.63, 0.001, "13-5/8", "1/16"),
        (13.63, 0.0625, "13-5/8", "1/8"),
        (13.70, 0.30, "13-11/16", "5/8"),
        (13.70, 0.51, "13-3/4", "1-1/8"),
        (13.70, 3.0, "13-3/4", "6"),
        (-0.01, 0.03, "0", "1/16"),
    ],
)
def test_inches(inches: float, sd: float, value: str, within: str) -> None:
    assert known_length(inches * INCH, sd * INCH, "in") == (value, within)


@pytest.mark.parametrize(
    ("mm", "sd", "value", "within"),
    [
        (392.04, 0.0, "392.0", "0.1"),
        (392.04, 0.21, "392.0", "0.5"),
        (392.16, 1.2, "392.0", "2.5"),
        (392.16, 0.6, "392.2", "1.2"),
        (392.6, 4.6, "393", "10"),
        (392.6, 11.0, "395", "25"),
    ],
)
def test_millimetres(mm: float, sd: float, value: str, within: str) -> None:
    assert known_length(mm, sd, "mm") == (value, within)


@pytest.mark.parametrize(
    ("degrees", "sd", "value", "within"),
    [(31.53, 0.21, "31.5", "0.5"), (31.53, 1.2, "31.5", "2.5"), (31.53, 4.0, "32", "8"), (-0.01, 0.1, "0.0", "0.2")],
)
def test_degrees(degrees: float, sd: float, value: str, within: str) -> None:
    assert known_angle(math.radians(degrees), math.radians(sd)) == (value, within)


@pytest.mark.parametrize("sd", [1e9, math.inf])
def test_a_within_beyond_any_size_is_still_written(sd: float) -> None:
    assert known_length(392.6, sd, "mm") == ("395", "1000000")
    assert known_angle(math.radians(31.53), sd) == ("32", "180")


@given(
    mm=st.floats(-5000, 5000),
    sd=st.floats(0, 100),
    units=st.sampled_from(["in", "mm"]),
)
def test_the_within_is_never_too_small_and_rounding_stays_well_inside_it(mm: float, sd: float, units: Units) -> None:
    known = known_length(mm, sd, units)
    assert parse_length(known.within, units) >= 2 * sd - 1e-6
    finest = INCH / 32 if units == "in" else 0.05
    assert abs(parse_length(known.value, units) - mm) <= max(finest, 0.17 * 2 * sd) + 1e-6
