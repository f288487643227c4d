"""Tapes against what the law and the guide to uncertainty say of them.

Each figure names its source and how it was come by: read in the source, in a quotation, from memory, or computed.
"""

from __future__ import annotations

import math

import pytest

from plumbend.errors import BadValue
from plumbend.measuring.accuracies import sd_from_division, sd_from_limit
from plumbend.measuring.tapes import TAPES, TapeClass, TapeHabits
from plumbend.units import MM_PER_INCH

FOOT = 12 * MM_PER_INCH

# Directive 2014/32/EU, Annex X (read in the United Kingdom's SI 2016/1153, Schedule 1I)


def test_classes_are_those_of_the_directive() -> None:
    assert {name: TAPES[name] for name in ("I", "II", "III")} == {
        "I": TapeClass(0.1, 0.1, 0.1),
        "II": TapeClass(0.3, 0.2, 0.2),
        "III": TapeClass(0.6, 0.4, 0.3),
    }


@pytest.mark.parametrize(("metres", "limit"), [(0.3, 0.5), (1, 0.5), (1.2, 0.7), (2, 0.7), (3, 0.9), (5, 1.3)], ids=str)
def test_class_ii_rounds_the_length_up_to_whole_metres(metres: float, limit: float) -> None:
    """Computed from the directive's rule."""
    assert TAPES["II"].limit(1000 * metres) == pytest.approx(limit, abs=1e-12)


@pytest.mark.parametrize(("name", "limit"), [("I", 0.4), ("III", 1.8)])
def test_classes_i_and_iii_at_three_metres(name: str, limit: float) -> None:
    """Computed from the directive's rule."""
    assert TAPES[name].limit(3000) == pytest.approx(limit, abs=1e-12)


def test_the_end_of_the_tape_adds_its_own() -> None:
    assert TAPES["II"].limit(3000, from_end=True) == pytest.approx(0.9 + 0.2, abs=1e-12)


# NIST Handbook 44, section 5.52 (read as quoted in a guide to building tolerances)


@pytest.mark.parametrize(
    ("feet", "limit_mm"), [(1, "0.79"), (6, "0.79"), (7, "1.59"), (30, "1.59"), (31, "3.175"), (55, "3.175")]
)
def test_tolerance_of_the_united_states(feet: float, limit_mm: str) -> None:
    """1/32, 1/16 and 1/8 inch; the last is printed as 3.17, cut off rather than rounded."""
    decimals = len(limit_mm.partition(".")[2])
    assert TAPES["US"].limit(feet * FOOT) == pytest.approx(float(limit_mm), abs=0.5 * 10.0**-decimals * (1 + 1e-9))


def test_beyond_the_handbook_there_is_no_limit() -> None:
    with pytest.raises(
        BadValue,
        match=r"^A tape of this kind has no limit for 18288 mm: it ends at 16764 mm\. Measure in two parts\.$",
    ):
        TAPES["US"].limit(60 * FOOT)


# JCGM 100:2008, 4.3.7: an error equally likely anywhere within +-h has a standard deviation of h / sqrt 3 (computed)


@pytest.mark.parametrize(
    ("division", "sd"), [(MM_PER_INCH / 16, 0.458), (1.0, 0.289)], ids=["a sixteenth", "a millimetre"]
)
def test_reading_to_a_division(division: float, sd: float) -> None:
    assert sd_from_division(division) == pytest.approx(sd, abs=1e-3)
    assert TapeHabits(division=division).sd(500.0, 0.0) == pytest.approx(sd, abs=1e-3)


def test_reading_an_angle_to_a_degree() -> None:
    assert math.degrees(sd_from_division(math.radians(1.0))) == pytest.approx(0.289, abs=1e-3)


def test_a_limit_is_taken_as_equally_likely_within() -> None:
    """Class II over 1.2 m: 0.7 mm, so 0.404 mm; the 100 mm line at the start spares the end's own."""
    assert sd_from_limit(0.7) == pytest.approx(0.404, abs=1e-3)
    assert TapeHabits(read_from=100.0, limits=TAPES["II"]).sd(1200.0, 0.0) == pytest.approx(0.404, abs=1e-3)


def test_a_warm_steel_tape_reads_short() -> None:
    """10 degrees off over 2 m: 0.232 mm (11.6e-6 per degree, surveying texts, from memory)."""
    assert TapeHabits(warmer=10.0).length(2000.0) - 2000.0 == pytest.approx(0.232, abs=1e-3)
    assert 2000.0 - TapeHabits(warmer=-10.0).length(2000.0) == pytest.approx(0.232, abs=1e-3)
