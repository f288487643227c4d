"""Every form of an angle and of a rotation that is read, and every refusal with its whole message."""

from __future__ import annotations

import math

import pytest

from plumbend.errors import BadText
from plumbend.typed import Typed, parse_angle, parse_turn

DEGREES = "Write degrees like 31.5 or 31-1/2."
TURNS = "Write degrees like 25, -30, 25 cw or 25 ccw."


@pytest.mark.parametrize(
    ("typed", "degrees"),
    [
        (31.5, 31.5),
        (90, 90.0),
        (400, 400.0),
        ("31.5", 31.5),
        ("31.5 deg", 31.5),
        ("31.5 DEG.", 31.5),
        ("1 degree", 1.0),
        ("31.5 degrees", 31.5),
        ("31.5°", 31.5),
        ("31.5 º", 31.5),
        ("31 1/2", 31.5),
        ("31-1/2°", 31.5),
        ("31½", 31.5),
        ("1/4", 0.25),
        ("-30", -30.0),
        ("\N{MINUS SIGN}30", -30.0),
        ("720", 720.0),
    ],
)
def test_an_angle_is_degrees_and_is_not_wrapped(typed: Typed, degrees: float) -> None:
    assert parse_angle(typed) == pytest.approx(math.radians(degrees), rel=1e-15)


@pytest.mark.parametrize(
    ("typed", "degrees"),
    [
        (25, 25.0),
        (-149.1, -149.1),
        ("25", 25.0),
        ("-30°", -30.0),
        ("25 cw", 25.0),
        ("25cw", 25.0),
        ("cw 25", 25.0),
        ("25 Clockwise", 25.0),
        ("25 ccw", -25.0),
        ("25° CCW", -25.0),
        ("ccw 25-1/2", -25.5),
        ("25 counter-clockwise", -25.0),
        ("25 counterclockwise", -25.0),
        ("25 counter clockwise", -25.0),
        ("25 counter\N{NON-BREAKING HYPHEN}clockwise", -25.0),
        ("25 anticlockwise", -25.0),
        ("anti-clockwise 25 deg", -25.0),
        (330, -30.0),
        ("200 ccw", 160.0),
        (540, 180.0),
        (360, 0.0),
    ],
)
def test_a_turn_is_clockwise_positive_and_wrapped(typed: Typed, degrees: float) -> None:
    assert parse_turn(typed) == pytest.approx(math.radians(degrees), rel=1e-14, abs=0.0)


@pytest.mark.parametrize("typed", [180, -180, "180 cw", "180 ccw", -540, "-180"])
def test_half_a_turn_either_way_is_plus_pi(typed: Typed) -> None:
    assert parse_turn(typed) == math.pi


@pytest.mark.parametrize("typed", [0, -0.0, "-0", "0 ccw", -360])
def test_no_turn_bears_no_sign(typed: Typed) -> None:
    assert math.copysign(1.0, parse_turn(typed)) == 1.0


@pytest.mark.parametrize("typed", [0, -0.0, "-0", "-0.0 deg"])
def test_no_angle_bears_no_sign(typed: Typed) -> None:
    assert math.copysign(1.0, parse_angle(typed)) == 1.0


def test_angles_read_a_decimal_comma_where_the_file_writes_it() -> None:
    assert parse_angle("31,5", decimal_comma=True) == math.radians(31.5)
    assert parse_turn("31,5 ccw", decimal_comma=True) == math.radians(-31.5)


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("", f'"" is empty. {DEGREES}'),
        ("steep", f'"steep" cannot be read as an angle. {DEGREES}'),
        ("31 5", f'"31 5" cannot be read as an angle. {DEGREES}'),
        ("31°30'", f'"31°30\'" cannot be read as an angle. {DEGREES}'),
        ("0.5 rad", f'"0.5 rad" cannot be read as an angle. {DEGREES}'),
        ("25 cw", f'"25 cw" cannot be read as an angle. {DEGREES}'),
        ("31,5", '"31,5" has a decimal comma. Write 31.5.'),
        (
            "31 1/3",
            (
                '"31 1/3" has a fraction in parts of 3, which no tape shows. '
                "Write halves, 4ths, 8ths, 16ths, 32nds or 64ths, or a decimal."
            ),
        ),
        (True, f'"true" is not a number. {DEGREES}'),
        (math.nan, f'"nan" is not a number that can be measured. {DEGREES}'),
    ],
)
def test_an_angle_that_cannot_be_read_is_refused(typed: Typed, message: str) -> None:
    with pytest.raises(BadText) as caught:
        parse_angle(typed)
    assert str(caught.value) == message


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("", f'"" is empty. {TURNS}'),
        ("cw", f'"cw" has no number. {TURNS}'),
        ("25 left", f'"25 left" cannot be read as an angle. {TURNS}'),
        ("-25 cw", '"-25 cw" has both a sign and a word for the direction. Write one of them.'),
        ("ccw +25", '"ccw +25" has both a sign and a word for the direction. Write one of them.'),
        ("cw 25 ccw", '"cw 25 ccw" has two words for the direction. Write one of them.'),
        ("25,5 cw", '"25,5 cw" has a decimal comma. Write 25.5 cw.'),
        (math.inf, f'"inf" is not a number that can be measured. {TURNS}'),
        (False, f'"false" is not a number. {TURNS}'),
    ],
)
def test_a_turn_that_cannot_be_read_is_refused(typed: Typed, message: str) -> None:
    with pytest.raises(BadText) as caught:
        parse_turn(typed)
    assert str(caught.value) == message
