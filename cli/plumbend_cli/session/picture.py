"""A small picture from above: bases, points, and the way from point to point, in plain characters."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from plumbend.records import record

MOST_COLUMNS, MOST_LINES = 60, 14
_TALL = 2.0  # a character is about twice as high as wide
_BASE, _POINT, _WAY = "#", "o", "."


@record
class Dot:
    """A place in the picture: how far forward and left it is, mm, and which tube it is a point of."""

    name: str
    forward: float
    left: float
    is_base: bool
    tube: str | None = None


def picture(dots: Sequence[Dot], columns: int = MOST_COLUMNS, lines: int = MOST_LINES) -> list[str]:
    """At most ``lines`` lines of at most ``columns`` characters; forward is to the right, left is up.

    Points of a tube are joined in their order. Nothing is drawn of fewer than two places, or where all are one.
    """
    columns, lines = min(columns, MOST_COLUMNS), min(lines, MOST_LINES) - 1
    room = columns - 1 - max((len(dot.name) for dot in dots), default=0)
    forward, left = [dot.forward for dot in dots], [dot.left for dot in dots]
    if len(dots) < 2 or room < 8 or lines < 2:
        return []
    long, wide = max(forward) - min(forward), max(left) - min(left)
    scale = max(long / (room - 1), wide / _TALL / (lines - 1))
    if scale <= 0:
        return []
    height = min(round(wide / _TALL / scale) + 1, lines)
    cells = [[" "] * columns for _ in range(height)]

    def cell(ahead: float, aside: float) -> tuple[int, int]:
        return round((max(left) - aside) / _TALL / scale), round((ahead - min(forward)) / scale)

    for one, other in pairwise(dot for dot in dots if not dot.is_base):
        if one.tube != other.tube:
            continue
        (row, column), (other_row, other_column) = cell(one.forward, one.left), cell(other.forward, other.left)
        steps = max(1, abs(row - other_row), abs(column - other_column))
        for step in range(steps + 1):
            part = step / steps
            row, column = cell(
                one.forward + part * (other.forward - one.forward), one.left + part * (other.left - one.left)
            )
            cells[row][column] = _WAY
    spots = [(dot, *cell(dot.forward, dot.left)) for dot in dots]
    for dot, row, column in spots:
        cells[row][column] = _BASE if dot.is_base else _POINT
    for dot, row, column in spots:
        _write_name(cells, dot.name, row, column)
    drawn = ["".join(row).rstrip() for row in cells]
    return ["From above; forward is to the right:"[:columns], *drawn]


def _write_name(cells: list[list[str]], name: str, row: int, column: int) -> None:
    """The name beside its place, where there is room for it; over a way, but over no other place or name."""
    after, before = column + 1, column - len(name)
    for line, start in ((row, after), (row, before), (row - 1, after), (row + 1, after), (row - 1, before)):
        if not (0 <= line < len(cells) and start >= 0 and start + len(name) <= len(cells[line])):
            continue
        if all(mark in (" ", _WAY) for mark in cells[line][start : start + len(name)]):
            cells[line][start : start + len(name)] = list(name)
            return
