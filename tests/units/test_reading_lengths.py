"""Every form of a length and of a place that is read, and every refusal with its whole message."""

from __future__ import annotations

import math

import pytest

from plumbend.errors import BadText
from plumbend.typed import Typed, parse_length, parse_place
from plumbend.units import Axis, Units

FORMS = "Write a length like 34.5, 34-3/8, 3' 4-1/2 or 876 mm."


def refusal(typed: Typed, units: Units = "in", decimal_comma: bool = False) -> str:
    with pytest.raises(BadText) as caught:
        parse_length(typed, units, decimal_comma=decimal_comma)
    return str(caught.value)


@pytest.mark.parametrize(
    ("typed", "inches"),
    [
        ("40-5/8", 40.625),
        ("40 5/8", 40.625),
        ("40 - 5/8", 40.625),
        ("40-5/8 in", 40.625),
        ('40-5/8"', 40.625),
        ("5/16", 0.3125),
        ("5 / 16", 0.3125),
        ("63/64", 0.984375),
        ("8/16", 0.5),
        ("3' 4-1/2", 40.5),
        ("3'-4 1/2\"", 40.5),
        ("3' - 4 1/2\"", 40.5),
        ("3'4-1/2\"", 40.5),
        ("3ft 4 1/2", 40.5),
        ("3 ft. 4 1/2 in.", 40.5),
        ("3 feet 4 inches", 40.0),
        ("1 foot 1/2 inch", 12.5),
        ("3' 0", 36.0),
        ("3' 11.75", 47.75),
        ("3'", 36.0),
        ("2.5 ft", 30.0),
        ('16"', 16.0),
        ("16''", 16.0),
        ("16 in", 16.0),
        ("16 IN.", 16.0),
        ("1 inch", 1.0),
        ("0.095 in", 0.095),
        ("-12-1/2", -12.5),
        ("- 12 1/2", -12.5),
        ("+3/8", 0.375),
        ("-3/16", -0.1875),
        ("-3' 4-1/2", -40.5),
        ("  40   5/8  ", 40.625),
    ],
)
@pytest.mark.parametrize("units", ["in", "mm"])
def test_text_that_says_inches_or_has_a_fraction_is_inches_in_any_file(typed: str, inches: float, units: Units) -> None:
    assert parse_length(typed, units) == pytest.approx(inches * 25.4, rel=1e-15)


@pytest.mark.parametrize(
    ("typed", "mm"),
    [("1016 mm", 1016.0), ("1016mm", 1016.0), ("101.6 cm", 1016.0), ("1.2 m", 1200.0), ("-.5 MM", -0.5)],
)
@pytest.mark.parametrize("units", ["in", "mm"])
def test_text_that_says_a_metric_unit_is_metric_in_any_file(typed: str, mm: float, units: Units) -> None:
    assert parse_length(typed, units) == pytest.approx(mm, rel=1e-15)


@pytest.mark.parametrize(
    ("typed", "value"),
    [(14, 14.0), (12.5, 12.5), (-3, -3.0), ("1016", 1016.0), ("34.5", 34.5), (".095", 0.095), ("+7", 7.0)],
)
def test_a_bare_number_is_in_the_units_of_its_file(typed: Typed, value: float) -> None:
    assert parse_length(typed, "mm") == value
    assert parse_length(typed, "in") == pytest.approx(value * 25.4, rel=1e-15)


@pytest.mark.parametrize("typed", [0, -0.0, "0", "-0", "-0 mm", "-0'"])
def test_nought_bears_no_sign(typed: Typed) -> None:
    assert math.copysign(1.0, parse_length(typed, "in")) == 1.0


