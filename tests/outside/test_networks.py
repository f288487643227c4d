"""The adjustment of readings against worked examples of surveying.

Each figure names its source and how it was come by: read in a transcription, from memory, or computed from a closed
form. Examples are in metres: the arithmetic does not care. Printed figures must agree to half a unit of their last
digit. Sources print adjusted less observed; a residual here is measured less computed, the same with its sign turned.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from plumbend.measuring.adjustment import Adjusted, adjust
from plumbend.measuring.lengths import Tape
from plumbend.measuring.places import Place
from plumbend.measuring.relations import Level
from plumbend.measuring.remarks import remarks_on


def printed(figures: str) -> Any:
    """The figures, each to half a unit of its last printed digit."""
    words = figures.split()
    decimals = max(len(word.partition(".")[2]) for word in words)
    return pytest.approx(np.array(words, dtype=float), abs=0.5 * 10.0**-decimals * (1 + 1e-9), rel=0)


# levelling: Ghilani, Adjustment Computations, 5th ed., Example 12.6, in Krumm, Geodetic Network Adjustment Examples
# (2020), Example 2.1 (read in a transcription): a loop of six steps from one fixed height, in metres


@pytest.fixture(scope="module")
def levelling() -> Adjusted:
    steps = (
        ("1", "2", 10.509, 0.006),
        ("1", "3", 15.881, 0.012),
        ("2", "3", 5.360, 0.004),
        ("2", "4", -3.167, 0.004),
        ("3", "4", -8.523, 0.005),
        ("4", "1", -7.348, 0.003),
    )
    places = [Place("1", (0.0, 0.0, 437.596)), *(Place(name, (0.0, 0.0, None)) for name in "234")]
    return adjust(places, [Level(to, start, step, sd=sd) for start, to, step, sd in steps])


def test_levelling_heights(levelling: Adjusted) -> None:
    assert levelling.at[1:, 2] == printed("448.10871 453.46847 444.94361")


def test_levelling_scatter(levelling: Adjusted) -> None:
    assert levelling.dof == 3
    assert levelling.chi2 == printed("1.27212")
    assert levelling.scatter == printed("0.6512")


def test_levelling_standard_deviations_in_mm(levelling: Adjusted) -> None:
    assert 1000 * levelling.scatter * levelling.doubts[1:, 2] == printed("2.30 2.64 1.76")


def test_levelling_residuals_in_mm(levelling: Adjusted) -> None:
    assert -1000 * levelling.residuals == printed("3.71 -8.53 -0.24 1.89 -1.86 0.39")


def test_levelling_redundancy(levelling: Adjusted) -> None:
    """Computed from the closed form of the example's design: its six redundancy numbers."""
    assert levelling.redundancy == pytest.approx([0.6549, 0.8862, 0.3294, 0.4326, 0.5092, 0.1877], abs=1e-4)
    assert levelling.redundancy.sum() == pytest.approx(3)


def test_levelling_standardised(levelling: Adjusted) -> None:
    """Computed from the same; none passes 3.29, the two-sided limit at 0.1 % (Baarda 1968, from memory)."""
    assert -levelling.standardised == pytest.approx([0.764, -0.755, -0.106, 0.720, -0.522, 0.304], abs=1e-3)
    assert np.abs(levelling.standardised).max() < 3.29


# trilateration: Benning (2011), Example 8-2, in Krumm, Example 3.1.1 (read in a transcription): a braced square of
# five distances, two corners fixed, in metres


@pytest.fixture(scope="module")
def trilateration() -> Adjusted:
    tapes = (
        ("1", "3", 1000.02),
        ("1", "4", 1414.20),
        ("2", "3", 1414.24),
        ("2", "4", 999.98),
        ("3", "4", 1000.00),
    )
    places = [
        Place("1", (0.0, 1000.0, 0.0), base=True),
        Place("2", (1000.0, 1000.0, 0.0), base=True),
        Place("3", (None, None, 0.0), hints=("right",)),
        Place("4", (None, None, 0.0), hints=("right",)),
    ]
    return adjust(places, [Tape(to, start, value=value, sd=0.010) for start, to, value in tapes])


def test_trilateration_places(trilateration: Adjusted) -> None:
    assert trilateration.place("3")[:2] == printed("-0.0096 -0.0226")
    assert trilateration.place("4")[:2] == printed("999.9930 0.0174")


