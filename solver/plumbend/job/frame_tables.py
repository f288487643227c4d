"""The tables of what a vehicle is measured from: bases, datums, the centre plane, the frame, the tape's habits."""

# no deferred annotations here: the tables would have to compile every one of them again

from typing import Annotated

from pydantic import Field

from plumbend.job import evidence_values as e
from plumbend.job import frame_values as f
from plumbend.job import values as v
from plumbend.job.tables import Table
from plumbend.measuring.places import Hint


class BaseTable(Table):
    """A place that readings are taken from; of ``at``, what is left out or "?" is found from the readings."""

    needed = ("name",)

    name: Annotated[str | None, v.TEXT, Field(description='name = "B1"')] = None
    at: Annotated[f.Partly | None, f.PARTLY] = None
    good_to: Annotated[tuple[float, float, float] | None, e.GOOD_TO] = None
    hint: Annotated[tuple[Hint, ...] | None, f.HINT] = None
    note: Annotated[str | None, v.TEXT] = None


class DatumTable(Table):
    """A level string or laser line that heights are taken from."""

    needed = ("name", "at")

    name: Annotated[str | None, v.TEXT, Field(description='name = "laser"')] = None
    at: Annotated[float | None, f.UP, Field(description="how high it is, such as at = 40")] = None


class FloorTable(Table):
    """The floor that heights are over: how high it is at forward 0, left 0, and how it falls."""

    at: Annotated[float | None, f.UP] = None
    fall_forward: Annotated[float | None, f.LENGTH] = None
    fall_left: Annotated[float | None, f.LENGTH] = None
    over: Annotated[float | None, v.SIZE] = None


class CentrePlaneTable(Table):
    """The plumb plane from front to back that is the vehicle's middle."""

    offset: Annotated[float | None, f.LEFT_OR_FOUND] = None
    heading: Annotated[float | None, f.HEADING] = None


class FrameTable(Table):
    """What forward, left and up are counted from, where no base has its place."""

    bases: Annotated[tuple[str, str, str] | None, f.THREE_NAMES] = None
    zero: Annotated[str | None, v.TEXT] = None


class TapeTable(Table):
    """How the tape is read."""

    read_from: Annotated[float | None, v.LENGTH_FROM_ZERO] = None
    hook_worn: Annotated[float | None, f.LENGTH] = None
    division: Annotated[float | None, v.SIZE] = None
    tape_class: Annotated[str | None, f.TAPE_CLASS, Field(alias="class")] = None
    warmer: Annotated[float | None, f.DEGREES] = None
