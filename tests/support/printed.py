"""What is on the pages of a PDF, read back with a PDF library: mm from the lower left corner of the page."""

from __future__ import annotations

import ctypes
from dataclasses import dataclass

import numpy as np
import pypdfium2
from pypdfium2 import raw

from plumbend.frames import FloatArray

MM = 25.4 / 72


@dataclass(frozen=True)
class Line:
    """A path: its points (m, 2), without the handles of curves, and how thick it is drawn."""

    points: FloatArray
    thick: float

    @property
    def is_straight(self) -> bool:
        return len(self.points) == 2


@dataclass(frozen=True)
class Words:
    """A text, its box (left, bottom, right, top) as laid out, and its size in points."""

    text: str
    box: tuple[float, float, float, float]


@dataclass(frozen=True)
class Sheet:
    """One page."""

    size: tuple[float, float]
    lines: list[Line]
    words: list[Words]

    def bars(self) -> list[float]:
        """Lengths of the proof bars: each stands under the words that call it one."""
        found = []
        for words in self.words:
            if words.text.startswith("This bar is"):
                under = [
                    line.points
                    for line in self.lines
                    if line.is_straight
                    and abs(line.points[0, 1] - line.points[1, 1]) < 0.01
                    and 0 < words.box[1] - line.points[0, 1] < 3
                    and line.points[:, 0].min() < words.box[0] < line.points[:, 0].max()
                ]
                (bar,) = under
                found.append(float(np.ptp(bar[:, 0])))
        return found

    def thickest(self) -> FloatArray:
        """Points of the one thickest line that is not straight, or is all there is."""
        most = max(line.thick for line in self.lines)
        (line,) = [line for line in self.lines if line.thick == most]
        return line.points

    def crosses(self) -> dict[str, tuple[float, float]]:
        """Middles of the register marks by their letters."""
        found = {}
        for words in self.words:
            if len(words.text) == 1 and words.text.isupper():
                near = [
                    line.points.mean(axis=0)
                    for line in self.lines
                    if line.is_straight
                    and abs(float(np.linalg.norm(line.points[1] - line.points[0])) - 10.0) < 0.01
                    and np.linalg.norm(line.points.mean(axis=0) - [words.box[2] + 2.4, words.box[1] - 1.5]) < 1.5
                ]
                if near:
                    found[words.text] = (float(near[0][0]), float(near[0][1]))
        return found


def sheets(data: bytes) -> list[Sheet]:
    """All pages of a PDF."""
    document = pypdfium2.PdfDocument(data)
    try:
        return [_sheet(document[k]) for k in range(len(document))]
    finally:
        document.close()


def _sheet(page: pypdfium2.PdfPage) -> Sheet:
    width, height = page.get_size()
    lines, words = [], []
    text_page = page.get_textpage()
    for item in page.get_objects():
        if item.type == raw.FPDF_PAGEOBJ_PATH:
            lines.append(_line(item))
        elif item.type == raw.FPDF_PAGEOBJ_TEXT:
            left, bottom, right, top = (edge * MM for edge in item.get_bounds())
            words.append(Words(_text(item, text_page), (left, bottom, right, top)))
    return Sheet((width * MM, height * MM), lines, words)


def _text(item: pypdfium2.PdfObject, text_page: pypdfium2.PdfTextPage) -> str:
    size = raw.FPDFTextObj_GetText(item.raw, text_page.raw, None, 0)
    buffer = (ctypes.c_ushort * (size // 2))()
    raw.FPDFTextObj_GetText(item.raw, text_page.raw, buffer, size)
    return bytes(buffer).decode("utf-16-le").rstrip("\0")


def _line(item: pypdfium2.PdfObject) -> Line:
    matrix = item.get_matrix()
    points = []
    for k in range(raw.FPDFPath_CountSegments(item.raw)):
        segment = raw.FPDFPath_GetPathSegment(item.raw, k)
        x, y = ctypes.c_float(), ctypes.c_float()
        raw.FPDFPathSegment_GetPoint(segment, x, y)
        points.append(matrix.on_point(x.value, y.value))
    thick = ctypes.c_float()
    raw.FPDFPageObj_GetStrokeWidth(item.raw, thick)
    return Line(np.array(points) * MM, thick.value * MM)
