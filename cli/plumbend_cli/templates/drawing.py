"""A template as strokes and labels on named layers, before any file format: mm, x round the tube, y toward the cut."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np

from plumbend.ends.template import Template
from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.units import Units
from plumbend_cli.templates import words
from plumbend_cli.templates.fitting_text import Box, Label, broken, fitted, width_of

CUT, FIRST_CUT = "CUT", "FIRST CUT"
OUTSIDE, INSIDE = "OUTSIDE EDGE", "INSIDE EDGE"
LINE, QUARTERS, SEAM, LOWER_EDGE, STATIONS = "LINE", "QUARTER LINES", "SEAM", "LOWER EDGE", "STATIONS"
WORDS = "WORDS"

_TICK = 3.0
_WORDS_FROM = 7.5  # mm over the lower edge, above the numbers of the lines
_NAME_SIZE = 9.0  # points
_SMALLEST_NAME = 4.0  # of a line that has hardly any tube left under the cut; it goes without below that
_NOTES_WIDE = 160.0
_GAP = 2.0
_LOWEST = 7.0  # mm, of a block of words


@record(eq=False)
class Stroke:
    """A line through points (m, 2) on a layer, or a filled shape."""

    layer: str
    points: FloatArray
    filled: bool = False


@dataclass(slots=True)
class Drawing:
    """All strokes and labels, and the box (left, bottom, right, top) that holds them."""

    box: Box
    strokes: list[Stroke] = field(default_factory=list)
    labels: list[Label] = field(default_factory=list)

    def boxes_along(self, layer: str) -> list[Box]:
        """Small boxes that the lines of a layer run through."""
        return [
            (min(a[0], b[0]), min(a[1], b[1]), max(a[0], b[0]), max(a[1], b[1]))
            for stroke in self.strokes
            if stroke.layer == layer
            for a, b in pairwise(stroke.points.tolist())
        ]

    def draw(self, layer: str, *points: tuple[float, float]) -> None:
        """Add a line."""
        self.strokes.append(Stroke(layer, np.array(points)))


def _frame(drawing: Drawing, template: Template, top: FloatArray) -> None:
    """Lower edge, seam, reference line and quarter lines, up to the line ``top``."""
    half = template.wrap / 2
    drawing.draw(LOWER_EDGE, (-half, 0.0), (half, 0.0))
    for layer, x in ((SEAM, -half), (SEAM, half), (LINE, 0.0), (QUARTERS, -half / 2), (QUARTERS, half / 2)):
        drawing.draw(layer, (x, 0.0), (x, height_at(top, x)))


def height_at(line: FloatArray, x: float) -> float:
    """y of a line (m, 2) at x."""
    return float(np.interp(x, line[:, 0], line[:, 1]))


def _between(line: FloatArray, left: float, right: float) -> FloatArray:
    """y of a line at and between two x."""
    inside = line[(line[:, 0] > left) & (line[:, 0] < right), 1]
    return np.concatenate([[height_at(line, left)], inside, [height_at(line, right)]])


def _raised(line: FloatArray, by: float) -> FloatArray:
    raised: FloatArray = line + np.array([0.0, by])
    return raised


def for_cutter(template: Template, units: Units) -> Drawing:
    """What steers a cutter that works on the tube itself: the cut, both edges of the wall, and lines to set it by."""
    half = template.wrap / 2
    drawing = Drawing((-half, 0.0, half, template.top))
    outside, inside = template.edges
    _frame(drawing, template, template.square_to_wall)
    drawing.strokes += [Stroke(OUTSIDE, outside), Stroke(INSIDE, inside)]
    if template.cut.allowance > 0:
        drawing.strokes.append(Stroke(FIRST_CUT, _raised(template.square_to_wall, template.cut.allowance)))
    drawing.strokes.append(Stroke(CUT, template.square_to_wall))
    size, step = 9.0, 4.5
    wide = max(template.wrap, _NOTES_WIDE)
    lines = [
        line
        for note in words.for_cutter(template, units)
        for line in broken(note, size, wide)
    ]  # fmt: skip
    foot = -step * (len(lines) + 1)
    for k, line in enumerate(lines, 2):
        drawing.labels.append(Label(line, -half, -k * step, size, bold=False, anchor="left"))
    drawing.box = (-half, foot - step, max(half, wide - half), template.top)
    return drawing


def for_paper(template: Template) -> Drawing:
    """What is printed, wrapped round the tube and cut along."""
    line, half = template.line, template.wrap / 2
    first = _raised(line, template.cut.allowance)
    drawing = Drawing((-half, 0.0, half, template.top + _GAP))
    _frame(drawing, template, line)
    _stations(drawing, template)
    if template.cut.allowance > 0:
        drawing.strokes.append(Stroke(FIRST_CUT, first))
    drawing.strokes.append(Stroke(CUT, line))
    _line_names(drawing, template)
    _keep_side(drawing, template)
    _place_names(drawing, template, first)
    return drawing


def _stations(drawing: Drawing, template: Template) -> None:
    """Ticks at the lower edge and under the cut, numbered from the reference line to the right and on from the left."""
    count = len(template.table)
    apart = template.wrap / count
    every = 1 if apart > 5.5 else 2
    for number in range(count):
        x = math.remainder(number, count) * apart
        x = -x if x == template.wrap / 2 else x  # the seam's own is numbered at its left side
        up = height_at(template.line, x)
        if number % (count // 4):
            drawing.draw(STATIONS, (x, 0.0), (x, _TICK))
            drawing.draw(STATIONS, (x, up - _TICK), (x, up))
        if number % every == 0 and up > _WORDS_FROM:
            name = str(number + 1)
            at = x + 0.6 if x + width_of(name, 7, bold=False) + 0.6 < template.wrap / 2 else x - 3
            drawing.labels.append(Label(name, at, _TICK + 0.6, 7, bold=False, anchor="left", layer=STATIONS))


def _line_names(drawing: Drawing, template: Template) -> None:
    """Names of the long lines, written along them from the lower edge up."""
    half = template.wrap / 2
    named = (
        (-half, ("SEAM, at the back", "SEAM")),
        (-half / 2, ("quarter left", "1/4 left", "1/4", "")),
        (0.0, (*(f"LINE: {name}" for name in words.line_is(template)), "LINE")),
        (half / 2, ("quarter right", "1/4 right", "1/4", "")),
    )
    for x, names in named:
        room = float(_between(template.line, x, x + 4.0).min()) - _WORDS_FROM - _TICK - 1
        bold = x == 0.0
        name = next((name for name in names if width_of(name, 8, bold=bold) <= room), names[-1])
        size = min(8.0, room / width_of(name or " ", 1, bold=bold))
        if name and size >= _SMALLEST_NAME:
            drawing.labels.append(Label(name, x + 3.4, _WORDS_FROM, size, bold=bold, anchor="left", turned=True))


def _keep_side(drawing: Drawing, template: Template) -> None:
    """The arrow toward the cut and the words on what is kept, as far as there is room; the steps say it all again."""
    texts = ("TOWARD THE CUT END", words.title(template), "PRINTED SIDE OUT", "KEEP THIS SIDE")
    places = _free_places(template, len(texts))
    for k, (text, (left, low, right, top)) in enumerate(zip(texts, places, strict=False)):
        if k == 0:
            wide = min(8.0, (right - left) / 3)
            tall = min(4 * wide, top - low)
            drawing.strokes.append(Stroke(WORDS, _arrow(left + wide / 2, low, wide, tall), filled=True))
            left += wide + _GAP
        drawing.labels += fitted(text, (left, low, right, top), largest=16)


def _free_places(template: Template, most: int) -> list[Box]:
    """Boxes under the cut for ``most`` blocks of words, from left to right: one in each quarter, and where the cut
    leaves no room in one, another is shared."""
    quarter = template.wrap / 4
    places = []
    for k in range(4):
        left, right = (k - 2) * quarter + 5.5, (k - 1) * quarter - _GAP
        top = float(_between(template.line, left, right).min()) - _TICK - 1
        places.append((left, _WORDS_FROM, right, top))
    tallest = max(places, key=_height)
    places = [place for place in places if _height(place) > _LOWEST] or [(*tallest[:3], _WORDS_FROM + _LOWEST)]
    while len(places) < most:
        k = max(range(len(places)), key=lambda place: _height(places[place]))
        left, low, right, top = places[k]
        if top - low < 2 * (_LOWEST + _GAP):
            break
        middle = (low + top) / 2
        places[k : k + 1] = [(left, middle + _GAP, right, top), (left, low, right, middle - _GAP)]
    return places


def _height(box: Box) -> float:
    return box[3] - box[1]


def _arrow(x: float, y: float, wide: float, tall: float) -> FloatArray:
    """The outline of an arrow that points up, its foot at (x, y)."""
    head = min(wide, 0.6 * tall)
    shape = [(-0.18, 0.0), (-0.18, tall - head), (-0.5, tall - head), (0.0, tall)]
    right = [(-a, b) for a, b in reversed(shape[:3])]
    return np.array([(x + a * wide, y + b) for a, b in (*shape, *right, shape[0])])


def _place_names(drawing: Drawing, template: Template, above: FloatArray) -> None:
    """Names of tips, throats, long and short point on the side that falls off, each led to its place."""
    half = template.wrap / 2
    blocks = [[name.upper() for name in place.names] for place in template.places]
    widths = [max(width_of(name, _NAME_SIZE) for name in block) for block in blocks]
    wanted = [template.across(place.round) for place in template.places]
    line_height = _NAME_SIZE * 0.42
    for block, wide, x, place in zip(blocks, widths, spread(wanted, widths, half - 0.5), template.places, strict=True):
        tall = line_height * len(block)
        bottom = float(_between(above, max(x - wide / 2, -half), min(x + wide / 2, half)).max()) + 3.0
        drawing.draw(WORDS, (x, bottom - 0.8), (template.across(place.round), place.at - template.edge))
        for k, name in enumerate(reversed(block)):
            drawing.labels.append(Label(name, x, bottom + k * line_height, _NAME_SIZE))
        left, low, right, high = drawing.box
        drawing.box = (left, low, right, max(high, bottom + tall))


def spread(wanted: Sequence[float], widths: Sequence[float], half: float) -> list[float]:
    """Middles of labels in a row from -half to half, from left to right, near where they are wanted and clear of each
    other."""
    at = list(wanted)
    apart = [(a + b) / 2 + _GAP for a, b in pairwise(widths)]
    for k in range(len(at)):
        least = -half + widths[0] / 2 if k == 0 else at[k - 1] + apart[k - 1]
        at[k] = max(at[k], least)
    for k in reversed(range(len(at))):
        most = half - widths[k] / 2 if k == len(at) - 1 else at[k + 1] - apart[k]
        at[k] = min(at[k], most)
    return at
