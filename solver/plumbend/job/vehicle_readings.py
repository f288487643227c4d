"""Readings of the vehicle made of what was typed, and whether the places and datums that they name are there."""

from __future__ import annotations

import difflib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, cast

from plumbend.errors import BadValue
from plumbend.job import vehicle_tables as t
from plumbend.job.checking import read_table
from plumbend.job.frame_values import CENTRE
from plumbend.job.good_to import GoodTo, OneFigure
from plumbend.job.places import Mistakes, Spot
from plumbend.job.placing import Placing
from plumbend.job.vehicle_entries import Entry
from plumbend.measuring.accuracies import sd_from_good_to
from plumbend.measuring.lengths import Along, Datum, Down, Gap, Height, Off, OffPlane, Tape
from plumbend.measuring.places import AXES
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Below, Coordinate, Drop, InLine, Level, SymmetricPair
from plumbend.measuring.tapes import TapeHabits
from plumbend.measuring.touched import Side, Touched

_GOOD_TO: dict[str, OneFigure] = {
    "tape": "vehicle tape",
    "along": "vehicle tape",
    "off": "vehicle tape",
    "gap": "vehicle tape",
    "line": "vehicle tape",
    "height": "height",
    "down": "height",
    "level": "height",
    "drop": "drop",
    "below": "drop",
}
"""The accuracy of each kind; a single coordinate and a pair are as good as typed points."""

_NO_PLACE = "Height and down are measured from a datum, off from the centre plane; all else from a base or a point."


