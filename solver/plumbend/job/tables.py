"""The tables and rows of job and shop files: which keys they have and what may stand in them.

Any key may be missing or wrong and is then None here: the checker reports it, and what else can be checked goes
on. Field descriptions end up in messages, as what to write.
"""

# no deferred annotations here: the tables would have to compile every one of them again

from collections.abc import Iterable
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field
from pydantic.fields import FieldInfo

from plumbend.job import evidence_values as e
from plumbend.job import frame_values as f
from plumbend.job import shop_values as s
from plumbend.job import values as v
from plumbend.measuring.places import Hint
from plumbend.shop import Begins, Marks, MeasuredFrom, Springback
from plumbend.tubing import Edges
from plumbend.units import Units


class Table(BaseModel):
    """A table or row. ``needed`` keys must be there; ``later`` keys are known but not read yet."""

    model_config = ConfigDict(strict=True, extra="forbid", defer_build=True)  # most tables go unused
    needed: ClassVar[tuple[str, ...]] = ()
    later: ClassVar[frozenset[str]] = frozenset()
    _typed: frozenset[str] = frozenset()
    _misspelt: frozenset[str] = frozenset()

    def says(self, key: str) -> bool:
        """Whether a key was typed, right, wrong or misspelt: what is wrong with it is told of itself, and it is not
        missing."""
        return key in self._typed or key in self._misspelt

    def misspells(self, key: str) -> bool:
        """Whether something that was meant to stand under a key stands under a misspelt one, and was not read."""
        return key in self._misspelt

    def as_typed(self, keys: Iterable[str], misspelt: Iterable[str]) -> Self:
        """The same table, which :meth:`says` what was typed, and ``misspelt`` as well."""
        self._typed, self._misspelt = frozenset(keys), frozenset(misspelt)
        return self

    @classmethod
    def typed_keys(cls) -> dict[str, FieldInfo]:
        """Its fields by the keys that are typed; a key such as "from" is no name that a field could have."""
        return {field.alias or name: field for name, field in cls.model_fields.items()}


class ShopFile(Table):
    """The top of a shop file."""

    needed = ("units", "die")
    later = frozenset({"saw", "stock"})

    units: Annotated[Units | None, v.UNITS, Field(description='units = "in" or units = "mm"')] = None
    bender: Annotated[dict[str, Any] | None, v.one_table("[bender]")] = None
    notcher: Annotated[dict[str, Any] | None, v.one_table("[notcher]")] = None
    habit: Annotated[dict[str, Any] | None, v.one_table("[habit]")] = None
    die: Annotated[
        list[dict[str, Any]] | None, v.tables("[[die]]"), Field(description='[[die]] and below it clr = "5-1/2"')
    ] = None


class JobFile(Table):
    """The top of a job file."""

    needed = ("units", "tubing", "tube")
    later = frozenset({"saw", "stock"})

    title: Annotated[str | None, v.TEXT] = None
    units: Annotated[Units | None, v.UNITS, Field(description='units = "in" or units = "mm"')] = None
    shop: Annotated[str | None, v.TEXT] = None
    readings: Annotated[str | list[dict[str, Any]] | None, f.READINGS] = None
    tubing: Annotated[
        dict[str, Any] | None,
        v.one_table("[tubing]"),
        Field(description='[tubing] and below it od = "1-1/2"'),
    ] = None
    good_to: Annotated[dict[str, Any] | None, v.one_table("[good_to]")] = None
    base: Annotated[list[dict[str, Any]] | None, v.tables("[[base]]")] = None
    datum: Annotated[list[dict[str, Any]] | None, v.tables("[[datum]]")] = None
    floor: Annotated[dict[str, Any] | None, v.one_table("[floor]")] = None
    centre_plane: Annotated[dict[str, Any] | None, v.one_table("[centre_plane]")] = None
    frame: Annotated[dict[str, Any] | None, v.one_table("[frame]")] = None
    tape: Annotated[dict[str, Any] | None, v.one_table("[tape]")] = None
    bender: Annotated[dict[str, Any] | None, v.one_table("[bender]")] = None
    notcher: Annotated[dict[str, Any] | None, v.one_table("[notcher]")] = None
    habit: Annotated[dict[str, Any] | None, v.one_table("[habit]")] = None
    die: Annotated[list[dict[str, Any]] | None, v.tables("[[die]]")] = None
    neighbour: Annotated[list[dict[str, Any]] | None, v.tables("[[neighbour]]")] = None
    tube: Annotated[
        list[dict[str, Any]] | None,
        v.tables("[[tube]]"),
        Field(description="[[tube]] and below it its name and points"),
    ] = None


