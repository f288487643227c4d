"""Rows of readings of a tube: one table for each kind of reading, and the key by which each is told.

Keys that are missing or wrong are None here, as in :mod:`plumbend.job.tables`.
"""

# no deferred annotations here: the tables would have to compile every one of them again

from typing import Annotated

from pydantic import Field

from plumbend.job import evidence_values as e
from plumbend.job import values as v
from plumbend.job.tables import Table

_Bend = Annotated[int | None, v.WHOLE, Field(description="which bend, such as bend = 2")]
_Leg = Annotated[int | None, v.WHOLE, Field(description="which leg, such as leg = 2")]
_AngleGoodTo = Annotated[float | None, e.ANGLE_GOOD_TO]
_LengthGoodTo = Annotated[float | None, v.SIZE]
_Note = Annotated[str | None, v.TEXT]


class AngleRow(Table):
    """How far a bend turns the tube from straight."""

    needed = ("bend",)

    bend: _Bend = None
    angle: Annotated[float | None, v.BEND_ANGLE] = None
    good_to: _AngleGoodTo = None
    note: _Note = None


class RotationRow(Table):
    """The turn from the plane of the bend before."""

    needed = ("bend",)

    bend: _Bend = None
    rotation: Annotated[float | None, v.TURN] = None
    good_to: _AngleGoodTo = None
    note: _Note = None


class SlopeRow(Table):
    """A leg against level; ``slope`` is as :data:`plumbend.job.evidence_values.SLOPE` gives it."""

    needed = ("leg",)

    leg: _Leg = None
    slope: Annotated[tuple[float, bool] | None, e.SLOPE] = None
    good_to: _AngleGoodTo = None
    note: _Note = None


class TapeRow(Table):
    """Tape between two corners or ends."""

    needed = ("corners",)

    corners: Annotated[
        tuple[int | str, int | str] | None, e.CORNERS, Field(description="which two, such as corners = [1, 2]")
    ] = None
    tape: Annotated[float | None, v.SIZE] = None
    good_to: _LengthGoodTo = None
    note: _Note = None


class AcrossRow(Table):
    """Two legs over their outsides, insides or centres."""

    needed = ("legs",)

    legs: Annotated[tuple[int, int] | None, e.LEGS, Field(description="which two, such as legs = [1, 3]")] = None
    outside: Annotated[float | None, v.SIZE] = None
    inside: Annotated[float | None, v.SIZE] = None
    centres: Annotated[float | None, v.SIZE] = None
    good_to: _LengthGoodTo = None
    note: _Note = None


class OutsideToEndRow(Table):
    """The outside of a leg to an end."""

    needed = ("leg",)

    leg: _Leg = None
    outside_to_end: Annotated[float | None, v.SIZE] = None
    end: Annotated[str | None, v.TEXT] = None
    good_to: _LengthGoodTo = None
    note: _Note = None


TABLES: dict[str, type[Table]] = {
    "angle": AngleRow,
    "rotation": RotationRow,
    "slope": SlopeRow,
    "tape": TapeRow,
    "outside": AcrossRow,
    "inside": AcrossRow,
    "centres": AcrossRow,
    "outside_to_end": OutsideToEndRow,
}
"""Table of a row by the key that holds what was read."""
