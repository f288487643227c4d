"""Templates as PDF at true scale, for A4 and Letter."""

from __future__ import annotations

import io
from collections.abc import Sequence

from reportlab.pdfgen.canvas import Canvas

from plumbend.ends.template import Template
from plumbend.units import Units
from plumbend_cli.templates import drawing as layers
from plumbend_cli.templates import words
from plumbend_cli.templates.drawing import Drawing, Stroke, for_paper
from plumbend_cli.templates.fitting_text import BOLD_FONT, FONT, MM_PER_POINT, Label, broken, width_of
from plumbend_cli.templates.pages import MARGIN, SIZES, Cross, Paper, Window, windows

_MM = 1 / MM_PER_POINT
_BLACK, _ACCENT = (0.0, 0.0, 0.0), (0.0, 0.36, 0.45)
_AIR = 4.0  # mm between the parts of a sheet
_BAR = 7.5  # mm that a proof bar with its words takes
_ROWS = 8  # lines of the ordinate table side by side
_WIDEST_BLOCK = 90.0  # mm
_COLUMNS = (0.14, 0.43, 0.71, 0.98)  # of the width of a block, where its columns end
_TEXT_SIZES = (10.5, 10.0, 9.5, 9.0)  # points, the largest that fits below the template

# width of each line in mm, its dashes in mm, its colour
_PENS: dict[str, tuple[float, tuple[float, ...], tuple[float, float, float]]] = {
    layers.CUT: (0.9, (), _BLACK),
    layers.FIRST_CUT: (0.5, (2.5, 1.5), _BLACK),
    layers.LOWER_EDGE: (0.5, (), _BLACK),
    layers.SEAM: (0.5, (), _BLACK),
    layers.LINE: (0.8, (), _ACCENT),
    layers.QUARTERS: (0.35, (4.0, 1.2, 0.8, 1.2), _ACCENT),
    layers.STATIONS: (0.35, (), _ACCENT),
    layers.WORDS: (0.25, (), _BLACK),
}


def pdf(templates: Sequence[Template], paper: Paper, units: Units) -> bytes:
    """A PDF of all templates, each beginning on a sheet of its own, with viewers told not to scale when printing."""
    file = io.BytesIO()
    canvas = Canvas(file, pagesize=(1, 1), invariant=1, pageCompression=1)
    canvas.setTitle("; ".join(map(words.title, templates)))
    canvas.setViewerPreference("PrintScaling", "None")
    for template in templates:
        _Sheets(canvas, template, paper, units).draw()
    canvas.save()
    return file.getvalue()


