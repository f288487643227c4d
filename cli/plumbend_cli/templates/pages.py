"""Sizes of paper, and the windows on a drawing that are printed sheet by sheet when it is larger than the page."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from plumbend_cli.templates.fitting_text import Box

Paper = Literal["a4", "letter"]

SIZES: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""Width and height upright, mm."""

MARGIN = 10.0
"""mm that few printers cannot reach."""

OVERLAP = 20.0
"""mm that neighbouring sheets both show."""


@dataclass(frozen=True, slots=True)
class Cross:
    """A register mark: the same letter lies on the same place of two sheets.

    Attributes:
        name: its letter.
        x, y: mm in the drawing.
    """

    name: str
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Window:
    """What one sheet shows of a drawing.

    Attributes:
        box: left, bottom, right, top, mm in the drawing.
        crosses: register marks in its overlaps; none where the drawing fits one sheet.
    """

    box: Box
    crosses: tuple[Cross, ...] = ()


def windows(box: Box, wide: float, tall: float) -> tuple[Window, ...]:
    """Windows of at most ``wide`` x ``tall`` mm that cover ``box``, row by row from the top left, and overlap."""
    left, bottom, right, top = box
    columns, rows = _parts(right - left, wide), _parts(top - bottom, tall)
    width = (right - left + (columns - 1) * OVERLAP) / columns
    height = (top - bottom + (rows - 1) * OVERLAP) / rows
    lefts = [left + k * (width - OVERLAP) for k in range(columns)]
    bottoms = [top - height - k * (height - OVERLAP) for k in range(rows)]
    places = [
        (x + OVERLAP / 4, low + height * part) for low in bottoms for x in lefts[1:] for part in (0.25, 0.75)
    ] + [
        (x + width * part, low + height - OVERLAP / 2) for low in bottoms[1:] for x in lefts for part in (0.25, 0.75)
    ]  # fmt: skip
    crosses = [Cross(_letter(k), *place) for k, place in enumerate(places)]
    found = []
    for low in bottoms:
        for x in lefts:
            shown = (x, low, x + width, low + height)
            found.append(Window(shown, tuple(cross for cross in crosses if _holds(shown, cross))))
    return tuple(found)


def _parts(length: float, room: float) -> int:
    if length <= room:
        return 1
    return math.ceil((length - OVERLAP) / (room - OVERLAP))


def _holds(box: Box, cross: Cross) -> bool:
    return box[0] <= cross.x <= box[2] and box[1] <= cross.y <= box[3]


def _letter(k: int) -> str:
    again, letter = divmod(k, 26)
    return "ABCDEFGHIJKLMNOPQRSTUVWXYZ"[letter] + (str(again + 1) if again else "")
