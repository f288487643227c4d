"""How bases and points stand by the readings so far."""

from __future__ import annotations

from functools import cached_property

import numpy as np

from plumbend.job.half_made import HalfMade
from plumbend.measuring.adjustment import Mirror, adjust
from plumbend.measuring.loose import loose_of
from plumbend.measuring.places import AXES, Place
from plumbend.measuring.readings import Linear, Reading
from plumbend.units import Axis

VAGUE = 300.0
"""mm; a figure with more doubt than a foot counts as open: readings that run nearly along each other say no more."""


_HOW_FAR: dict[Axis, str] = {"forward": "how far forward", "left": "how far left", "up": "how high"}


class Standing:
    """Places worked out from a job so far.

    Attributes:
        half: the job.
        adjusted: its places, those aside of which nothing is known yet, and how well each is known.
    """

    def __init__(self, half: HalfMade) -> None:
        self.half = half
        self.adjusted = adjust(self.begun, half.counted, half.planes)
        self._index = {place.name: i for i, place in enumerate(self.adjusted.places)}

    @property
    def begun(self) -> list[Place]:
        """The places that something is known of."""
        named = {name for reading in self.half.counted for name in reading.places}
        return [place for place in self.half.places if place.name in named or place.at != (None, None, None)]

    @property
    def names(self) -> tuple[str, ...]:
        """Of all places."""
        return tuple(place.name for place in self.half.places)

    def figures(self, name: str) -> list[tuple[Axis, float, float]]:
        """Axis, mm and doubt in mm of every figure of a place that is known well enough to be shown."""
        hidden = self.unknown_ways(name)
        if len(hidden) == len(AXES):
            return []
        i = self._index[name]
        found = zip(AXES, self.adjusted.at[i].tolist(), self.adjusted.doubts[i].tolist(), strict=True)
        return [(axis, mm, doubt) for axis, mm, doubt in found if axis not in hidden]

    def open_ways(self, name: str) -> tuple[Axis, ...]:
        """The directions in which nothing fixes a place."""
        if name not in self._index:
            return AXES
        doubts = self.adjusted.doubts[self._index[name]]
        loose = np.isnan(doubts) | (doubts > VAGUE)
        return tuple(axis for axis, is_loose in zip(AXES, loose, strict=True) if is_loose)

    def unknown_ways(self, name: str) -> tuple[Axis, ...]:
        """The directions in which nothing is worth showing of a place.

        Of one that tapes alone leave open no figure is: where the tapes seem to fix it by the guess that it lies at,
        that may be far from where it is.
        """
        ways = self.open_ways(name)
        if not ways or name not in self._index or any(isinstance(one, Linear) for one in self.readings_of(name)):
            return ways
        place = self.adjusted.places[self._index[name]]
        return tuple(axis for axis, at in zip(AXES, place.at, strict=True) if at is None)

    def is_fixed(self, name: str) -> bool:
        """Whether readings or figures fix a place, but for a mirror answer."""
        return not self.open_ways(name)

    def mirror(self, name: str) -> Mirror | None:
        """The other answer, where one place has two and this one's side decides."""
        return next((mirror for mirror in self.adjusted.mirrors if mirror.asked == name), None)

    def readings_of(self, name: str) -> list[Reading]:
        """Those that name a place."""
        return [reading for reading in self.half.counted if name in reading.places]

    def is_checked(self, name: str) -> bool:
        """Whether every reading of a place is checked by others."""
        return not any(reading is slack for reading in self.readings_of(name) for slack in self._unchecked)

    @cached_property
    def _unchecked(self) -> tuple[Reading, ...]:
        return self.adjusted.unchecked()

    @cached_property
    def _mends(self) -> dict[str, tuple[Reading, ...]]:
        return {place.name: place.mends for place in loose_of(self.adjusted).places}

    def words(self, name: str) -> str:
        """How a place stands, in a sentence or two."""
        if ways := self.open_ways(name):
            if not self.readings_of(name):
                return f"{name} is not measured yet."
            said = f"{name} is not fixed yet: {_listed([_HOW_FAR[way] for way in ways], 'and')} it is."
            mends = [reading.words for reading in self._mends.get(name, ())]
            if mends:
                return f"{said} {'Any of these' if mends[1:] else 'This'} would do: {_listed(mends, 'or')}."
            return f"{said} Take its height, a plumb drop, or one more tape from another base."
        if self.mirror(name):
            return f"{name} may lie on either side of what it was measured from."
        if not self.is_checked(name):
            return f"{name} is fixed, but not all of it is checked: one more reading would do that."
        return f"{name} is fixed and checked."


def _listed(names: list[str], joined: str) -> str:
    return f" {joined} ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
