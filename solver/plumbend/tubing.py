"""What the tube is."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Tubing:
    """The straight stock: outside diameter and wall in mm, metal in the user's words."""

    od: float
    wall: float | None = None
    metal: str | None = None
