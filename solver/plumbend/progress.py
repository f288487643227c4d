"""How far the work on a scan has come, told to whoever waits for it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal, TypeAlias

Stage: TypeAlias = Literal["reading the scan", "finding the straights", "fitting the tube"]

Progress: TypeAlias = Callable[[Stage, int], None]
"""Called as each stage of a scan begins, with the number of its places, or of its lines while it is read."""


def untold(_stage: Stage, _places: int) -> None:
    """Nobody is waiting."""