class _Sheets:
    """The sheets of one template, drawn from the top down; y is what is left, mm from the lower margin's edge."""

    def __init__(self, canvas: Canvas, template: Template, paper: Paper, units: Units) -> None:
        self.canvas, self.template, self.units = canvas, template, units
        self.wide, self.tall = SIZES[paper]
        self.y = 0.0

    @property
    def room(self) -> float:
        """Width between the margins, mm."""
        return self.wide - 2 * MARGIN

    def draw(self) -> None:
        drawing = for_paper(self.template)
        left, bottom, right, top = drawing.box
        need = top - bottom + _AIR
        upright, across = self.tall - 2 * MARGIN - self._head(), self.wide - 2 * MARGIN - self._head()
        if right - left > self.room and right - left <= self.tall - 2 * MARGIN and need + _BAR <= across:
            self.wide, self.tall = self.tall, self.wide
        bars = _BAR if self._bars_abreast() else 2 * _BAR
        fits = right - left <= self.room and need + bars <= (upright if self.tall > self.wide else across)
        taken = [label.box for label in drawing.labels] + drawing.boxes_along(layers.CUT)
        shown = windows(drawing.box, self.room, top - bottom if fits else upright - bars - _AIR, taken)
        for number, window in enumerate(shown, 1):
            self._begin(f"sheet {number} of {len(shown)}" if len(shown) > 1 else "")
            self._proof()
            self._window(drawing, window)
            if number < len(shown):
                self.canvas.showPage()
        self._numbers(joined=len(shown) > 1)
        self.canvas.showPage()

    # the parts of a sheet

    def _head(self) -> float:
        return 9.0 + 6.0 * (1 + len(self.template.joints)) + _AIR

    def _begin(self, part: str) -> None:
        """A new page with its head."""
        self.canvas.setPageSize((self.wide * _MM, self.tall * _MM))
        self.y = self.tall - MARGIN
        title = words.title(self.template)
        right = f"TEMPLATE{', ' if part else ''}{part}"
        side = width_of(right, 12) + _AIR
        self._text(right, self.wide - MARGIN - side + _AIR, self.y - 6.5, 12, bold=True)
        self._line(title, 20, 9.0, bold=True, room=self.room - side)
        self._line(words.size(self.template, self.units), 12, 6.0)
        for angle in words.angles(self.template, self.units):
            self._line(angle, 12, 6.0, bold=True)
        self.y -= _AIR

    def _line(self, text: str, size: float, step: float, *, bold: bool = False, room: float | None = None) -> None:
        """One line across the sheet, smaller where it would not fit."""
        size = min(size, size * (room or self.room) / width_of(text, size, bold=bold))
        self._text(text, MARGIN, self.y - 0.75 * step, size, bold=bold)
        self.y -= step

    def _bars_abreast(self) -> bool:
        return sum(length for length, _ in words.PROOF_BARS) + 2 * _AIR <= self.room

    def _proof(self) -> None:
        """The bars that prove the scale, side by side where they fit."""
        x = MARGIN
        for length, called in words.PROOF_BARS:
            self._bar(x, self.y - _BAR + 2.0, length, called)
            if self._bars_abreast():
                x += length + 2 * _AIR
            else:
                self.y -= _BAR
        if self._bars_abreast():
            self.y -= _BAR

    def _bar(self, x: float, y: float, length: float, called: str) -> None:
        self._pen(0.5, (), _BLACK)
        self.canvas.line(x * _MM, (y + 1.5) * _MM, (x + length) * _MM, (y + 1.5) * _MM)
        for end in (x, x + length):
            self.canvas.line(end * _MM, y * _MM, end * _MM, (y + 3.0) * _MM)
        self._text(f"This bar is {called} long by your rule", x + 2, y + 2.6, 9)

    def _window(self, drawing: Drawing, window: Window) -> None:
        """What one sheet shows of the drawing, in the middle of its width."""
        left, bottom, right, top = window.box
        canvas, x, y = self.canvas, (self.wide - (right - left)) / 2, self.y - (top - bottom)
        canvas.saveState()
        if window.crosses:
            path = canvas.beginPath()
            path.rect((x - 0.5) * _MM, (y - 0.5) * _MM, (right - left + 1) * _MM, (top - bottom + 1) * _MM)
            canvas.clipPath(path, stroke=0, fill=0)
        canvas.translate((x - left) * _MM, (y - bottom) * _MM)
        for stroke in drawing.strokes:
            self._stroke(stroke)
        for label in drawing.labels:
            self._label(label)
        for cross in window.crosses:
            self._cross(cross)
        canvas.restoreState()
        self.y = y - _AIR

    def _numbers(self, *, joined: bool) -> None:
        """How to wrap it and the ordinate table, below the template if there is room, else on a further sheet."""
        for size in _TEXT_SIZES:
            numbers = _Numbers(self, size, joined=joined)
            if numbers.height <= self.y - MARGIN:
                break
        else:
            self.canvas.showPage()
            self._begin("by rule")
            numbers = _Numbers(self, 12.0, joined=joined)
        numbers.draw()

    # pens and letters

    def _pen(self, wide: float, dashes: tuple[float, ...], colour: tuple[float, float, float]) -> None:
        self.canvas.setLineWidth(wide * _MM)
        self.canvas.setDash([dash * _MM for dash in dashes])
        self.canvas.setStrokeColorRGB(*colour)
        self.canvas.setFillColorRGB(*colour)

    def _stroke(self, stroke: Stroke) -> None:
        self._pen(*_PENS[stroke.layer])
        path = self.canvas.beginPath()
        (x, y), *others = (stroke.points * _MM).tolist()
        path.moveTo(x, y)
        for x, y in others:
            path.lineTo(x, y)
        self.canvas.drawPath(path, stroke=0 if stroke.filled else 1, fill=1 if stroke.filled else 0)

    def _label(self, label: Label) -> None:
        canvas = self.canvas
        canvas.saveState()
        canvas.translate(label.x * _MM, label.y * _MM)
        if label.turned:
            canvas.rotate(90)
        x = -width_of(label.text, label.size, bold=label.bold) / 2 if label.anchor == "middle" else 0.0
        self._text(label.text, x, 0.0, label.size, bold=label.bold)
        canvas.restoreState()

    def _cross(self, cross: Cross) -> None:
        self._pen(0.3, (), _BLACK)
        x, y, arm = cross.x * _MM, cross.y * _MM, 5.0 * _MM
        self.canvas.line(x - arm, y, x + arm, y)
        self.canvas.line(x, y - arm, x, y + arm)
        self.canvas.circle(x, y, 2.0 * _MM)
        self._text(cross.name, cross.x - 2.4 - width_of(cross.name, 10), cross.y + 1.5, 10, bold=True)

    def _text(self, text: str, x: float, y: float, size: float, *, bold: bool = False) -> None:
        self.canvas.setFillColorRGB(*_BLACK)
        self.canvas.setFont(BOLD_FONT if bold else FONT, size)
        self.canvas.drawString(x * _MM, y * _MM, text)


