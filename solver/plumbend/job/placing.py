"""Which places there are: bases, points of tubes that readings place, and others that readings alone name."""

from __future__ import annotations

import difflib
import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from plumbend.errors import BadText
from plumbend.job.frame_values import Partly
from plumbend.job.good_to import GoodTo
from plumbend.job.places import Mistakes, Spot
from plumbend.job.tables import PointRow
from plumbend.measuring.places import Place
from plumbend.typed import parse_length

if TYPE_CHECKING:  # a job without readings of the vehicle does not pay for them
    from plumbend.job.vehicle_entries import Entries

_ALIKE = 0.7
"""A name this much like a known one, and said only once, is a slip: B11 for B1, but not B5."""


_NOWHERE: Partly = (None, None, None)


@dataclass
class Placing:
    """Places of one job while it is being read.

    Attributes:
        bases: by name.
        times: how often readings name each place.
        is_sure: whether these are all readings: mistakes may hide some.
        measured: whether the job has bases or readings at all.
        hides_names: whether mistakes in the tubes may hide the names of some points.
        points: points of tubes that readings place, by name.
        typed: names of all points of tubes.
    """

    bases: Mapping[str, Place] = field(default_factory=dict)
    times: Counter[str] = field(default_factory=Counter)
    is_sure: bool = True
    measured: bool = False
    hides_names: bool = False
    points: dict[str, Place] = field(default_factory=dict)
    typed: set[str] = field(default_factory=set)

    @classmethod
    def of(cls, bases: Mapping[str, Place], entries: Entries, measured: bool) -> Placing:
        """Before any tube is read."""
        times = Counter(name for entry in entries.counted for _, name in entry.named)
        return cls(bases, times, entries.is_sure, measured)

    def add_point(self, row: PointRow, has_at: bool, good_to: GoodTo, spot: Spot, mistakes: Mistakes) -> bool:
        """Take in a point of a tube; whether readings place it.

        Args:
            row: the point as checked.
            has_at: its place is typed, readable or not.
            good_to: accuracies of the job.
            spot: where it stands.
            mistakes: what is wrong with it beside the readings is noted here.
        """
        name = row.name
        if name is None:
            self.hides_names = True
            return False
        self.typed.add(name)
        if name not in self.times and name not in self.bases:
            self._check_alone(row, has_at, spot, mistakes)
            return False
        at: Partly = row.at or _NOWHERE
        sd = (0.0, 0.0, 0.0)
        if at != _NOWHERE:
            sd = good_to.sds(row.good_to)
            if name in self.bases:
                what = f'there is a base "{name}" as well, so the readings may mean either'
                mistakes.add(spot, ("name",), what, 'Give one of them another name, or take "at" out of the point.')
            elif name in self.points and self.points[name].at != _NOWHERE:
                what = f'another tube has a point "{name}" as well, so the readings may mean either'
                mistakes.add(spot, ("name",), what, 'Give one of them another name, or take "at" out of one.')
        elif row.good_to is not None and (row.at is not None or not has_at):
            mend = f"Say it of the readings, or give the point its place with {_quoted_keys(spot)}."
            mistakes.add(spot, ("good_to",), "no figure is given that it could be said of", mend)
        before = self.points.get(name, Place(name))
        if before.at != _NOWHERE:
            at, sd = before.at, before.sd
        self.points[name] = replace(before, at=at, sd=sd, hints=before.hints + (row.hint or ()))
        return True

    def _check_alone(self, row: PointRow, has_at: bool, spot: Spot, mistakes: Mistakes) -> None:
        """Note a point that neither readings nor its own figures place."""
        is_open = row.at is not None and None in row.at
        name = row.name or ""
        if (has_at and not is_open) or not self.is_sure or any(_plain(name) == _plain(other) for other in self.times):
            return  # the readings' own spelling is told where they stand
        if is_open:
            what = 'no reading names it, so what is left open by "?" cannot be found'
            mistakes.add(spot, ("at",), what, "Measure it from a base, or type the figure.")
            return
        in_cells = spot.called(("at",)) != "at"
        missing = f"{spot.called(('at',))} are empty" if in_cells else '"at" is missing'
        write = "type its figures, be they 0" if in_cells else f"write {PointRow.typed_keys()['at'].description}"
        if self.measured:
            mistakes.add(spot, (), f"no reading names it, and {missing}", f"Measure it from a base, or {write}.")
        else:
            mistakes.add(spot, (), missing, f"{write[:1].upper()}{write[1:]}.")

    @property
    def known(self) -> list[str]:
        """Bases and points of tubes."""
        return [*self.bases, *(name for name in sorted(self.typed) if name not in self.bases)]

    def slip(self, name: str, others: Sequence[str]) -> str | None:
        """How to mend a name that is none of the known ones and looks like a slip; None for that of another place.

        Args:
            name: as a reading has it.
            others: names that readings alone gave before.
        """
        known = [*self.known, *others]
        same = [other for other in known if _plain(other) == _plain(name)]
        if same:
            return f'Did you mean "{same[0]}"? Capitals and blanks count in a name.'
        if _is_figure(name):
            return "Name the other place before the figure, or write a [[base]] of that name."
        near = difflib.get_close_matches(name, known, n=1, cutoff=_ALIKE) if self.times[name] == 1 else []
        return f'Did you mean "{near[0]}"? If not, write a [[base]] of that name.' if near else None

    def all_places(self, others: Sequence[str]) -> tuple[Place, ...]:
        """Bases, then points, then ``others``; a point at a base is that base."""
        bases = [
            replace(base, hints=base.hints + self.points[name].hints) if name in self.points else base
            for name, base in self.bases.items()
        ]
        points = [point for name, point in self.points.items() if name not in self.bases]
        return (*bases, *points, *map(Place, others))


def _quoted_keys(spot: Spot) -> str:
    """The key, or the columns, that hold a point's place."""
    keys = spot.called(("at",))
    return f'"{keys}"' if keys == "at" else keys


def _plain(name: str) -> str:
    return re.sub(r"[\s_.-]+", "", name).casefold()


def _is_figure(name: str) -> bool:
    try:
        parse_length(name, "mm")
    except BadText:
        return False
    return True
