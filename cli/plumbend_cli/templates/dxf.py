"""The flat pattern of one end as DXF in millimetres, its layers named in plain words."""

from __future__ import annotations

import io

from ezdxf import colors, units
from ezdxf.filemanagement import new

from plumbend.ends.template import Template
from plumbend.units import Units
from plumbend_cli.templates import drawing as layers
from plumbend_cli.templates.drawing import for_cutter
from plumbend_cli.templates.fitting_text import MM_PER_POINT

_CAPITALS = 0.72  # height of capitals, by which a text is measured there, of the size

# of each layer: its colour and line type; the cut stands first
_LAYERS = {
    layers.CUT: (colors.WHITE, "CONTINUOUS"),  # drawn black on a white ground
    layers.FIRST_CUT: (colors.WHITE, "DASHED"),
    layers.OUTSIDE: (colors.WHITE, "DOT"),
    layers.INSIDE: (colors.WHITE, "DASHED2"),
    layers.LOWER_EDGE: (colors.WHITE, "CONTINUOUS"),
    layers.SEAM: (colors.WHITE, "CONTINUOUS"),
    layers.LINE: (colors.CYAN, "CONTINUOUS"),
    layers.QUARTERS: (colors.CYAN, "DASHDOT"),
    layers.WORDS: (colors.WHITE, "CONTINUOUS"),
}


def dxf(template: Template, shown_in: Units) -> bytes:
    """The pattern; x from the reference line, y up from the lower edge, mm."""
    document = new("R2000", setup=["linetypes"], units=units.MM)
    for name, (colour, line_type) in _LAYERS.items():
        document.layers.add(name, color=colour, linetype=line_type)
    space = document.modelspace()
    drawing = for_cutter(template, shown_in)
    for stroke in drawing.strokes:
        space.add_lwpolyline(stroke.points.tolist(), dxfattribs={"layer": stroke.layer})
    for label in drawing.labels:
        height = label.size * _CAPITALS * MM_PER_POINT
        space.add_text(label.text, height=height, dxfattribs={"layer": label.layer, "insert": (label.x, label.y)})
    text = io.StringIO()
    document.write(text)
    return document.encode(text.getvalue())
