"""What the tube is."""

from __future__ import annotations

from typing import Literal

from plumbend.records import record

Edges = Literal["both", "outer", "inner"]
"""Which edge of the wall the cut of an end fits: both, bevelled; outer or inner, cut square through the wall."""


@record
class Tubing:
    """The straight stock: outside diameter and wall in mm, metal in the user's words."""

    od: float
    wall: float | None = None
    metal: str | None = None