class TubingTable(Table):
    """The straight stock."""

    needed = ("od",)

    od: Annotated[float | None, v.SIZE, Field(description='the outside diameter, such as od = "1-1/2"')] = None
    wall: Annotated[float | None, v.SIZE] = None
    metal: Annotated[str | None, v.TEXT] = None


class GoodToTable(Table):
    """What the user's measurements are good to."""

    point: Annotated[tuple[float, float, float] | None, e.GOOD_TO] = None
    tape: Annotated[float | None, v.LENGTH_GOOD_TO] = None
    height: Annotated[float | None, v.LENGTH_GOOD_TO] = None
    drop: Annotated[float | None, v.LENGTH_GOOD_TO] = None
    angle: Annotated[float | None, e.ANGLE_GOOD_TO] = None
    slope: Annotated[float | None, e.ANGLE_GOOD_TO] = None
    rotation: Annotated[float | None, e.ANGLE_GOOD_TO] = None
    scan: Annotated[float | None, v.LENGTH_GOOD_TO] = None


class BenderTable(Table):
    """The machine that the dies sit on."""

    drive: Annotated[Literal["manual", "hydraulic"] | None, s.DRIVE] = None
    plane: Annotated[Literal["level", "upright"] | None, s.PLANE] = None
    swings: Annotated[Literal["left", "right", "up", "down"] | None, s.SWINGS] = None
    dial_step: Annotated[float | None, s.DIAL_STEP] = None
    dial_slack: Annotated[float | None, s.SLACK] = None
    tape_step: Annotated[float | None, s.TAPE_STEP] = None


class NotcherTable(Table):
    """The hole-saw notcher that ends are cut on."""

    most_off_square: Annotated[float | None, s.OFF_SQUARE] = None
    clamp: Annotated[float | None, v.SIZE] = None
    cup: Annotated[float | None, v.SIZE] = None


class HabitTable(Table):
    """How the man at the bender works."""

    begin: Annotated[Begins | None, s.BEGIN] = None
    marks: Annotated[Marks | None, s.MARKS] = None
    measure: Annotated[MeasuredFrom | None, s.MEASURE] = None
    trim: Annotated[float | None, s.TRIM] = None


class DieTable(Table):
    """One bend die."""

    needed = ("clr",)

    name: Annotated[str | None, v.TEXT] = None
    clr: Annotated[float | None, v.SIZE, Field(description='the centreline radius, such as clr = "5-1/2"')] = None
    od: Annotated[float | None, v.SIZE] = None
    bent_clr: Annotated[float | None, v.SIZE] = None
    max_wrap: Annotated[float | None, s.POINTER] = None
    grip: Annotated[float | None, v.LENGTH_FROM_ZERO] = None
    tail: Annotated[float | None, v.LENGTH_FROM_ZERO] = None
    reference_offset: Annotated[float | None, s.OFFSET] = None
    springback: Annotated[Springback | None, s.SPRINGBACK] = None
    stock_per_degree: Annotated[float | None, v.SIZE] = None
    test_bends: Annotated[list[dict[str, Any]] | None, s.TEST_BENDS] = None
    calibrated: Annotated[dict[str, Any] | None, s.KEPT] = None
    earlier: Annotated[list[dict[str, Any]] | None, s.EARLIER] = None


class CalibratedTable(Table):
    """When and on what batch the figures of a die were told by test bends, and what they are good to."""

    date: Annotated[str | None, s.DATE] = None
    batch: Annotated[str | None, v.TEXT] = None
    figures: Annotated[dict[str, Any] | None, s.FIGURES] = None
    good_to: Annotated[dict[str, Any] | None, s.FIGURES_GOOD_TO] = None


class FiguresTable(Table):
    """Figures of a die as test bends told them; typed over in the die itself, those there count."""

    reference_offset: Annotated[float | None, s.OFFSET] = None
    bent_clr: Annotated[float | None, v.SIZE] = None
    stock_per_degree: Annotated[float | None, v.SIZE] = None
    springback: Annotated[Springback | None, s.SPRINGBACK] = None


class FiguresGoodToTable(Table):
    """What the figures of a die are good to."""

    reference_offset: Annotated[float | None, v.SIZE] = None
    bent_clr: Annotated[float | None, v.SIZE] = None
    stock_per_degree: Annotated[float | None, v.SIZE] = None
    springback: Annotated[tuple[float, float, float] | None, s.STOPS_GOOD_TO] = None


