"""What the session says to ``help``."""

from __future__ import annotations

from plumbend_cli.page import Block, Column, Paragraph, Table

_READINGS = (
    ("A tape B1 41-3/8", "tape from a base or point to a place"),
    ("A height 34-3/8", "height over the floor"),
    ("A down laser 5-1/4", "down from a string or laser line"),
    ("A drop 14, L 12-1/2", "plumb bob: forward, left or right, on the floor"),
    ("A forward 14", "one figure alone; so do left and up"),
    ("A along B1 B2 30-1/4", "along a string"),
    ("A off B1 B2 L 6-1/8", "square off a string"),
    ("A level C", "as high as another place"),
    ("A below C", "straight under another place"),
    ("A at 14, L 12-1/2, 37-1/4", "all three figures of a place"),
)
_COMMANDS = (
    ("undo", "takes the last answer back"),
    ("list", "shows the readings with their numbers"),
    ("edit 5", "types reading 5 anew"),
    ("strike 5", "strikes reading 5 out, or takes it back in"),
    ("where", "tells what is missing"),
    ("tube", "begins another tube of the same job"),
    ("done", "ends; so do Ctrl-C and Ctrl-D"),
)


def help_page() -> tuple[Block, ...]:
    """Readings and commands, with what each does."""
    return (
        Paragraph(
            "A reading is one line: the place, how it was measured, from where, what was read. Where a place is being "
            "asked about, its name may be left out. What follows # is a note; touched near side says which side was "
            "touched."
        ),
        Table((Column("type"), Column("for")), _READINGS),
        Table((Column("type"), Column("what it does")), _COMMANDS),
        Paragraph("Everything is saved as it is typed."),
    )