class _Numbers:
    """The words and the table of a template, set in letters of one size."""

    def __init__(self, sheets: _Sheets, size: float, *, joined: bool) -> None:
        self.sheets, self.size = sheets, size
        template, units = sheets.template, sheets.units
        texts = [f"{k}.  {step}" for k, step in enumerate(words.how_to_wrap(template, units, joined=joined), 1)]
        places = words.named_places(template, units)
        paragraphs = [*texts, *([places] if places else []), words.table_words(template, units), words.caution()]
        where = words.lower_edge(template, units)  # the one length that is set by it, so it stands out
        loud = [text.endswith(where) or text == paragraphs[-1] for text in paragraphs]
        self.lines = [
            (broken(text, size, sheets.room, bold=bold), bold) for text, bold in zip(paragraphs, loud, strict=True)
        ]

    @property
    def _step(self) -> float:
        return 1.2 * self.size * MM_PER_POINT

    @property
    def _row(self) -> float:
        return 1.45 * self.size * MM_PER_POINT

    @property
    def height(self) -> float:
        """mm that all of it takes."""
        words_tall = sum(len(lines) for lines, _ in self.lines) * self._step + 1.2 * len(self.lines)
        return words_tall + 2 * self._step + _AIR + _ROWS * self._row

    def draw(self) -> None:
        sheets = self.sheets
        for lines, bold in self.lines[:-1]:
            for line in lines:
                sheets._line(line, self.size, self._step, bold=bold)
            sheets.y -= 1.2
        rows = words.table_rows(sheets.template, sheets.units)
        blocks = [rows[k : k + _ROWS] for k in range(0, len(rows), _ROWS)]
        top, wide = sheets.y, min(_WIDEST_BLOCK, sheets.room / len(blocks))
        for k, block in enumerate(blocks):
            self._block(block, MARGIN + k * wide, wide, top)
        sheets.y = top - 2 * self._step - _ROWS * self._row - _AIR
        caution, bold = self.lines[-1]
        for line in caution:
            sheets._line(line, self.size, self._step, bold=bold)

    def _block(self, rows: Sequence[tuple[str, str, str, str]], x: float, wide: float, top: float) -> None:
        wide -= _AIR
        ends = tuple(x + part * wide for part in _COLUMNS)
        loud = ends[3 if self.sheets.template.cut.edges == "inner" else 2]
        y = top
        for k in range(2):
            y -= self._step
            for head, end in zip(words.table_head(self.sheets.units), ends, strict=True):
                self._right(head[k], end, y, self.size - 1, bold=False)
        y -= 1.2
        self.sheets._pen(0.35, (), _BLACK)
        self.sheets.canvas.line(x * _MM, y * _MM, (x + wide) * _MM, y * _MM)
        for row in rows:
            y -= self._row
            for text, end in zip(row, ends, strict=True):
                self._right(text, end, y + 0.3 * self._row, self.size, bold=end == loud)

    def _right(self, text: str, end: float, y: float, size: float, *, bold: bool) -> None:
        self.sheets._text(text, end - width_of(text, size, bold=bold), y, size, bold=bold)
