"""Human errors: every figure and every reading that may have been meant."""

from __future__ import annotations

import pytest

from plumbend.measuring.human_errors import human_errors
from plumbend.measuring.lengths import Along, Down, Gap, Height, OffPlane, Tape
from plumbend.measuring.places import Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Below, Coordinate, Drop, InLine, Level, SymmetricPair
from plumbend.measuring.slips import Figure, slips
from plumbend.measuring.tapes import TAPES, TapeHabits
from plumbend.measuring.touched import Touched
from plumbend.units import Units

INCH = 25.4


def by_code(reading: Reading, units: Units = "in", od: float | None = None) -> dict[str, list[str]]:
    found: dict[str, list[str]] = {}
    for error in human_errors(reading, units, od):
        found.setdefault(error.code, []).append(error.words)
    return found


def test_a_height_in_inches() -> None:
    height = Height("A", value=43.375 * INCH, sd=1.0, habits=TapeHabits(hook_worn=0.5))
    assert by_code(height, od=1.75 * INCH) == {
        "inch": ["44-3/8 read an inch short", "42-3/8 read an inch long"],
        "ten-inches": ["53-3/8 read ten inches short", "33-3/8 read ten inches long"],
        "foot": ["55-3/8 read a foot short", "31-3/8 read a foot long"],
        "tape-line": ["42-3/8 read from the tape's 1-inch line (not taken off)"],
        "outside": [
            "44-1/4 read to the outside instead of the centre (half the OD)",
            "42-1/2 read to the outside instead of the centre (half the OD)",
            "45-1/8 read to the other side (a whole OD)",
            "41-5/8 read to the other side (a whole OD)",
        ],
        "digits-swapped": ["34-3/8 with the digits swapped"],
        "fraction": ["43-3/16 with 3/16 taken for 3/8", "43-5/8 with 5/8 taken for 3/8"],
        "feet-run-in": ["51-3/8 with feet and inches run together"],
        "unit": ["43.4 mm taken as inches"],
        "sign": ["-43-3/8 with above and below swapped"],
    }


def test_a_corrected_reading_is_the_reading_but_for_its_figure() -> None:
    height = Height("A", value=43.375 * INCH, sd=1.0, typed="A height 43-3/8")
    swapped = next(error for error in human_errors(height, "in") if error.code == "digits-swapped")
    assert swapped.corrected == Height("A", value=34.375 * INCH, sd=1.0, typed="A height 43-3/8")
    assert not swapped.elsewhere


def test_an_offset_in_mm() -> None:
    off = OffPlane("A", value=-873.0, sd=1.5)
    assert by_code(off, "mm", od=44.45) == {
        "10-mm": ["R 883 read 10 mm short", "R 863 read 10 mm long"],
        "100-mm": ["R 973 read 100 mm short", "R 773 read 100 mm long"],
        "metre": ["R 1873 read a metre short"],
        "tape-line": ["R 773 read from the tape's 10 cm line (not taken off)"],
        "outside": [
            "R 850.8 read to the outside instead of the centre (half the OD)",
            "R 895.2 read to the outside instead of the centre (half the OD)",
            "R 828.5 read to the other side (a whole OD)",
            "R 917.5 read to the other side (a whole OD)",
        ],
        "digits-swapped": ["R 783 with the digits swapped", "R 837 with the digits swapped"],
        "unit": ["R 873 in taken as mm"],
        "sign": ["L 873 with left and right swapped"],
    }


def test_a_drop() -> None:
    found = by_code(Drop("A", 12 * INCH, -21.5 * INCH, sd=1.5))
    assert found["coordinates-swapped"] == ["-21-1/2, L 12 with the two swapped"]
    assert found["digits-swapped"] == ["21 forward with the digits swapped", "R 12-1/2 with the digits swapped"]
    assert found["sign"] == ["-12 forward with forward and aft swapped", "L 21-1/2 with left and right swapped"]
    assert "tape-line" not in found
    swapped = next(error for error in human_errors(Drop("A", 1.0, 2.0, sd=1.5), "mm") if "swapped" in error.code)
    assert swapped.corrected == Drop("A", 2.0, 1.0, sd=1.5)


