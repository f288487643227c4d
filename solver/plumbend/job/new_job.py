"""The text that a new job begins with."""

from __future__ import annotations

from plumbend.job.toml_text import Value, value_text
from plumbend.units import Units

_REMARK_COLUMN = 30
_HEAD = """\
# Forward is along the vehicle, left is the driver's left, up is plumb: "fwd 3", "R 12", "down 2" say it in words.
# Lengths: {examples}. A figure with its unit or a fraction goes in quotes.
"""
_EXAMPLES: dict[Units, str] = {
    "in": """34.5, "34-3/8", '3ft 4-1/2"', "1016 mm\"""",
    "mm": """1016, 12.5, "1.2 m", "40-5/8\"""",
}


def new_job_text(
    *,
    title: str,
    units: Units | None,
    od: Value | None = None,
    tube: str | None = None,
    shop: str | None = None,
    wall: Value | None = None,
    metal: str | None = None,
    die: Value | None = None,
    bends: int | None = None,
) -> str:
    """A job with one tube that has no points yet; keys that are None are left out.

    Without units the remark on how lengths are typed is that of inches.
    """
    lines = [
        _HEAD.format(examples=_EXAMPLES[units or "in"]).rstrip("\n"),
        _line("title", title),
        _line("units", units, "in or mm: how bare figures are read"),
        _line("shop", shop, "beside this file"),
        "",
        "[tubing]",
        _line("od", od, "outside diameter"),
        _line("wall", wall),
        _line("metal", metal),
        "",
        "[[tube]]",
        _line("name", tube),
        _line("die", die),
        _line("bends", bends, "take this line out to have them found"),
        _remarked("points = [", "in order from the start end to the far end"),
        "]",
    ]
    return "".join(f"{line}\n" for line in lines if line is not None)


def _line(key: str, value: Value | None, remark: str = "") -> str | None:
    return None if value is None else _remarked(f"{key} = {value_text(value)}", remark)


def _remarked(text: str, remark: str) -> str:
    return f"{text:<{_REMARK_COLUMN - 1}} # {remark}" if remark else text
