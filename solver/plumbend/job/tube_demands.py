"""The demands on one tube: rows to demands, and whether the tube can have what they speak of."""

# no deferred annotations here: the tables would have to compile every one of them again

from collections.abc import Sequence
from typing import Annotated, Any

import numpy as np
from pydantic import Field

from plumbend.job import evidence_values as e
from plumbend.job import values as v
from plumbend.job.checking import note_unknown, read_table
from plumbend.job.good_to import GoodTo
from plumbend.job.model import ParallelToTube
from plumbend.job.places import Mistakes, Spot
from plumbend.job.tables import Table
from plumbend.job.values import MOST_BENDS, Reading
from plumbend.measuring.accuracies import sd_from_good_to
from plumbend.shape.demands import (
    BendExactly,
    Demand,
    EqualAngles,
    LegAlong,
    LegLevel,
    LegsParallel,
    Symmetric,
)

_UP = np.array([0.0, 0.0, 1.0])


class LegRow(Table):
    """How a leg is to lie; ``parallel_to`` is a leg of the same tube, or a tube's name and a leg of that."""

    needed = ("leg",)

    leg: Annotated[int | None, v.WHOLE, Field(description="which leg, such as leg = 2")] = None
    level: Annotated[bool | None, e.SAID] = None
    plumb: Annotated[bool | None, e.SAID] = None
    along: Annotated[tuple[str, tuple[float, float, float]] | None, e.ALONG] = None
    parallel_to: Annotated[tuple[str | None, int] | None, e.PARALLEL_TO] = None
    good_to: Annotated[float | None, e.ANGLE_GOOD_TO] = None
    note: Annotated[str | None, v.TEXT] = None


class BendRow(Table):
    """How far a bend is to turn."""

    needed = ("bend",)

    bend: Annotated[int | None, v.WHOLE, Field(description="which bend, such as bend = 2")] = None
    angle: Annotated[float | None, v.BEND_ANGLE] = None
    good_to: Annotated[float | None, e.ANGLE_GOOD_TO] = None
    note: Annotated[str | None, v.TEXT] = None


class EqualRow(Table):
    """Bends that are to turn alike."""

    equal_angles: Annotated[tuple[int, ...] | None, e.BENDS] = None
    good_to: Annotated[float | None, e.ANGLE_GOOD_TO] = None
    note: Annotated[str | None, v.TEXT] = None


class SymmetricRow(Table):
    """A tube whose halves mirror each other; ``good_to`` is a length."""

    symmetric: Annotated[bool | None, e.SAID] = None
    good_to: Annotated[float | None, v.SIZE] = None
    note: Annotated[str | None, v.TEXT] = None


_TABLES: dict[str, type[Table]] = {
    "level": LegRow,
    "plumb": LegRow,
    "along": LegRow,
    "parallel_to": LegRow,
    "angle": BendRow,
    "equal_angles": EqualRow,
    "symmetric": SymmetricRow,
}
"""Table of a row by the key that says what is demanded."""

_KEYS = tuple(dict.fromkeys(key for table in _TABLES.values() for key in table.model_fields))


def read_demands(
    rows: Sequence[tuple[dict[str, Any], Spot]],
    bends: int | None,
    good_to: GoodTo,
    reading: Reading,
    mistakes: Mistakes,
) -> tuple[list[Demand], list[ParallelToTube]]:
    """The demands on a tube of ``bends`` bends (None where they are still to be found) by itself, and those that
    another tube must be known for; rows with mistakes are left out, and the mistakes noted."""
    maker = _Maker(bends, good_to, mistakes)
    own: list[Demand] = []
    others: list[ParallelToTube] = []
    for row, spot in rows:
        kinds = [key for key in _TABLES if key in row]
        if len(kinds) == 1:
            made = maker.make(read_table(_TABLES[kinds[0]], row, spot, reading, mistakes), spot)
            if isinstance(made, ParallelToTube):
                others.append(made)
            elif made is not None:
                own.append(made)
        elif kinds:
            mistakes.add(
                spot, (), f"there are {len(kinds)} demands in one row: {', '.join(kinds)}", "Write a row for each."
            )
        elif unknown := [key for key in row if key not in _KEYS]:
            for key in unknown:
                note_unknown(Table, key, spot, mistakes, _KEYS)
        else:
            mistakes.add(spot, (), "it does not say what is demanded", f"Write one of {', '.join(_TABLES)}.")
    return own, others


class _Maker:
    """Makes demands of checked rows for one tube."""

    def __init__(self, bends: int | None, good_to: GoodTo, mistakes: Mistakes) -> None:
        self.bends, self.good_to, self.mistakes = bends, good_to, mistakes

    def make(self, row: Table, spot: Spot) -> Demand | ParallelToTube | None:
        """The demand of a row; None with the mistakes noted."""
        match row:
            case LegRow(leg=int() as leg):
                return self._leg(row, leg, spot) if self._has(leg, "leg", 1, spot) else None
            case BendRow(bend=int() as bend, angle=float() as angle):
                return BendExactly(bend, angle, _sd(row.good_to)) if self._has(bend, "bend", 0, spot) else None
            case EqualRow(equal_angles=tuple() as which):
                there = [self._has(bend, "bend", 0, spot, key="equal_angles") for bend in which]
                return EqualAngles(which, _sd(row.good_to)) if all(there) else None
            case SymmetricRow(symmetric=True):
                return self._symmetric(row, spot)
        return None

    def _leg(self, row: LegRow, leg: int, spot: Spot) -> Demand | ParallelToTube | None:
        sd = _sd(row.good_to)
        if row.level:
            return LegLevel(leg, sd)
        if row.plumb:
            return LegAlong(leg, _UP, "plumb", sd)
        if row.along is not None:
            called, way = row.along
            return LegAlong(leg, np.array(way), f"along {called}", sd)
        if row.parallel_to is None:
            return None
        tube, other = row.parallel_to
        if tube is not None:
            return ParallelToTube(leg, tube, other, sd)
        if other == leg:
            self.mistakes.add(spot, ("parallel_to",), "a leg is always parallel to itself", "Name another leg.")
            return None
        return LegsParallel(leg, other, sd) if self._has(other, "leg", 1, spot, key="parallel_to") else None

    def _symmetric(self, row: SymmetricRow, spot: Spot) -> Demand | None:
        if self.bends is None:
            mend = "Say how many bends the tube has, such as bends = 3."
            self.mistakes.add(spot, ("symmetric",), "nothing tells where the middle of the tube is", mend)
            return None
        if row.good_to is None:
            return Symmetric(self.bends)
        angle, rotation = (self.good_to.sd(what, None) for what in ("angle", "rotation"))
        return Symmetric(self.bends, sd_from_good_to(row.good_to), angle, rotation)

    def _has(self, number: int, kind: str, more: int, spot: Spot, key: str | None = None) -> bool:
        """Whether the tube has the leg or bend; there is one leg ``more`` than there are bends."""
        most = (MOST_BENDS if self.bends is None else self.bends) + more
        if 1 <= number <= most:
            return True
        counted = f"{most} {kind}{'s' * (most != 1)}"
        has = f"they are 1 to {most}" if self.bends is None else f"the tube has {counted}"
        mend = "Correct it, or the number of bends."
        self.mistakes.add(spot, (key or kind,), f"there is no {kind} {number}: {has}", mend)
        return False


def _sd(good_to: float | None) -> float | None:
    return None if good_to is None else sd_from_good_to(good_to)
