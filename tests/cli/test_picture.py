"""The small picture from above."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend_cli.session.picture import MOST_COLUMNS, MOST_LINES, Dot, picture


def test_forward_is_to_the_right_and_left_is_up() -> None:
    dots = [Dot("B1", 0, 0, True), Dot("B2", 1000, 0, True), Dot("A", 0, 400, False), Dot("C", 1000, 200, False)]
    heading, *lines = picture(dots, 40, 12)
    assert heading == "From above; forward is to the right:"
    spots = {
        name: (at, line.index(name)) for at, line in enumerate(lines) for name in ("A", "C", "B1", "B2") if name in line
    }
    assert spots["A"][0] < spots["C"][0] < spots["B1"][0] == spots["B2"][0]
    assert spots["A"][1] == spots["B1"][1] < spots["C"][1] == spots["B2"][1]
    assert lines[spots["A"][0]].startswith("oA.")
    assert lines[spots["B1"][0]].startswith("#B1 ")


@pytest.mark.parametrize(
    "dots", [[], [Dot("A", 1, 2, False)], [Dot("A", 1, 2, False), Dot("B", 1, 2, False)]], ids=["none", "one", "same"]
)
def test_too_little_is_not_drawn(dots: list[Dot]) -> None:
    assert picture(dots) == []


def test_no_name_covers_another() -> None:
    lines = picture([Dot(name, i, 0, False) for i, name in enumerate(["one", "two", "three", "four"])], 24)
    assert sum(line.count("o") >= 1 for line in lines[1:]) >= 1
    assert "".join(lines[1:]).count("one") == 1
    for name in ("two", "three"):
        assert "".join(lines[1:]).count(name) <= 1


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-1e5, 1e5), st.floats(-1e5, 1e5), st.booleans()), max_size=12),
    st.integers(0, 100),
    st.integers(2, 40),
)
def test_it_never_outgrows_its_room(places: list[tuple[float, float, bool]], columns: int, lines: int) -> None:
    drawn = picture([Dot(f"P{i}", *place) for i, place in enumerate(places)], columns, lines)
    assert len(drawn) <= min(lines, MOST_LINES)
    assert all(len(line) <= min(columns, MOST_COLUMNS) for line in drawn)
    if drawn:
        assert sum(line.count("o") + line.count("#") for line in drawn[1:]) >= 1
