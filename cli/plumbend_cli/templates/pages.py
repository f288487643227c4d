"""Sizes of paper, and the windows on a drawing that are printed sheet by sheet when it is larger than the page."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Literal

from plumbend.records import record
from plumbend_cli.templates.fitting_text import Box

Paper = Literal["a4", "letter"]

SIZES: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height upright, mm."""

MARGIN = 10.0
"""mm that few printers cannot reach."""

OVERLAP = 20.0
"""mm that neighbouring sheets both show."""

_ALONG = (0.25, 0.2, 0.15, 0.3, 0.35, 0.1, 0.4, 0.5, 0.6, 0.9), (0.75, 0.8, 0.85, 0.7, 0.65, 0.9, 0.6, 0.5, 0.4, 0.1)
"""Of the way along an overlap: where its two register marks go, the first that is free."""

_ACROSS = (0.35, 0.5, 0.65, 0.2, 0.8)

_REACH = 6.5  # mm from the middle of a register mark to the end of its arms and letter


@record
class Cross:
    """A register mark: the same letter lies on the same place of two sheets.

    Attributes:
        name: its letter.
        x, y: mm in the drawing.
    """

    name: str
    x: float
    y: float


@record
class Window:
    """What one sheet shows of a drawing.

    Attributes:
        box: left, bottom, right, top, mm in the drawing.
        crosses: register marks in its overlaps; none where the drawing fits one sheet.
    """

    box: Box
    crosses: tuple[Cross, ...] = ()


def windows(box: Box, wide: float, tall: float, taken: Sequence[Box] = ()) -> tuple[Window, ...]:
    """Windows of at most ``wide`` x ``tall`` mm that cover ``box``, row by row from the top left, and overlap.

    Register marks keep off what is ``taken`` where they can.
    """
    left, bottom, right, top = box
    columns, rows = _parts(right - left, wide), _parts(top - bottom, tall)
    width = (right - left + (columns - 1) * OVERLAP) / columns
    height = (top - bottom + (rows - 1) * OVERLAP) / rows
    lefts = [left + k * (width - OVERLAP) for k in range(columns)]
    bottoms = [top - height - k * (height - OVERLAP) for k in range(rows)]
    beside = [
        [(x + OVERLAP * across, low + height * part) for part in parts for across in _ACROSS]
        for low in bottoms
        for x in lefts[1:]
        for parts in _ALONG
    ]
    above = [
        [(x + width * part, low + height - OVERLAP * across) for part in parts for across in _ACROSS]
        for low in bottoms[1:]
        for x in lefts
        for parts in _ALONG
    ]
    crosses, full = list[Cross](), list(taken)
    for k, places in enumerate([*beside, *above]):
        x, y = _free(places, full)
        crosses.append(Cross(_letter(k), x, y))
        full.append((x - _REACH, y - _REACH, x + _REACH, y + _REACH))
    found = []
    for low in bottoms:
        for x in lefts:
            shown = (x, low, x + width, low + height)
            found.append(Window(shown, tuple(cross for cross in crosses if _holds(shown, cross))))
    return tuple(found)


def _free(places: Sequence[tuple[float, float]], taken: Sequence[Box]) -> tuple[float, float]:
    """The first place for a register mark that is not written over; the first of all where there is none."""
    for x, y in places:
        if not any(
            left < x + _REACH and x - _REACH < right and bottom < y + _REACH and y - _REACH < top
            for left, bottom, right, top in taken
        ):
            return x, y
    return places[0]


def _parts(length: float, room: float) -> int:
    if length <= room:
        return 1
    return math.ceil((length - OVERLAP) / (room - OVERLAP))


def _holds(box: Box, cross: Cross) -> bool:
    return box[0] <= cross.x <= box[2] and box[1] <= cross.y <= box[3]


def _letter(k: int) -> str:
    again, letter = divmod(k, 26)
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[letter] + (str(again + 1) if again else "")
