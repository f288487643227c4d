"""Readings of the vehicle: a table for each word that says how it was read, and what a line or a row of it holds.

Keys that are missing or wrong are None here, as in :mod:`plumbend.job.tables`.
"""

# no deferred annotations here: the tables would have to compile every one of them again

from typing import Annotated, ClassVar

from pydantic import Field

from plumbend.job import frame_values as f
from plumbend.job import values as v
from plumbend.job.tables import Table
from plumbend.records import record

_From = Annotated[str | None, v.TEXT, Field(alias="from", description='from where, such as from = "B1"')]
_Between = Annotated[
    tuple[str, str] | None,
    f.TWO_NAMES,
    Field(alias="from", description='between which two the string runs, such as from = ["B1", "B2"]'),
]


class VehicleRow(Table):
    """What every reading may say."""

    needed: ClassVar[tuple[str, ...]] = ("to",)

    to: Annotated[str | None, v.TEXT, Field(description='which place, such as to = "A"')] = None
    good_to: Annotated[float | None, v.LENGTH_GOOD_TO] = None
    note: Annotated[str | None, v.TEXT] = None
    out: Annotated[bool | None, v.YES_OR_NO] = None


class TouchingRow(VehicleRow):
    """A reading to a place whose side may have been touched in place of its centre."""

    touched: Annotated[str | None, f.TOUCHED] = None
    od: Annotated[float | None, v.SIZE] = None


class TouchingBothRow(TouchingRow):
    """A reading between two places of which either may have been touched at its side."""

    from_touched: Annotated[str | None, f.TOUCHED] = None
    from_od: Annotated[float | None, v.SIZE] = None


class TapeRow(TouchingBothRow):
    """Tape from a place to a place."""

    needed = ("to", "from")

    start: _From = None
    tape: Annotated[float | None, v.SIZE] = None


class HeightRow(TouchingRow):
    """Height over a datum."""

    datum: Annotated[str | None, v.TEXT, Field(alias="from")] = None
    height: Annotated[float | None, f.UP] = None


class DownRow(TouchingRow):
    """How far down from a string or a laser line above."""

    needed = ("to", "from")

    datum: Annotated[str | None, v.TEXT, Field(alias="from", description='from what line, such as from = "laser"')] = (
        None
    )
    down: Annotated[float | None, v.LENGTH_FROM_ZERO] = None


class DropRow(TouchingRow):
    """Where a plumb bob meets the floor, forward and left."""

    drop: Annotated[tuple[float, float] | None, f.DROP] = None


class ForwardRow(TouchingRow):
    """How far forward."""

    forward: Annotated[float | None, f.FORWARD] = None


class LeftRow(TouchingRow):
    """How far left or right."""

    left: Annotated[float | None, f.LEFT] = None


class UpRow(TouchingRow):
    """How far up."""

    up: Annotated[float | None, f.UP] = None


class AlongRow(TouchingRow):
    """How far along a string between two places, from the first of them."""

    needed = ("to", "from")

    between: _Between = None
    along: Annotated[float | None, f.LENGTH] = None


class OffRow(TouchingRow):
    """How far off a string, level and square to it, to its left looking from its first end; or off a plane."""

    needed = ("to", "from")

    line: Annotated[
        tuple[str, ...] | None,
        f.STRING_OR_PLANE,
        Field(alias="from", description='off what, such as from = ["B1", "B2"] or from = "centre plane"'),
    ] = None
    off: Annotated[float | None, f.LEFT] = None


class GapRow(TouchingRow):
    """How far a place stands off a flat surface on which another place lies."""

    needed = ("to", "from", "away")

    surface: Annotated[
        str | None, v.TEXT, Field(alias="from", description='from which place on the surface, such as from = "S"')
    ] = None
    gap: Annotated[float | None, v.LENGTH_FROM_ZERO] = None
    away: Annotated[
        tuple[float, float, float] | None,
        f.AWAY,
        Field(description='which way it stands off the surface, such as away = "up"'),
    ] = None


class LevelRow(TouchingBothRow):
    """Two places at one height, or one a step above the other."""

    level: Annotated[str | None, v.TEXT] = None
    step: Annotated[float | None, f.UP] = None


class BelowRow(TouchingRow):
    """One place straight under another."""

    below: Annotated[str | None, v.TEXT] = None


class LineRow(TouchingRow):
    """A place in line with two others."""

    line: Annotated[tuple[str, str] | None, f.TWO_NAMES] = None


class PairRow(VehicleRow):
    """A left place and the right one that mirrors it."""

    pair: Annotated[str | None, v.TEXT] = None


@record
class Kind:
    """What one word reads.

    Attributes:
        table: of its rows.
        example: a line of it.
        names_under: the key of the names that follow the word; "" where there are none.
        names: fewest and most names.
        figures_under: the key of what was read; "" where nothing is.
        figures: fewest and most figures.
    """

    table: type[VehicleRow]
    example: str
    names_under: str = ""
    names: tuple[int, int] = (0, 0)
    figures_under: str = ""
    figures: tuple[int, int] = (0, 0)

    @property
    def names_datum(self) -> bool:
        """Whether its name is that of a datum, not of a place."""
        return self.table in (HeightRow, DownRow)


_ONE, _TWO = (1, 1), (2, 2)

KINDS: dict[str, Kind] = {
    "tape": Kind(TapeRow, "A tape B1 41-3/8", "from", _ONE, "tape", _ONE),
    "height": Kind(HeightRow, "A height 34-3/8", "from", (0, 1), "height", _ONE),
    "down": Kind(DownRow, "A down laser 5-1/4", "from", _ONE, "down", _ONE),
    "drop": Kind(DropRow, "A drop 14, L 12-1/2", "", (0, 0), "drop", _TWO),
    "forward": Kind(ForwardRow, "A forward 14", "", (0, 0), "forward", _ONE),
    "left": Kind(LeftRow, "A left 12-1/2", "", (0, 0), "left", _ONE),
    "up": Kind(UpRow, "A up 34-3/8", "", (0, 0), "up", _ONE),
    "along": Kind(AlongRow, "A along B1 B2 30-1/4", "from", _TWO, "along", _ONE),
    "off": Kind(OffRow, "A off B1 B2 L 6-1/8", "from", (1, 2), "off", _ONE),
    "gap": Kind(GapRow, "A gap S 3/4 away up", "from", _ONE, "gap", _ONE),
    "level": Kind(LevelRow, "A level B", "level", _ONE, "step", (0, 1)),
    "below": Kind(BelowRow, "A below B", "below", _ONE),
    "line": Kind(LineRow, "A line B1 B2", "line", _TWO),
    "pair": Kind(PairRow, "L1 pair R1", "pair", _ONE),
}
"""Kinds of reading by the word that says how it was read."""

SAME_WORDS: dict[str, str] = {"in line": "line", "fwd": "forward"}
"""Other words for some of them."""

CENTRE_PLANE = "centre plane"
PLANE_NAMES = frozenset({"centre plane", "center plane", "centre", "center"})