@pytest.mark.parametrize(
    ("typed", "plain"),
    [
        ("34½", "34-1/2"),
        ("34 ⅝", "34-5/8"),
        ("34-⅜", "34-3/8"),
        ("¼", "1/4"),
        ("⅟16", "1/16"),
        ("34 3\N{FRACTION SLASH}8", "34-3/8"),
        ("34⁵\N{FRACTION SLASH}₈", "34-5/8"),
        ("34 ³\N{FRACTION SLASH}₁₆", "34-3/16"),
        ("34 3\N{DIVISION SLASH}8", "34-3/8"),
        ("34\N{NO-BREAK SPACE}3/8", "34-3/8"),
        ("34\N{THIN SPACE}3/8", "34-3/8"),
        ("34\N{NARROW NO-BREAK SPACE}3/8", "34-3/8"),
        ("34\N{HAIR SPACE}3/8\N{ZERO WIDTH SPACE}", "34-3/8"),
        ("\N{ZERO WIDTH NO-BREAK SPACE}34 3/8", "34-3/8"),
        ("34\t3/8", "34-3/8"),
        ("34\N{HYPHEN}3/8", "34-3/8"),
        ("34\N{NON-BREAKING HYPHEN}3/8", "34-3/8"),
        ("34\N{EN DASH}3/8", "34-3/8"),
        ("34 \N{EM DASH} 3/8", "34-3/8"),
        ("\N{MINUS SIGN}12-1/2", "-12-1/2"),
        ("\N{EN DASH}12-1/2", "-12-1/2"),
        ("3\N{PRIME} 4-1/2\N{DOUBLE PRIME}", "3' 4-1/2"),
        ("3\N{RIGHT SINGLE QUOTATION MARK} 4½”", "3' 4-1/2"),
        ("3\N{LEFT SINGLE QUOTATION MARK} 4½“", "3' 4-1/2"),
        ("3\N{ACUTE ACCENT} 4½\N{ACUTE ACCENT}\N{ACUTE ACCENT}", "3' 4-1/2"),
        ("3\N{PRIME} 4½\N{PRIME}\N{PRIME}", "3' 4-1/2"),
        ("16„", '16"'),
        ("34.5 mm", "34.5 mm"),
    ],
)
def test_what_phones_and_word_processors_type_reads_as_its_plain_form(typed: str, plain: str) -> None:
    assert parse_length(typed, "mm") == parse_length(plain, "mm")


@pytest.mark.parametrize(
    ("typed", "mm"),
    [("1016,5", 1016.5), ("-0,5", -0.5), ("1,016", 1.016), ("101,6 cm", 1016.0), ("34.5", 34.5), ("7", 7.0)],
)
def test_a_decimal_comma_is_read_where_the_file_writes_it(typed: str, mm: float) -> None:
    assert parse_length(typed, "mm", decimal_comma=True) == pytest.approx(mm, rel=1e-15)


