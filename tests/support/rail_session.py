"""What is typed to measure the left stretcher rail of the beach-rescue tractor, in inches, answer by answer."""

from __future__ import annotations

SETTING_UP = ("Stretcher rail, left", "in", "y", "1-1/2", "0.095", "left rail", "1", "3", "", "", "", "", "left", "")
"""From the title to where the fourth base is, with a shop file beside the job."""

BASE_TAPES = ("48", "30-1/8", "48-1/16", "30", "56-3/4", "56-5/8")

POINTS = {
    "A": ("tape B1 36-9/16", "tape B4 38-9/16", "height 34-3/8", "drop 0, L 12-1/2"),
    "B": ("tape B1 38-3/16", "tape B2 56-7/16", "height 35-5/8", "drop 6, L 12-7/16"),
    "C": ("tape B1 43-13/16", "tape B2 51-1/4", "height 38-1/2", "drop 16-13/16, L 12-11/16"),
    "D": ("tape B3 51-3/16", "tape B4 50-9/16", "height 41-11/16", "drop 23-1/2, L 13-5/16"),
    "E": ("tape B2 48-9/16", "tape B3 49-1/8", "height 42-5/8", "drop 29-9/16, L 14-1/8"),
    "F": ("tape B2 45-3/4", "tape B3 45-9/16", "height 41-3/4", "drop 37-1/2, L 15-1/2"),
    "G": ("tape B2 42-3/16", "tape B4 60-1/2", "height 38-3/4", "drop 44-1/4, L 15-15/16"),
    "H": ("tape B2 37-3/4", "tape B3 37", "height 34", "drop 51-7/8, L 15-15/16"),
}

FILE = "stretcher-rail-left.toml"
"""The file that is named after the title."""


def measuring(names: str = "ABCDEFGH") -> list[str]:
    """The lines that measure points one after another, with Enter after each."""
    return [line for name in names for line in (*POINTS[name], "")]


def lines_written() -> list[str]:
    """Every reading as the job must hold it, as one line each."""
    pairs = ("B2 tape B1", "B3 tape B2", "B4 tape B3", "B1 tape B4", "B3 tape B1", "B4 tape B2")
    tapes = [f"{pair} {figure}" for pair, figure in zip(pairs, BASE_TAPES, strict=True)]
    return [*tapes, *(f"{name} {line}" for name, lines in POINTS.items() for line in lines)]
