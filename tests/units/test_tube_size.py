"""Implausible tube sizes are asked back with the likely slip."""

from __future__ import annotations

import pytest

from plumbend.typed import parse_length
from plumbend.units import check_tube_size

INCH = 25.4


@pytest.mark.parametrize(
    ("od", "wall"),
    [
        (1.5 * INCH, 0.095 * INCH),
        (1.5 * INCH, None),
        (1.5 * INCH, 0.375 * INCH),
        (6.0, 1.5),
        (150.0, 37.5),
        (48.3, 2.6),
        (6.0, 0.5),
        (25.4, 0.028 * INCH),
    ],
)
def test_plausible_sizes_raise_no_question(od: float, wall: float | None) -> None:
    assert check_tube_size(od, wall) is None


def test_a_wall_of_just_a_quarter_passes_however_it_was_typed() -> None:
    assert check_tube_size(parse_length("1.9", "in"), parse_length("0.475", "in")) is None
    assert check_tube_size(parse_length("1-1/4", "in"), parse_length("5/16", "in")) is None
    # 0.34 in comes out one last binary digit over a quarter of 34.544 mm
    assert check_tube_size(parse_length("34.544 mm", "in"), parse_length("0.34", "in")) is None


@pytest.mark.parametrize(
    ("od", "wall", "question"),
    [
        (1.5, None, 'OD 1.5 mm (0.059 in) is small for a tube. Write "1.5 in" if that was meant.'),
        (1.2, None, 'OD 1.2 mm (0.047 in) is small for a tube. Write "1.2 in" or "1/2 in" if that was meant.'),
        (3.8, None, 'OD 3.8 mm (0.15 in) is small for a tube. Write "3.8 in" or "3/8 in" if that was meant.'),
        (5.99, None, "OD 5.99 mm (0.236 in) is small for a tube. Is the figure right?"),
        (5.5, None, 'OD 5.5 mm (0.217 in) is small for a tube. Write "5.5 in" if that was meant.'),
        (0.1, None, "OD 0.1 mm (0.004 in) is small for a tube. Is the figure right?"),
        (38 * INCH, None, 'OD 965.2 mm (38 in) is large for a tube. Write "38 mm" if that was meant.'),
        (38 * INCH, 2.0 * INCH, 'OD 965.2 mm (38 in) is large for a tube. Write "38 mm" if that was meant.'),
        (7.8 * INCH, None, 'OD 198.1 mm (7.8 in) is large for a tube. Write "7.8 mm" or "7/8 in" if that was meant.'),
        (
            15.16 * INCH,
            None,
            'OD 385.1 mm (15.16 in) is large for a tube. Write "15.16 mm" or "15/16 in" if that was meant.',
        ),
        (5000.0, None, "OD 5000 mm (196.85 in) is large for a tube. Is the figure right?"),
        (
            1.5 * INCH,
            2.4 * INCH,
            'Wall 61 mm (2.4 in) is over a quarter of the OD, 38.1 mm (1.5 in). Write "2.4 mm" if that was meant.',
        ),
        (
            1.5 * INCH,
            3.16 * INCH,
            (
                "Wall 80.3 mm (3.16 in) is over a quarter of the OD, 38.1 mm (1.5 in). "
                'Write "3.16 mm" or "3/16 in" if that was meant.'
            ),
        ),
        (38.1, 0.06, 'Wall 0.06 mm (0.002 in) is thin for a tube. Write "0.06 in" if that was meant.'),
        (38.1, 0.49, "Wall 0.49 mm (0.019 in) is thin for a tube. Is the figure right?"),
        (38.1, 0.2, 'Wall 0.2 mm (0.008 in) is thin for a tube. Write "0.2 in" if that was meant.'),
        (38.1, 0.01, "Wall 0.01 mm (0 in) is thin for a tube. Is the figure right?"),
        (
            38.1,
            12.0,
            "Wall 12 mm (0.472 in) is over a quarter of the OD, 38.1 mm (1.5 in). Is the figure right?",
        ),
    ],
)
def test_implausible_sizes_are_asked_back(od: float, wall: float | None, question: str) -> None:
    assert check_tube_size(od, wall) == question