class EarlierRow(FiguresTable):
    """Figures of a die that later test bends replaced."""

    date: Annotated[str | None, s.DATE] = None
    batch: Annotated[str | None, v.TEXT] = None


class TestBendRow(Table):
    """One test bend of a die."""

    needed = ("sawn", "mark", "angle")

    date: Annotated[str | None, s.DATE] = None
    batch: Annotated[str | None, v.TEXT] = None
    sawn: Annotated[float | None, v.SIZE, Field(description="the length of the piece, such as sawn = 40")] = None
    mark: Annotated[float | None, v.SIZE, Field(description="the mark from the clamped end, such as mark = 16")] = None
    pointer: Annotated[float | None, s.POINTER] = None
    angle: Annotated[float | None, v.BEND_ANGLE, Field(description="the finished angle, such as angle = 90")] = None
    clamp_leg: Annotated[float | None, v.SIZE] = None
    tail_leg: Annotated[float | None, v.SIZE] = None
    width: Annotated[float | None, v.SIZE] = None


class TubeTable(Table):
    """One tube wanted."""

    needed = ("name",)

    name: Annotated[str | None, v.TEXT, Field(description='name = "left rail"')] = None
    die: Annotated[str | float | None, v.DIE_CHOICE] = None
    bends: Annotated[int | None, v.BEND_COUNT] = None
    points: Annotated[str | list[dict[str, Any]] | None, e.POINTS] = None
    ordered: Annotated[bool | None, v.YES_OR_NO] = None
    readings: Annotated[list[dict[str, Any]] | None, e.READINGS] = None
    scan: Annotated[str | None, v.TEXT] = None
    scan_good_to: Annotated[float | None, v.LENGTH_GOOD_TO] = None
    scan_alike: Annotated[float | None, v.SIZE] = None
    planar: Annotated[bool | None, v.YES_OR_NO] = None
    copied: Annotated[bool | None, v.YES_OR_NO] = None
    demands: Annotated[list[dict[str, Any]] | None, e.DEMANDS] = None
    program: Annotated[list[dict[str, Any]] | None, v.PROGRAM] = None


CUT_KEYS = ("on", "square", "mitre", "short_side", "allowance", "edge")
"""Keys of a point that say what the tube's end there is cut to."""


class PointRow(Table):
    """One point of a tube; of one that readings place, ``at`` may be left out, or "?" in it."""

    needed = ("name", "what")

    name: Annotated[str | None, v.TEXT, Field(description='name = "A"')] = None
    what: Annotated[
        str | None, e.KIND, Field(description='what = "end", "corner", "centre", "outside", "touch" or "clear"')
    ] = None
    at: Annotated[
        tuple[float | None, float | None, float | None] | None,
        f.POINT_PLACE,
        Field(description='forward, left and up, such as at = [14, "L 12-1/2", 37]'),
    ] = None
    leg: Annotated[int | None, v.WHOLE] = None
    bend: Annotated[int | None, v.WHOLE] = None
    side: Annotated[tuple[float, float, float] | None, e.SIDE] = None
    gap: Annotated[float | None, v.LENGTH_FROM_ZERO] = None
    tube_is: Annotated[tuple[float, float, float] | None, e.TUBE_IS] = None
    exact: Annotated[bool | None, e.EXACT] = None
    within: Annotated[float | None, v.SIZE] = None
    on: Annotated[tuple[str, ...] | None, e.ON] = None
    square: Annotated[bool | None, e.EXACT] = None
    mitre: Annotated[float | None, e.MITRE] = None
    short_side: Annotated[tuple[float, float, float] | None, e.SHORT_SIDE] = None
    allowance: Annotated[float | None, v.LENGTH_FROM_ZERO] = None
    edge: Annotated[Edges | None, e.EDGE] = None
    hint: Annotated[tuple[Hint, ...] | None, f.HINT] = None
    good_to: Annotated[tuple[float, float, float] | None, e.GOOD_TO] = None
    note: Annotated[str | None, v.TEXT] = None


class PlaceRow(Table):
    """One place alone: a corner of a tube that comes without a job, or a row of a scan."""

    at: Annotated[tuple[float, float, float] | None, e.PLACE] = None


class ProgramRow(Table):
    """A straight and the bend after it; the last row is a straight alone."""

    needed = ("straight",)

    straight: Annotated[float | None, v.LENGTH_FROM_ZERO, Field(description="the straight before the bend")] = None
    turn: Annotated[float | None, v.TURN] = None
    bend: Annotated[float | None, v.BEND_ANGLE] = None
