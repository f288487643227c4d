"""Lengths, places and angles back to text, and what reading makes of that text again."""

from __future__ import annotations

import math
import re
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.errors import BadText, BadValue
from plumbend.typed import parse_angle, parse_length, parse_place, parse_turn
from plumbend.units import (
    Axis,
    Units,
    format_angle,
    format_length,
    format_place,
    length_with_unit,
    stated_gap,
    stated_length,
)


@pytest.mark.parametrize(
    ("inches", "parts", "text"),
    [
        (34.375, 16, "34-3/8"),
        (0.3125, 16, "5/16"),
        (-0.1875, 16, "-3/16"),
        (-12.5, 16, "-12-1/2"),
        (0.0, 16, "0"),
        (12.0, 16, "12"),
        (0.99, 16, "1"),
        (11.97, 16, "12"),
        (11.97, 32, "11-31/32"),
        (-0.99, 16, "-1"),
        (-0.01, 16, "0"),
        (0.01, 32, "0"),
        (5 + 3 / 32, 32, "5-3/32"),
        (5 + 2 / 32, 32, "5-1/16"),
    ],
)
def test_inches_are_written_to_the_nearest_mark_of_the_tape(inches: float, parts: int, text: str) -> None:
    assert format_length(inches * 25.4, "in", parts) == text


@pytest.mark.parametrize(
    ("mm", "decimals", "text"),
    [
        (873.125, 0, "873"),
        (873.125, 1, "873.1"),
        (-873.125, 1, "-873.1"),
        (-0.4, 0, "0"),
        (-0.04, 1, "0.0"),
        (0, 0, "0"),
    ],
)
def test_mm_are_written_to_the_places_asked(mm: float, decimals: int, text: str) -> None:
    assert format_length(mm, "mm", decimals=decimals) == text


@pytest.mark.parametrize(
    ("mm", "units", "axis", "text"),
    [
        (317.5, "in", "left", "L 12-1/2"),
        (-19.05, "in", "left", "R 3/4"),
        (-0.1, "in", "left", "0"),
        (-19.05, "in", "up", "-3/4"),
        (19.05, "in", "forward", "3/4"),
        (317.5, "mm", "left", "L 318"),
        (-19.05, "mm", "left", "R 19"),
        (0.2, "mm", "left", "0"),
    ],
)
def test_a_place_is_written_with_its_side(mm: float, units: Units, axis: Axis, text: str) -> None:
    assert format_place(mm, units, axis) == text


def test_a_place_is_written_to_the_step_asked() -> None:
    assert format_place(-2.38125, "in", "left", parts=32) == "R 3/32"
    assert format_place(-0.04, "mm", "left", decimals=1) == "0.0"
    assert format_place(-19.05, "mm", "left", decimals=2) == "R 19.05"


def test_a_length_is_written_with_its_unit() -> None:
    assert length_with_unit(873.125, "in") == "34-3/8 in"
    assert length_with_unit(873.125, "mm") == "873 mm"
    assert length_with_unit(873.125, "mm", decimals=1) == "873.1 mm"
    assert length_with_unit(2.38125, "in", parts=32) == "3/32 in"


def test_a_size_is_stated_to_the_last_digit_and_next_to_nothing_is_a_hair() -> None:
    assert [stated_length(mm, "mm") for mm in (44.45, 8.9999, 60, -0.004)] == ["44.45 mm", "9 mm", "60 mm", "0 mm"]
    assert [stated_length(mm, "in") for mm in (44.45, 2.38125, 0.3)] == ["1-3/4 in", "3/32 in", "0 in"]
    assert [stated_gap(mm, "mm") for mm in (44.45, 0.004)] == ["44.45 mm", "a hair"]
    assert [stated_gap(mm, "in") for mm in (44.45, 0.3)] == ["1-3/4 in", "a hair"]


@pytest.mark.parametrize(
    ("degrees", "decimals", "text"),
    [(31.5, 1, "31.5"), (-149.14, 1, "-149.1"), (-0.04, 1, "0.0"), (31.46, 0, "31"), (-0.2, 0, "0")],
)
def test_an_angle_is_written_as_degrees(degrees: float, decimals: int, text: str) -> None:
    assert format_angle(math.radians(degrees), decimals) == text


def test_what_cannot_be_written_is_refused() -> None:
    with pytest.raises(BadValue) as caught:
        format_length(math.nan, "mm")
    assert str(caught.value) == "A length of nan cannot be written."
    with pytest.raises(BadValue) as caught:
        format_length(25.4, "in", parts=10)
    assert str(caught.value) == "Inches are written in parts of 2, 4, 8, 16, 32 or 64, not 10."
    with pytest.raises(BadValue) as caught:
        format_angle(math.inf)
    assert str(caught.value) == "An angle of inf cannot be written."


# properties

fixed = settings(derandomize=True, deadline=None)  # the same cases in every run, on any machine

lengths = st.floats(min_value=-20_000, max_value=20_000)
tapes = st.sampled_from([16, 32])
axes = st.sampled_from(["forward", "left", "up"])
ROUNDING = 1 + 1e-9  # a length just half-way between two marks


@fixed
@given(lengths, tapes)
def test_written_inches_read_back_within_half_a_mark(mm: float, parts: int) -> None:
    back = parse_length(format_length(mm, "in", parts), "in")
    assert abs(back - mm) <= 25.4 / parts / 2 * ROUNDING


@fixed
@given(lengths, st.sampled_from([0, 1, 2]))
def test_written_mm_read_back_within_half_a_step(mm: float, decimals: int) -> None:
    back = parse_length(format_length(mm, "mm", decimals=decimals), "mm")
    assert abs(back - mm) <= 0.5 * 10.0**-decimals * ROUNDING


