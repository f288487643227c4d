"""The flat pattern of one end as SVG in true millimetres, a group for each layer."""

from __future__ import annotations

from xml.sax.saxutils import escape

from plumbend.ends.template import Template
from plumbend.units import Units
from plumbend_cli.templates import drawing as layers
from plumbend_cli.templates import words
from plumbend_cli.templates.drawing import Drawing, Stroke, for_cutter
from plumbend_cli.templates.fitting_text import MM_PER_POINT, Label

_ACCENT = "#005c73"

# width of each line in mm, its dashes in mm, its colour
_PENS: dict[str, tuple[float, str, str]] = {
    layers.CUT: (0.4, "", "black"),
    layers.FIRST_CUT: (0.3, "2.5 1.5", "black"),
    layers.OUTSIDE: (0.15, "1 1", "black"),
    layers.INSIDE: (0.15, "3 1", "black"),
    layers.LOWER_EDGE: (0.3, "", "black"),
    layers.SEAM: (0.3, "", "black"),
    layers.LINE: (0.3, "", _ACCENT),
    layers.QUARTERS: (0.2, "4 1.2 0.8 1.2", _ACCENT),
}


def svg(template: Template, units: Units) -> bytes:
    """The pattern; x and y of its lines are mm, x from the reference line, y down from the lower edge."""
    drawing = for_cutter(template, units)
    left, bottom, right, top = (edge + by for edge, by in zip(drawing.box, (-1, -1, 1, 1), strict=True))
    wide, tall = right - left, top - bottom
    notes = escape(" ".join(words.for_cutter(template, units)))
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.4f}mm" height="{tall:.4f}mm" '
        f'viewBox="{left:.4f} {-top:.4f} {wide:.4f} {tall:.4f}">',
        f"<title>{escape(words.title(template))}</title>",
        f"<desc>{notes}</desc>",
        *(_group(layer, drawing) for layer in _PENS if any(stroke.layer == layer for stroke in drawing.strokes)),
        '<g id="words" font-family="Helvetica, Arial, sans-serif" fill="black">',
        *map(_text, drawing.labels),
        "</g>",
        "</svg>",
        "",
    ]
    return "\n".join(lines).encode()


def _group(layer: str, drawing: Drawing) -> str:
    wide, dashes, colour = _PENS[layer]
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    paths = "".join(_path(stroke) for stroke in drawing.strokes if stroke.layer == layer)
    name = layer.lower().replace(" ", "-")
    return f'<g id="{name}" fill="none" stroke="{colour}" stroke-width="{wide}"{dashed}>{paths}</g>'


def _path(stroke: Stroke) -> str:
    places = " ".join(f"{x:.4f},{-y or 0.0:.4f}" for x, y in stroke.points.tolist())
    return f'<polyline points="{places}"/>'


def _text(label: Label) -> str:
    place = f'x="{label.x:.3f}" y="{-label.y:.3f}" font-size="{label.size * MM_PER_POINT:.3f}"'
    return f"<text {place}>{escape(label.text)}</text>"