def test_trilateration_scatter_and_standard_deviations(trilateration: Adjusted) -> None:
    assert 1000 * trilateration.scatter * 0.010 == printed("6.88")  # of one distance, in mm
    in_cm = 100 * trilateration.scatter * trilateration.doubts[2:, :2]
    assert in_cm[0] == printed("0.901 0.637")
    assert in_cm[1] == printed("0.901 0.637")


def test_trilateration_residuals_in_cm(trilateration: Adjusted) -> None:
    assert -100 * trilateration.residuals == printed("0.260 -0.368 -0.368 0.260 0.260")


def test_trilateration_redundancy(trilateration: Adjusted) -> None:
    """Computed from the closed form: one distance too many, shared among all five."""
    assert trilateration.redundancy == pytest.approx([0.143, 0.286, 0.286, 0.143, 0.143], abs=1e-3)
    assert np.abs(trilateration.standardised) == pytest.approx(np.full(5, 0.688), abs=1e-3)


def test_one_wrong_distance_of_the_braced_square_cannot_be_located(trilateration: Adjusted) -> None:
    assert np.abs(trilateration.correlations) == pytest.approx(np.ones((5, 5)))
    assert trilateration.not_told_apart(0.999) == [trilateration.network.readings]
    assert [notice.text for notice in remarks_on(trilateration, "mm")] == [
        "These are checked only together, so a slip in one of them would be seen, but not in which: a tape from 1 to "
        "3, a tape from 1 to 4, a tape from 2 to 3, a tape from 2 to 4 and a tape from 3 to 4. One reading more of "
        "another kind would tell."
    ]


def test_wrong_steps_of_the_levelling_can_be_told_apart(levelling: Adjusted) -> None:
    assert levelling.not_told_apart() == []


# ranges in space: Norrdine, An Algebraic Solution to the Multilateration Problem (2012), Example B (data read in a
# transcription, least-squares point computed from them), in metres

STATIONS = (
    (27.297, -4.953, 1.47, 3.652),
    (20.693, -4.849, 1.93, 7.036),
    (22.590, 0.524, 1.20, 4.586),
    (17.113, -3.003, 2.17, 9.840),
    (22.554, 4.727, 1.77, 7.402),
    (22.447, -7.880, 1.60, 7.883),
)


def ranges(sd: float) -> Adjusted:
    bases = [Place(f"B{i}", (x, y, z), base=True) for i, (x, y, z, _) in enumerate(STATIONS, start=1)]
    tapes = [Tape("A", base.name, value=station[3], sd=sd) for base, station in zip(bases, STATIONS, strict=True)]
    return adjust([*bases, Place("A")], tapes)


def test_ranges_point() -> None:
    found = ranges(1.0)
    assert found.place("A") == pytest.approx([26.7840, -1.3287, 1.4526], abs=1e-4)
    assert found.chi2 == pytest.approx(0.0010292, abs=5e-8)


def test_ranges_leave_the_height_weak() -> None:
    """The standard deviations for ranges good to one unit; the stations are almost level, the height all but free."""
    assert ranges(1.0).doubts[6] == pytest.approx([0.660, 0.626, 9.93], abs=1e-2)


def test_the_weak_height_is_said_with_the_reading_that_mends_it() -> None:
    (weak,) = (notice for notice in remarks_on(ranges(1.0), "mm") if notice.code == "weak-place")
    assert weak.text == (
        "A is good to 20 mm up or down, but to 1 mm the other ways: all that was read of it runs nearly square to "
        "that. Measure the height of A as well."
    )


# plane triangle: Mikhail and Ackermann, Observations and Least Squares, Example 7.1 (read in a transcription) closes
# by three equal corrections; levels round a loop share a misclosure by the same rule


def test_a_misclosure_is_shared_by_equals() -> None:
    places = [Place("1", (0.0, 0.0, 0.0)), Place("2", (0.0, 0.0, None)), Place("3", (0.0, 0.0, None))]
    steps = (("1", "2", 40 + 19 / 60 + 2 / 3600), ("2", "3", 70 + 30 / 60 + 1 / 3600), ("3", "1", 69 + 11 / 60 - 180))
    found = adjust(places, [Level(to, start, step, sd=1.0) for start, to, step in steps])
    assert -3600 * found.residuals == pytest.approx([-1.0, -1.0, -1.0], abs=1e-6)
    assert math.isclose(found.chi2 * 3600**2, 3.0, rel_tol=1e-6)