@fixed
@given(lengths, tapes, axes)
def test_written_places_read_back_within_half_a_mark(mm: float, parts: int, axis: Axis) -> None:
    back = parse_place(format_place(mm, "in", axis, parts), "in", axis)
    assert abs(back - mm) <= 25.4 / parts / 2 * ROUNDING


@fixed
@given(lengths, tapes, st.sampled_from(["in", "mm"]), st.sampled_from(["in", "mm"]))
def test_a_length_with_its_unit_reads_alike_in_any_file(mm: float, parts: int, units: Units, file_units: Units) -> None:
    back = parse_length(length_with_unit(mm, units, parts), file_units)
    assert abs(back - mm) <= (25.4 / parts if units == "in" else 1.0) / 2 * ROUNDING


@fixed
@given(st.integers(-10_000, 10_000), tapes)
def test_a_mark_of_the_tape_comes_back_as_the_same_mark(steps: int, parts: int) -> None:
    text = format_length(steps * 25.4 / parts, "in", parts)
    assert format_length(parse_length(text, "in"), "in", parts) == text
    assert parse_length(text, "in") == pytest.approx(steps * 25.4 / parts, rel=1e-14)


@fixed
@given(lengths, tapes)
def test_a_fraction_is_proper_and_in_lowest_terms_and_nought_has_no_sign(mm: float, parts: int) -> None:
    text = format_length(mm, "in", parts)
    assert text != "-0"
    assert re.fullmatch(r"0|-?(?:[1-9][0-9]*(?:-[0-9]+/[0-9]+)?|[0-9]+/[0-9]+)", text)
    if fraction := re.search(r"([0-9]+)/([0-9]+)", text):
        top, bottom = map(int, fraction.groups())
        assert 0 < top < bottom
        assert top % 2 == 1
        assert bottom in (2, 4, 8, 16, 32)


@fixed
@given(st.floats(min_value=-1, max_value=1), st.sampled_from([0, 1]))
def test_small_mm_and_angles_never_show_a_signed_nought(value: float, decimals: int) -> None:
    for text in (format_length(value, "mm", decimals=decimals), format_angle(value / 60, decimals)):
        assert not re.fullmatch(r"-0(?:\.0*)?", text)


@fixed
@given(st.floats(min_value=-720, max_value=720))
def test_written_angles_read_back_within_half_a_step(degrees: float) -> None:
    back = math.degrees(parse_angle(format_angle(math.radians(degrees))))
    assert abs(back - degrees) <= 0.05 * ROUNDING


@fixed
@given(st.floats(min_value=-1e4, max_value=1e4))
def test_a_turn_is_the_same_turn_in_one_round(degrees: float) -> None:
    turn = parse_turn(degrees)
    assert -math.pi < turn <= math.pi
    assert math.cos(turn) == pytest.approx(math.cos(math.radians(degrees)), abs=1e-10)
    assert math.sin(turn) == pytest.approx(math.sin(math.radians(degrees)), abs=1e-10)


@fixed
@given(st.floats(min_value=0, max_value=180))
def test_a_turn_the_other_way_round_is_its_negative(degrees: float) -> None:
    one, other = parse_turn(f"{degrees:.6f} cw"), parse_turn(f"{degrees:.6f} ccw")
    assert one == -other or one == other == math.pi


@fixed
@given(
    st.integers(0, 99),
    st.sampled_from(["½", "¼", "¾", "⅛", "⅜", "⅝", "⅞", "5\N{FRACTION SLASH}16", "⁵\N{FRACTION SLASH}₁₆", "⅟32"]),
    st.sampled_from(["-", " ", "\N{NO-BREAK SPACE}", "\N{THIN SPACE}", "\N{NON-BREAKING HYPHEN}", "\N{EN DASH}"]),
    st.sampled_from(["", "\N{MINUS SIGN}", "\N{EN DASH}"]),
    st.sampled_from(["", '"', "\N{DOUBLE PRIME}", "\N{RIGHT DOUBLE QUOTATION MARK}", "''"]),
)
def test_any_mix_of_look_alikes_reads_as_the_plain_text(
    whole: int, fraction: str, joint: str, sign: str, mark: str
) -> None:
    plain = {"½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8"}
    ascii_fraction = plain.get(fraction, "1/32" if fraction == "⅟32" else "5/16")
    expected = parse_length(f"{'-' if sign else ''}{whole}-{ascii_fraction}", "in")
    assert parse_length(f"{sign}{whole}{joint}{fraction}{mark}", "mm") == expected


def outcome(read: Callable[[], float]) -> float | BadText:
    try:
        return read()
    except BadText as refused:
        return refused


def is_number_or_refusal_of(text: str, read: Callable[[], float]) -> bool:
    got = outcome(read)
    if isinstance(got, BadText):
        return got.typed == text and got.mend.startswith(("Write ", "Check "))
    return math.isfinite(got)


@fixed
@given(st.text(max_size=12), axes)
def test_any_text_is_read_as_a_finite_number_or_refused_in_words(text: str, axis: Axis) -> None:
    assert is_number_or_refusal_of(text, lambda: parse_place(text, "in", axis))
    assert is_number_or_refusal_of(text, lambda: parse_angle(text))
    assert is_number_or_refusal_of(text, lambda: parse_turn(text))


@fixed
@given(st.text(alphabet="0123456789 -/.'\",+LRupmincf½⅜", max_size=10), st.booleans())
def test_any_shop_like_text_is_read_as_a_finite_number_or_refused_in_words(text: str, comma: bool) -> None:
    assert is_number_or_refusal_of(text, lambda: parse_place(text, "mm", "left", decimal_comma=comma))
