"""Labels, and text fitted into a box as large as it goes."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from reportlab.lib.utils import simpleSplit
from reportlab.pdfbase.pdfmetrics import stringWidth

from plumbend.records import record

Box = tuple[float, float, float, float]
"""Left, bottom, right, top, mm."""

MM_PER_POINT = 25.4 / 72
FONT, BOLD_FONT = "Helvetica", "Helvetica-Bold"
_LEADING = 1.18
_SMALLEST = 4
_MOST_LINES = 5
_RISE = 0.72  # of the size, from the foot of a capital to its head


@record
class Label:
    """One line of text.

    Attributes:
        text: as it is written.
        x, y: mm, of the foot of its first letter, or of the middle of its foot.
        size: points.
        bold: whether it stands out.
        anchor: what of it lies at x, y.
        turned: written upward, its head to the left.
        layer: what it belongs to.
    """

    text: str
    x: float
    y: float
    size: float
    bold: bool = True
    anchor: Literal["left", "middle"] = "middle"
    turned: bool = False
    layer: str = "WORDS"

    @property
    def box(self) -> Box:
        """What it covers, tails of letters left out."""
        wide, tall = width_of(self.text, self.size, bold=self.bold), _RISE * self.size * MM_PER_POINT
        start = -wide / 2 if self.anchor == "middle" else 0.0
        if self.turned:
            return self.x - tall, self.y + start, self.x, self.y + start + wide
        return self.x + start, self.y, self.x + start + wide, self.y + tall


def width_of(text: str, size: float, *, bold: bool = True) -> float:
    """Width of a line of text, mm."""
    return float(stringWidth(text, BOLD_FONT if bold else FONT, size)) * MM_PER_POINT


def broken(text: str, size: float, wide: float, *, bold: bool = False) -> list[str]:
    """Running text as lines at most ``wide`` mm long."""
    return [str(line) for line in simpleSplit(text, BOLD_FONT if bold else FONT, size, wide / MM_PER_POINT)]


def fitted(text: str, box: Box, largest: float) -> list[Label]:
    """Bold text in the middle of a box (left, bottom, right, top), in as many lines and whichever way it gets largest.

    Text that does not fit at the smallest size is written so all the same: it is never left out.
    """
    left, bottom, right, top = box
    wide, tall = right - left, top - bottom
    best: tuple[float, bool, list[str]] = (0.0, False, [text])
    for lines in _broken(text.split()):
        longest = max(width_of(line, 1) for line in lines)
        height = (_RISE + _LEADING * (len(lines) - 1)) * MM_PER_POINT
        for turned, along, across in ((False, wide, tall), (True, tall, wide)):
            size = min(largest, along / longest, across / height)
            if size > best[0] + 0.5:
                best = (size, turned, lines)
    size, turned, lines = max(best[0], _SMALLEST), best[1], best[2]
    step, rise = _LEADING * size * MM_PER_POINT, _RISE * size * MM_PER_POINT
    x, y = (left + right) / 2, (bottom + top) / 2
    block = rise + step * (len(lines) - 1)
    foots = [block / 2 - rise - k * step for k in range(len(lines))]  # above the middle of the block
    if turned:
        return [Label(line, x - foot, y, size, turned=True) for line, foot in zip(lines, foots, strict=True)]
    return [Label(line, x, y + foot, size) for line, foot in zip(lines, foots, strict=True)]


def _broken(parts: list[str]) -> Iterator[list[str]]:
    """The words in one line, in two and so on, every time in lines as even as they go."""
    for count in range(1, min(len(parts), _MOST_LINES) + 1):
        yield min(_splits(parts, count), key=lambda lines: max(width_of(line, 1) for line in lines))


def _splits(parts: list[str], count: int) -> Iterator[list[str]]:
    if count == 1:
        yield [" ".join(parts)]
        return
    for first in range(1, len(parts) - count + 2):
        for rest in _splits(parts[first:], count - 1):
            yield [" ".join(parts[:first]), *rest]