@dataclass
class VehicleReadingMaker:
    """Makes readings of what was typed.

    Attributes:
        placing: the places there are.
        datums: by name.
        datum: the one that heights are over which do not say; None where that must be asked.
        habits: how the tape is read.
        od: mm of the tubing, touched at points of tubes where nothing else is said; None where a mistake hides it.
        good_to: what readings are good to.
        mistakes: what is wrong is noted here.
        others: places that readings alone name, in order.
        names_are_sure: whether ``placing`` knows every point: mistakes in tubes may hide some.
        od_assumed: whether ``od`` was used.
    """

    placing: Placing
    datums: Mapping[str, Datum]
    datum: Datum | None
    habits: TapeHabits
    od: float | None
    good_to: GoodTo
    mistakes: Mistakes
    names_are_sure: bool = True
    others: list[str] = field(default_factory=list)
    od_assumed: bool = False

    def make(self, entry: Entry) -> Reading | None:
        """The reading that was typed; None with the mistakes noted."""
        before = len(self.mistakes)
        row = read_table(entry.kind.table, entry.row, entry.spot, entry.reading, self.mistakes)
        self._check_places(entry)
        self._check_plane(row, entry.spot)
        if len(self.mistakes) > before or row.to is None:
            return None
        common = {"sd": self._sd(row, entry.how), "typed": entry.typed}
        if isinstance(row, t.TouchingRow):
            common["touched"] = self._touched(row.touched, row.od, "", row.to, entry.spot)
        try:
            reading = self._to_datum(row, row.to, entry, common) or self._to_places(row, row.to, entry.spot, common)
            if reading is not None:
                _ = reading.doubt  # a tape may have no limit for so long a length
        except BadValue as fault:
            what, _, mend = str(fault).rpartition(". ")
            self.mistakes.add(entry.spot, (), what, mend)
            return None
        return reading

    def _to_datum(self, row: t.VehicleRow, to: str, entry: Entry, common: dict[str, Any]) -> Reading | None:
        """A reading of one place alone."""
        match row:
            case t.HeightRow(height=float() as height):
                datum = self._datum(row.datum, entry.spot)
                return None if datum is None else Height(to, datum, value=height, **common)
            case t.DownRow(down=float() as down):
                datum = self._datum(row.datum, entry.spot)
                return None if datum is None else Down(to, datum, value=down, **common)
            case t.DropRow(drop=(float() as forward, float() as left)):
                return Drop(to, forward, left, **common)
            case t.ForwardRow(forward=float() as forward):
                return Coordinate(to, "forward", forward, **common)
            case t.LeftRow(left=float() as left):
                return Coordinate(to, "left", left, **common)
            case t.UpRow(up=float() as up):
                return Coordinate(to, "up", up, **common)
        return None

    def _to_places(self, row: t.VehicleRow, to: str, spot: Spot, common: dict[str, Any]) -> Reading | None:
        """A reading between places, or off a plane."""
        match row:
            case t.TapeRow(start=str() as start, tape=float() as tape):
                other = self._touched(row.from_touched, row.from_od, "from_", start, spot)
                return Tape(to, start, value=tape, habits=self.habits, start_touched=other, **common)
            case t.AlongRow(between=(str() as start, str() as end), along=float() as along):
                return Along(to, start, end, value=along, habits=self.habits, **common)
            case t.OffRow(line=(str() as start, str() as end), off=float() as off):
                return Off(to, start, end, value=off, **common)
            case t.OffRow(line=(str(),), off=float() as off):
                return OffPlane(to, t.CENTRE_PLANE, value=off, **common)
            case t.GapRow(surface=str() as surface, gap=float() as gap, away=tuple() as away):
                return Gap(to, surface, away, value=gap, **common)
            case t.LevelRow(level=str() as level):
                other = self._touched(row.from_touched, row.from_od, "from_", level, spot)
                return Level(to, level, row.step or 0.0, other_touched=other, **common)
            case t.BelowRow(below=str() as below):
                return Below(to, below, **common)
            case t.LineRow(line=(str() as start, str() as end)):
                return InLine(to, start, end, **common)
            case t.PairRow(pair=str() as right):
                return SymmetricPair(to, right, t.CENTRE_PLANE, **common)
        return None

    def _sd(self, row: t.VehicleRow, how: str) -> float:
        """One standard deviation, mm, of each of its numbers."""
        if how in _GOOD_TO:
            return self.good_to.sd(_GOOD_TO[how], row.good_to)
        if row.good_to is not None:
            return sd_from_good_to(row.good_to)
        sds = self.good_to.sds(None)
        return next((sd for axis, sd in zip(AXES, sds, strict=True) if axis == how), max(sds))

    def _touched(self, side: str | None, od: float | None, before: str, place: str, spot: Spot) -> Touched | None:
        """The side that was touched at a place; None for its centre, or with the mistake noted."""
        if side is None:
            if od is not None:
                mend = f'Add {before}touched, such as {before}touched = "near side", or take it out.'
                self.mistakes.add(spot, (f"{before}od",), "it does not say which side was touched", mend)
            return None
        if side == CENTRE:
            return None
        if od is None and place in self.placing.typed:
            od, self.od_assumed = self.od, True
        elif od is None:
            mend = f'Say it, such as {before}od = "1-1/2".'
            what = f"it does not say how thick {place} is where it was touched"
            self.mistakes.add(spot, (f"{before}touched",), what, mend)
        return None if od is None else Touched(cast(Side, side), od)

    def _datum(self, name: str | None, spot: Spot) -> Datum | None:
        """The datum of a name; None with the mistake noted."""
        if name is None:
            if self.datum is None:
                names = " or ".join(f'"{datum}"' for datum in self.datums)
                mend = f"Say from what: {names}."
                self.mistakes.add(spot, (), "it does not say what the height is over", mend)
            return self.datum
        if name not in self.datums:
            near = difflib.get_close_matches(name.lower(), self.datums, n=1, cutoff=0.6)
            mend = f'Did you mean "{near[0]}"?' if near else f"There are: {', '.join(self.datums)}."
            self.mistakes.add(
                spot, ("from",), f'there is no datum "{name}"', f"{mend} Each has a [[datum]] of its own."
            )
        return self.datums.get(name)

    def _check_places(self, entry: Entry) -> None:
        """Note names that are those of no place; take in places that readings alone name."""
        for keys, name in entry.named:
            if name in self.placing.bases or name in self.placing.typed or name in self.others:
                continue
            if name.lower() in (*self.datums, *t.PLANE_NAMES):
                self.mistakes.add(entry.spot, keys, f'"{name}" is no base or point', _NO_PLACE)
                continue
            mend = self.placing.slip(name, self.others) if self.names_are_sure else None
            if mend is None:
                self.others.append(name)
            else:
                self.mistakes.add(entry.spot, keys, f'there is no base or point "{name}"', mend)

    def _check_plane(self, row: t.VehicleRow, spot: Spot) -> None:
        """Note what a place is said to be off, where that is one name and not the centre plane's."""
        match row:
            case t.OffRow(line=(str() as name,)) if name.lower() not in t.PLANE_NAMES:
                mend = "Name both ends of the string, B1 and B2, or write centre plane."
                self.mistakes.add(spot, ("from",), f'"{name}" alone is no string and no plane', mend)