MORE_THAN_ONE_WAY = "can be read in more than one way"
WHOLE_TAPE = "Write halves, 4ths, 8ths, 16ths, 32nds or 64ths, or a decimal."


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("", f'"" is empty. {FORMS}'),
        (" \N{NO-BREAK SPACE}", f'" \N{NO-BREAK SPACE}" is empty. {FORMS}'),
        ("abc", f'"abc" cannot be read as a length. {FORMS}'),
        ("nan", f'"nan" cannot be read as a length. {FORMS}'),
        ("inf", f'"inf" cannot be read as a length. {FORMS}'),
        ("1e3", f'"1e3" cannot be read as a length. {FORMS}'),
        ("--5", f'"--5" cannot be read as a length. {FORMS}'),
        ("5-", f'"5-" cannot be read as a length. {FORMS}'),
        ("5.", f'"5." cannot be read as a length. {FORMS}'),
        ("3'-", f'"3\'-" cannot be read as a length. {FORMS}'),
        ("3/8/4", f'"3/8/4" cannot be read as a length. {FORMS}'),
        ("1 016 mm", f'"1 016 mm" cannot be read as a length. {FORMS}'),
        ("1234567890123", f'"1234567890123" cannot be read as a length. {FORMS}'),
        ("٣", f'"٣" cannot be read as a length. {FORMS}'),
        ("5 3 8", f'"5 3 8" {MORE_THAN_ONE_WAY}. Write 5-3/8 or 5.375.'),
        ("5-3-8", f'"5-3-8" {MORE_THAN_ONE_WAY}. Write 5-3/8 or 5.375.'),
        ("5.3/8", f'"5.3/8" {MORE_THAN_ONE_WAY}. Write 5-3/8 or 5.375.'),
        ("5 3.8", f'"5 3.8" {MORE_THAN_ONE_WAY}. Write 5-3/8 or 5.375.'),
        ("-5 3 8", f'"-5 3 8" {MORE_THAN_ONE_WAY}. Write -5-3/8 or -5.375.'),
        ("40 5 64", f'"40 5 64" {MORE_THAN_ONE_WAY}. Write 40-5/64 or 40.078125.'),
        ("3.8/4", f'"3.8/4" {MORE_THAN_ONE_WAY}. {FORMS}'),
        ("2-9-7", f'"2-9-7" {MORE_THAN_ONE_WAY}. {FORMS}'),
        ("3 8", f'"3 8" {MORE_THAN_ONE_WAY}. Write 3/8, 3.8 or 3\' 8.'),
        ("3-8", f'"3-8" {MORE_THAN_ONE_WAY}. Write 3/8, 3.8 or 3\' 8.'),
        ("12 5", f'"12 5" {MORE_THAN_ONE_WAY}. Write 12.5 or 12\' 5.'),
        ("3 12", f'"3 12" {MORE_THAN_ONE_WAY}. Write 3.12.'),
        ("12 75", f'"12 75" {MORE_THAN_ONE_WAY}. Write 12.75.'),
        ("1 016", f'"1 016" {MORE_THAN_ONE_WAY}. Write 1.016 or 1016.'),
        ("10²", f'"10²" {MORE_THAN_ONE_WAY}. Write 10.2 or 10\' 2.'),
        ("1,016", f'"1,016" {MORE_THAN_ONE_WAY}. Write 1016 or 1.016.'),
        ("1,016 mm", f'"1,016 mm" {MORE_THAN_ONE_WAY}. Write 1016 mm or 1.016 mm.'),
        ("1016,5", '"1016,5" has a decimal comma. Write 1016.5.'),
        ("20,5 mm", '"20,5 mm" has a decimal comma. Write 20.5 mm.'),
        ("1.016,5", '"1.016,5" has both a point and a comma. Write the number without a thousands mark.'),
        ("1,2,3", f'"1,2,3" has a comma out of place. {FORMS}'),
        ("5, 3", f'"5, 3" has a comma out of place. {FORMS}'),
        (
            "3' 14",
            (
                '"3\' 14" has 12 inches or more after the feet. '
                "Write less than 12 inches after the feet, or inches alone."
            ),
        ),
        (
            "3' 12",
            (
                '"3\' 12" has 12 inches or more after the feet. '
                "Write less than 12 inches after the feet, or inches alone."
            ),
        ),
        (
            "3.5' 4",
            ('"3.5\' 4" has part of a foot and inches as well. Write whole feet before the inches, or feet alone.'),
        ),
        (
            "17/16",
            (
                '"17/16" has a fraction that is not less than one. '
                "Write 1-1/16, or put the lost dash back (11/2 may be 1-1/2)."
            ),
        ),
        (
            "-11/2",
            (
                '"-11/2" has a fraction that is not less than one. '
                "Write -5-1/2, or put the lost dash back (11/2 may be 1-1/2)."
            ),
        ),
        (
            "5-16/16",
            (
                '"5-16/16" has a fraction that is not less than one. '
                "Write 6, or put the lost dash back (11/2 may be 1-1/2)."
            ),
        ),
        ("5/10", f'"5/10" has a fraction in parts of 10, which no tape shows. {WHOLE_TAPE}'),
        ("5⅓", f'"5⅓" has a fraction in parts of 3, which no tape shows. {WHOLE_TAPE}'),
        ("1/0", f'"1/0" has a fraction in parts of 0, which no tape shows. {WHOLE_TAPE}'),
        ("1/128", f'"1/128" has a fraction in parts of 128, which no tape shows. {WHOLE_TAPE}'),
        ("1/2 mm", '"1/2 mm" has a fraction of mm, and fractions are inches. Write 0.5 mm.'),
        ("-3-1/2 ft", '"-3-1/2 ft" has a fraction of ft, and fractions are inches. Write -3.5 ft.'),
        ("1/2'", '"1/2\'" has a fraction of ft, and fractions are inches. Write 0.5 ft.'),
        ("5 yd", '"5 yd" has a unit "yd" that is not known. Write in, ft, mm, cm or m.'),
        ("1/2 yd", '"1/2 yd" has a unit "yd" that is not known. Write in, ft, mm, cm or m.'),
        ("2000 m", '"2000 m" is over a kilometre. Check the figure and its unit.'),
        (1e300, '"1e+300" is over a kilometre. Check the figure and its unit.'),
        (True, f'"true" is not a number. {FORMS}'),
        (False, f'"false" is not a number. {FORMS}'),
        (math.nan, f'"nan" is not a number that can be measured. {FORMS}'),
        (-math.inf, f'"-inf" is not a number that can be measured. {FORMS}'),
        (10**400, f'"1{"0" * 400}" is not a number that can be measured. {FORMS}'),
    ],
)
def test_a_length_that_cannot_be_read_in_one_way_is_refused(typed: Typed, message: str) -> None:
    assert refusal(typed) == message


