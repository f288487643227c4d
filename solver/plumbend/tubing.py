"""What the tube is."""

from __future__ import annotations

from plumbend.records import record


@record
class Tubing:
    """The straight stock: outside diameter and wall in mm, metal in the user's words."""

    od: float
    wall: float | None = None
    metal: str | None = None
