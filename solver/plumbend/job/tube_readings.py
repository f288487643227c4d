"""The readings of one tube: rows to readings, and whether the tube can have what they speak of."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from plumbend.job.checking import note_unknown, read_table
from plumbend.job.good_to import GoodTo
from plumbend.job.named import Named
from plumbend.job.places import Mistakes, Spot
from plumbend.job.reading_tables import (
    TABLES,
    AcrossRow,
    AngleRow,
    OutsideToEndRow,
    RotationRow,
    SlopeRow,
    TapeRow,
)
from plumbend.job.tables import Table
from plumbend.job.values import MOST_BENDS, Reading
from plumbend.job.vehicle_entries import OUT
from plumbend.records import record
from plumbend.shape.tube_readings import (
    BendAngle,
    BendRotation,
    CornersApart,
    LegsApart,
    LegSlope,
    OutsideToEnd,
    TubeReading,
)

_KEYS = tuple(dict.fromkeys(key for table in TABLES.values() for key in table.model_fields))
_NUMBERS = ", ".join(TABLES)


def read_tube_readings(
    rows: Sequence[tuple[dict[str, Any], Spot]], reading: Reading, mistakes: Mistakes
) -> list[tuple[Table, Spot]]:
    """Rows as tables of their kinds; those struck out are left out, and so are those that do not hold one reading,
    with the mistakes noted."""
    read = []
    for row, spot in rows:
        if row.get(OUT) is True:
            continue
        row = {key: value for key, value in row.items() if key != OUT or value is not False}
        numbers = [key for key in TABLES if key in row]
        if "to" in row:
            mend = "Move it into readings = [ ... ] at the top of the file, above the first heading."
            mistakes.add(spot, ("to",), "this is a reading of the vehicle, not of the tube", mend)
        elif len(numbers) == 1:
            read.append((read_table(TABLES[numbers[0]], row, spot, reading, mistakes), spot))
        elif numbers:
            what = f"there are {len(numbers)} readings in one row: {', '.join(numbers)}"
            mistakes.add(spot, (), what, "Write a row for each.")
        elif unknown := [key for key in row if key not in _KEYS]:
            for key in unknown:
                note_unknown(Table, key, spot, mistakes, _KEYS)
        else:
            mistakes.add(spot, (), "it does not say what was read", f"Write one of {_NUMBERS}.")
    return read


def least_bends(read: Sequence[tuple[Table, Spot]]) -> int:
    """Fewest bends of a tube that has all the bends, legs and corners that the rows speak of."""
    return max((_least_bends(row) for row, _ in read), default=0)


def _least_bends(row: Table) -> int:
    match row:
        case AngleRow(bend=int() as bend) | RotationRow(bend=int() as bend):
            return bend
        case SlopeRow(leg=int() as leg) | OutsideToEndRow(leg=int() as leg):
            return leg - 1
        case AcrossRow(legs=(int() as first, int() as second)):
            return max(first, second) - 1
        case TapeRow(corners=tuple() as corners):
            return max((corner - 1 for corner in corners if isinstance(corner, int)), default=0)
    return 0


@record
class ReadingMaker:
    """Makes readings of rows for one tube.

    Attributes:
        bends: number of bends; None where it is still to be found, or a mistake hides it.
        named: what readings may call by name.
        od: mm; None where a mistake hides it.
        good_to: what readings are good to.
        mistakes: what is wrong with a row is noted here.
    """

    bends: int | None
    named: Named
    od: float | None
    good_to: GoodTo
    mistakes: Mistakes

    def make(self, row: Table, spot: Spot) -> TubeReading | None:
        """The reading of a row; None with the mistakes noted."""
        match row:
            case AngleRow(bend=int() as bend):
                return self._angle(row, bend, spot)
            case RotationRow(bend=int() as bend):
                return self._rotation(row, bend, spot)
            case SlopeRow(leg=int() as leg):
                return self._slope(row, leg, spot)
            case TapeRow(corners=tuple() as corners):
                return self._tape(row, corners, spot)
            case AcrossRow(legs=tuple() as legs):
                return self._across(row, legs, spot)
            case OutsideToEndRow(leg=int() as leg):
                return self._outside_to_end(row, leg, spot)
        return None

    def _angle(self, row: AngleRow, bend: int, spot: Spot) -> TubeReading | None:
        if not self._has_bend(bend, spot) or row.angle is None:
            return None
        return BendAngle(bend, row.angle, self.good_to.sd("angle", row.good_to))

    def _rotation(self, row: RotationRow, bend: int, spot: Spot) -> TubeReading | None:
        if not self._has_bend(bend, spot) or row.rotation is None:
            return None
        if bend == 1:
            mend = "A rotation is the turn from the bend before: it is read from bend 2 on."
            self.mistakes.add(spot, ("bend",), "bend 1 has no rotation", mend)
            return None
        return BendRotation(bend, row.rotation, self.good_to.sd("rotation", row.good_to))

    def _slope(self, row: SlopeRow, leg: int, spot: Spot) -> TubeReading | None:
        if not self._has_leg(leg, "leg", spot) or row.slope is None:
            return None
        slope, unsigned = row.slope
        return LegSlope(leg, slope, self.good_to.sd("slope", row.good_to), unsigned)

    def _tape(self, row: TapeRow, corners: tuple[int | str, int | str], spot: Spot) -> TubeReading | None:
        first, second = (self._corner(corner, spot) for corner in corners)
        if first is None or second is None or row.tape is None:
            return None
        if first == second:
            mend = "A tape runs from one corner or end to another."
            self.mistakes.add(spot, ("corners",), "both corners are the same", mend)
            return None
        return CornersApart(first, second, row.tape, self.good_to.sd("tape", row.good_to))

    def _across(self, row: AcrossRow, legs: tuple[int, int], spot: Spot) -> TubeReading | None:
        first, second = legs
        if not self._has_leg(first, "legs", spot) or not self._has_leg(second, "legs", spot):
            return None
        if abs(first - second) < 2:
            what = "both legs are the same" if first == second else f"legs {first} and {second} meet in one bend"
            mend = "Take legs that face each other, such as legs = [1, 3]."
            self.mistakes.add(spot, ("legs",), what, mend)
            return None
        sd = self.good_to.sd("tape", row.good_to)
        od = self.od or 0.0
        if row.outside is not None and self._is_over(row.outside, od, "outside", "the OD", spot):
            return LegsApart(first, second, row.outside, sd, od, "outside")
        if row.inside is not None:
            return LegsApart(first, second, row.inside, sd, -od, "inside")
        if row.centres is not None:
            return LegsApart(first, second, row.centres, sd, 0.0, "centres")
        return None

    def _outside_to_end(self, row: OutsideToEndRow, leg: int, spot: Spot) -> TubeReading | None:
        if not self._has_leg(leg, "leg", spot):
            return None
        far = self._far(row.end, leg, spot)
        distance, od = row.outside_to_end, self.od or 0.0
        if distance is None or not self._is_over(distance, od / 2, "outside_to_end", "half the OD", spot):
            return None
        if far is None:
            return None
        return OutsideToEnd(leg, far, distance, self.good_to.sd("tape", row.good_to), od)

    def _far(self, end: str | None, leg: int, spot: Spot) -> bool | None:
        """Whether the end meant is the far one; None with the mistake noted."""
        beside = {False: leg == 2, True: leg == self.bends}  # the ends whose own leg is next to this one
        far: bool | None
        if end is not None:
            far = self.named.end(end)
            if far is None:
                self._note_unnamed(end, "end", spot)
        elif self.bends is not None and beside[False] != beside[True]:
            far = beside[True]
        else:
            ends = " or ".join(f'end = "{self.named.called(is_far)}"' for is_far in (False, True))
            self.mistakes.add(spot, (), "it does not say to which end", f"Add {ends}.")
            return None
        if far is not None and leg == (self._last_leg if far else 1):
            where = "far" if far else "start"
            mend = "Measure from a leg that lies across to that end's."
            self.mistakes.add(spot, ("leg",), f"the {where} end is on leg {leg} itself", mend)
            return None
        return far

    @property
    def _last_leg(self) -> int | None:
        return None if self.bends is None else self.bends + 1

    def _has_bend(self, bend: int, spot: Spot) -> bool:
        most = MOST_BENDS if self.bends is None else self.bends
        if 1 <= bend <= most:
            return True
        has = f"the tube has {most} bend{'s' * (most != 1)}" if self.bends is not None else f"they are 1 to {most}"
        self.mistakes.add(spot, ("bend",), f"there is no bend {bend}: {has}", "Correct it, or the number of bends.")
        return False

    def _has_leg(self, leg: int, key: str, spot: Spot) -> bool:
        most = MOST_BENDS + 1 if self.bends is None else self.bends + 1
        if 1 <= leg <= most:
            return True
        legs = "1 leg" if most == 1 else f"legs 1 to {most}"
        has = f"the tube has {legs}" if self.bends is not None else f"they are 1 to {most}"
        self.mistakes.add(spot, (key,), f"there is no leg {leg}: {has}", "Correct it, or the number of bends.")
        return False

    def _corner(self, corner: int | str, spot: Spot) -> int | None:
        """The number of a corner or end; None with the mistake noted."""
        most = MOST_BENDS + 1 if self.bends is None else self.bends + 1
        if isinstance(corner, int):
            if 0 <= corner <= most:
                return corner
            what = f"there is no corner {corner}: 0 is the start end, {most} the far end"
            if self.bends is None:
                what = f"there is no corner {corner}: they are 0, the start end, to {most}"
            self.mistakes.add(spot, ("corners",), what, "Correct it, or the number of bends.")
            return None
        far = self.named.end(corner)
        if corner in self.named.corners:
            return self.named.corners[corner]
        if corner in self.named.unnumbered:
            what = f'the points come in no order, so which bend corner "{corner}" is at is not known'
            self.mistakes.add(spot, ("corners",), what, "Say its bend where it stands, such as bend = 2.")
            return None
        if far is None:
            self._note_unnamed(corner, "corners", spot)
            return None
        if far and self.bends is None:
            what = f'the far end "{corner}" has no number while nothing tells how many bends the tube has'
            self.mistakes.add(spot, ("corners",), what, "Say it, such as bends = 3.")
            return None
        return most if far else 0

    def _note_unnamed(self, name: str, key: str, spot: Spot) -> None:
        if not self.named.is_sure:
            return
        known = [
            self.named.called(far=False),
            self.named.called(far=True),
            *(self.named.corners if key == "corners" else ()),
        ]
        kind = "end or corner" if key == "corners" else "end"
        mend = f"There are: {', '.join(known)}."
        self.mistakes.add(spot, (key,), f'there is no {kind} "{name}"', mend)

    def _is_over(self, distance: float, least: float, key: str, least_called: str, spot: Spot) -> bool:
        if distance > least:
            return True
        self.mistakes.add(spot, (key,), f"the distance is no more than {least_called}", "Check the figure.")
        return False