@pytest.mark.parametrize(
    ("typed", "message"),
    [
        ("1.016", f'"1.016" {MORE_THAN_ONE_WAY}. Write 1016 or 1,016.'),
        ("1.016,5", '"1.016,5" has both a point and a comma. Write the number without a thousands mark.'),
        ("1,2,3", f'"1,2,3" has a comma out of place. {FORMS}'),
    ],
)
def test_a_thousands_mark_is_asked_back_where_the_file_writes_a_decimal_comma(typed: str, message: str) -> None:
    assert refusal(typed, "mm", decimal_comma=True) == message


@pytest.mark.parametrize(
    ("axis", "typed", "inches"),
    [
        ("left", "L 12-1/2", 12.5),
        ("left", "l12-1/2", 12.5),
        ("left", "12-1/2 L", 12.5),
        ("left", "12.5L", 12.5),
        ("left", "Left 3' 4", 40.0),
        ("left", "R 3/4", -0.75),
        ("left", "¾ right", -0.75),
        ("left", 'RIGHT 16"', -16.0),
        ("left", "R 25.4 mm", -1.0),
        ("left", "R 0", 0.0),
        ("left", "-12.5", -12.5),
        ("left", 12.5, 12.5),
        ("forward", "fwd 20", 20.0),
        ("forward", "20 Forward", 20.0),
        ("forward", "aft 7-1/2", -7.5),
        ("forward", "7-1/2 rear", -7.5),
        ("forward", "-7-1/2", -7.5),
        ("up", "up 34 3/8", 34.375),
        ("up", "34 3/8 UP", 34.375),
        ("up", "Down 2", -2.0),
        ("up", -2, -2.0),
    ],
)
def test_a_word_spares_a_place_its_sign(axis: Axis, typed: Typed, inches: float) -> None:
    place = parse_place(typed, "in", axis)
    assert place == pytest.approx(inches * 25.4, rel=1e-15)
    assert place != 0.0 or math.copysign(1.0, place) == 1.0


def test_a_place_reads_a_decimal_comma_where_the_file_writes_it() -> None:
    assert parse_place("R 12,5", "mm", "left", decimal_comma=True) == -12.5


@pytest.mark.parametrize(
    ("axis", "typed", "message"),
    [
        (
            "left",
            "up 5",
            (
                '"up 5" says up or down where left or right is measured. '
                "Write left or right, or a plain number (left is +)."
            ),
        ),
        (
            "up",
            "5 L",
            ('"5 L" says left or right where up or down is measured. Write up or down, or a plain number (up is +).'),
        ),
        (
            "forward",
            "down 5",
            (
                '"down 5" says up or down where forward or aft is measured. '
                "Write forward or aft, or a plain number (forward is +)."
            ),
        ),
        ("left", "L -5", '"L -5" has both a sign and a word for the direction. Write one of them.'),
        ("left", "+5 R", '"+5 R" has both a sign and a word for the direction. Write one of them.'),
        ("left", "L 5 R", '"L 5 R" has two words for the direction. Write one of them.'),
        ("left", "L", f'"L" has no number. {FORMS}'),
        ("left", "L 5 3 8", '"L 5 3 8" can be read in more than one way. Write 5-3/8 or 5.375.'),
        ("left", "L 12,5", '"L 12,5" has a decimal comma. Write L 12.5.'),
        ("left", "port 5", f'"port 5" cannot be read as a length. {FORMS}'),
        ("forward", "5 fwds", '"5 fwds" has a unit "fwds" that is not known. Write in, ft, mm, cm or m.'),
        ("up", True, f'"true" is not a number. {FORMS}'),
    ],
)
def test_a_place_that_cannot_be_read_is_refused(axis: Axis, typed: Typed, message: str) -> None:
    with pytest.raises(BadText) as caught:
        parse_place(typed, "in", axis)
    assert str(caught.value) == message


def test_the_refusal_keeps_the_text_as_it_was_typed() -> None:
    with pytest.raises(BadText) as caught:
        parse_length(" 5\N{THIN SPACE}3 8 ", "in")
    assert caught.value.typed == " 5\N{THIN SPACE}3 8 "
    assert caught.value.why == "can be read in more than one way"
    assert caught.value.mend == "Write 5-3/8 or 5.375."
