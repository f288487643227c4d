"""How a page is set: what folds on a narrow screen, and what stays in one piece on any."""

from __future__ import annotations

import io
import re

import pytest

from plumbend_cli.page import Column, Paragraph, Table, show

PROGRAM = Table(
    (
        Column("step"),
        Column("straight", "inches", numeric=True, loud=True),
        Column("±"),
        Column("turn", "degrees, from the tail", loud=True),
        Column("±"),
        Column("bend", "from straight", numeric=True),
        Column(""),
    ),
    (
        ("1", "13-11/16", "3/16", "none", "", "13.9", ""),
        ("2", "11-7/16", "1-1/16", "150.5 counter-clockwise", "4.0", "31.5", "<- worst"),
        ("last", "not fixed", "", "", "", "", ""),
    ),
)
POINTS = Table(
    (Column("point"), *(Column(axis, "inches", numeric=True) for axis in ("forward", "left", "up"))),
    (("bracket behind the tail lamp", "48-3/16", "L 12-7/16", "-35-11/16"), ("F", "0", "R 3/4", "1")),
)


class Terminal(io.StringIO):
    """A screen of whatever width COLUMNS says."""

    def isatty(self) -> bool:
        return True


def shown(table: Table, columns: int, monkeypatch: pytest.MonkeyPatch) -> str:
    monkeypatch.setenv("COLUMNS", str(columns))
    monkeypatch.setenv("TERM", "xterm-256color")  # rich takes a dumb one to be 80 columns wide
    screen = Terminal()
    show([table], screen)
    return "".join(f"{line.rstrip()}\n" for line in re.sub(r"\x1b\[[0-9;]*m", "", screen.getvalue()).splitlines())


@pytest.mark.parametrize("table", [PROGRAM, POINTS], ids=["program", "points"])
@pytest.mark.parametrize("columns", range(26, 101))
def test_no_number_is_broken_on_a_screen_of_any_width(
    table: Table, columns: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = shown(table, columns, monkeypatch)
    assert max(map(len, page.splitlines())) <= columns
    numbers = [word for row in table.rows for cell in row for word in cell.split() if re.search(r"\d", word)]
    assert sorted(word for word in page.split() if re.search(r"\d", word)) == sorted(numbers)


def test_heads_fold_before_what_stands_below_them(monkeypatch: pytest.MonkeyPatch) -> None:
    table = Table((*PROGRAM.columns[:2], Column("bend", "from straight", numeric=True)), (("1", "13-11/16", "13.9"),))
    assert shown(table, 26, monkeypatch) == (
        "                      bend\n"
        "        straight      from\n"
        "  step    inches  straight\n"
        "  1     13-11/16      13.9\n"
    )


def test_where_columns_find_no_room_each_row_is_a_block(monkeypatch: pytest.MonkeyPatch) -> None:
    assert shown(PROGRAM, 36, monkeypatch) == (
        "  step 1\n"
        "    straight, inches:\n"
        "      13-11/16 ± 3/16\n"
        "    turn, degrees, from the tail:\n"
        "      none\n"
        "    bend, from straight: 13.9\n"
        "\n"
        "  step 2\n"
        "    straight, inches:\n"
        "      11-7/16 ± 1-1/16\n"
        "    turn, degrees, from the tail:\n"
        "      150.5 counter-clockwise ± 4.0\n"
        "    bend, from straight: 31.5\n"
        "      <- worst\n"
        "\n"
        "  step last\n"
        "    straight, inches: not fixed\n"
    )


def test_numbers_of_a_column_have_as_many_decimals_as_the_finest() -> None:
    table = Table(
        (Column("step"), Column("straight", "mm", numeric=True), Column("±"), Column("what")),
        (
            ("1", "392.0", "7.0", "12"),
            ("2", "-933", "10", "1.5"),
            ("3", "not fixed", "", ""),
            ("4", "13-5/8", "held", ""),
        ),
    )
    page = io.StringIO()
    show([table], page)
    assert page.getvalue() == (
        "         straight\n"
        "  step         mm  ±     what\n"
        "  1         392.0  7.0   12\n"
        "  2        -933.0  10.0  1.5\n"
        "  3     not fixed\n"
        "  4        13-5/8  held\n"
    )


def test_a_number_is_never_parted_from_its_unit_or_its_plus_or_minus() -> None:
    page = io.StringIO()
    show([Paragraph("x" * 63 + " 55-13/16 ± 1/4 in and more")], page)
    assert page.getvalue() == "x" * 63 + "\n55-13/16 ± 1/4 in and more\n"


def test_a_column_with_nothing_in_it_takes_no_room() -> None:
    page = io.StringIO()
    show([Table((Column("step"), Column(""), Column("bend", numeric=True)), (("1", "", "90"),))], page)
    assert page.getvalue() == "  step    bend\n  1         90\n"