@pytest.mark.parametrize(
    ("inches", "code", "meant"),
    [
        (34.625, "fraction", ["34-5/16", "34-3/8"]),
        (34.1875, "fraction", ["34-3/8", "34-13/16"]),
        (34.5, "fraction", []),
        (34.0, "fraction", []),
        (34.38, "decimals", ["34-3/8"]),
        (5.316, "decimals", ["5-3/16"]),
        (34.3, "decimals", []),
        (16.0, "feet-run-in", ["18"]),
        (8.0, "feet-run-in", []),
        (20.5, "feet-run-in", []),
        (105.0, "digits-swapped", ["150"]),
        (33.5, "digits-swapped", []),
        (0.875, "digits-swapped", []),
        (0.875, "inch", ["1-7/8"]),
        (1016.0, "unit", ["1016 mm"]),
    ],
)
def test_figures_in_inches(inches: float, code: str, meant: list[str]) -> None:
    figure = Figure(inches * INCH, tape=TapeHabits())
    assert [slip.text for slip in slips(figure, "in") if slip.code == code] == meant


def test_a_tape_held_at_a_line_may_have_been_hooked_on() -> None:
    tape = Tape("A", "B1", value=41.0 * INCH, sd=1.2, habits=TapeHabits(read_from=INCH))
    assert by_code(tape)["tape-line"] == ["42 read from the end of the tape and not from its line at 1"]


def test_the_od_is_that_of_what_was_touched() -> None:
    touched = Touched("near side", 2 * INCH)
    tape = Tape("A", "B1", value=41.0 * INCH, sd=1.2, touched=touched, start_touched=Touched("top", INCH))
    outside = by_code(tape, od=1.75 * INCH)["outside"]
    assert [words.split()[0] for words in outside] == ["41-1/2", "40-1/2", "42", "40", "42", "40", "43", "39"]
    level = Level("A", "B", step=0.0, sd=1.0, other_touched=touched)
    assert [words.split()[0] for words in by_code(level)["outside"]] == ["1", "-1", "2", "-2"]


@pytest.mark.parametrize(
    ("reading", "sign"),
    [
        (Down("A", value=300.0, sd=1.0), "-300 with above and below swapped"),
        (Coordinate("A", "forward", 300.0, sd=1.0), "-300 with forward and aft swapped"),
        (Level("A", "B", step=300.0, sd=1.0), "-300 with higher and lower swapped"),
        (Gap("A", "S", (0.0, 0.0, 1.0), value=300.0, sd=1.0), "-300 with the two sides swapped"),
        (Along("A", "B1", "B2", value=300.0, sd=1.0), "-300 with the two sides swapped"),
    ],
)
def test_senses_that_may_have_been_mistaken(reading: Reading, sign: str) -> None:
    found = by_code(reading, "mm")
    assert found["sign"] == [sign]
    assert "coordinates-swapped" not in found
    assert ("tape-line" in found) == hasattr(reading, "habits")


def test_a_tape_has_no_sense_to_mistake_and_no_length_below_nothing() -> None:
    found = by_code(Tape("A", "B1", value=7 * INCH, sd=1.2, touched=Touched("far side", 13 * INCH)))
    assert "sign" not in found
    # 6-1/2 to the centre are taken off
    assert found["inch"] == ["8 read an inch short"]


def test_no_figure_is_meant_that_the_tape_does_not_reach() -> None:
    assert "unit" in by_code(Tape("A", "B1", value=873.0, sd=1.2), "mm")
    assert "unit" not in by_code(Tape("A", "B1", value=873.0, sd=1.2, habits=TapeHabits(limits=TAPES["US"])), "mm")


PLACES = [Place("B1", base=True), Place("B2", base=True), Place("A"), Place("B"), Place("C")]


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        (Height("A", value=1.0, sd=1.0), ["the height of B", "the height of C"]),
        (
            Tape("A", "B1", value=1.0, sd=1.0),
            ["a tape from B1 to B", "a tape from B1 to C", "a tape from B2 to A"],
        ),
        (Tape("A", "B", value=1.0, sd=1.0), ["a tape from B to C", "a tape from C to A"]),
        (Level("A", "B", sd=1.0), ["a level from B to C", "a level from C to A"]),
        (Below("A", "B", sd=1.0), ["C straight below B", "A straight below C"]),
        (InLine("A", "B1", "B2", sd=1.0), ["B in line with B1 and B2", "C in line with B1 and B2"]),
        (SymmetricPair("A", "B", sd=1.0), ["C and B as a pair", "A and C as a pair"]),
    ],
)
def test_another_place_may_have_been_meant(reading: Reading, words: list[str]) -> None:
    found = [error for error in human_errors(reading, "mm", places=PLACES) if error.code == "other-place"]
    assert [error.words for error in found] == words
    assert all(error.elsewhere for error in found)


def test_readings_without_a_figure_have_no_other_errors() -> None:
    assert by_code(Below("A", "B", sd=1.0), od=40.0) == {}
    assert set(by_code(Level("A", "B", sd=1.0), od=40.0)) == {"outside"}
