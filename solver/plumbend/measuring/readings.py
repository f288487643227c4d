"""Readings: what every reading off a tape, a rule, a plumb line or a level has in common.

The *measured* numbers of a reading are what it says once habits and touched sides are allowed for; the *computed*
ones are the same worked out from where the places are taken to be; its *residual* is measured less computed. A
reading is :class:`Linear` where its numbers are fixed sums of coordinates, else :class:`Curved`. Lengths are in mm.
"""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from typing import ClassVar, Self

import numpy as np

from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.measuring.formulas import Computed
from plumbend.measuring.tapes import AS_READ, TapeHabits
from plumbend.measuring.touched import Touched
from plumbend.records import record

At = Mapping[str, FloatArray]
"""Places (3,) or planes (2,) by name."""


@record(kw_only=True)
class Reading(ABC):
    """What every reading has.

    Attributes:
        sd: one standard deviation of each of its numbers, mm.
        typed: the reading as it was typed, for messages.
        touched: the side touched at the first of ``places``; None for its centre.

    Raises:
        BadValue: it has no accuracy, goes from a place to itself, or says what no such reading can.
    """

    components: ClassVar[int] = 1
    plumb: ClassVar[bool] = True
    """Whether it says which way is up, by a plumb line, a level or a height."""
    has_sides: ClassVar[bool] = False
    """Whether what is touched has a near and a far side along what is measured."""

    sd: float
    typed: str = ""
    touched: Touched | None = None

    @property
    @abstractmethod
    def places(self) -> tuple[str, ...]:
        """Names of the k places it involves."""

    @property
    def plane(self) -> str | None:
        """Name of the plane it involves."""
        return None

    @property
    @abstractmethod
    def words(self) -> str:
        """What is read, as in "a tape from B1 to A"."""

    @abstractmethod
    def measured(self) -> tuple[float, ...]:
        """What it says, mm, one number for each component."""

    def computed(self, at: At, planes: At) -> Computed:
        """What it should show, were the places and planes there."""
        return self.computed_together([self], at, planes)

    @abstractmethod
    def computed_together(self, readings: Sequence[Self], at: At, planes: At) -> Computed:
        """What m readings of this class should show, were the places and planes there."""

    @property
    def doubt(self) -> float:
        """One standard deviation, mm, of each number, with all that adds to it."""
        return self.sd

    def offsets(self) -> FloatArray:
        """(k, 3) mm from the centre of each place to what was touched there."""
        offsets = np.zeros((len(self.places), 3))
        if self.touched:
            offsets[0] = self.touched.offset
        return offsets

    def touched_at(self, at: At) -> FloatArray:
        """(k, 3) mm, what was touched at each of its places."""
        touched: FloatArray = np.array([at[name] for name in self.places]) + self.offsets()
        return touched

    def residual(self, at: At, planes: At) -> FloatArray:
        """(c,) mm, measured less computed."""
        residual: FloatArray = np.array(self.measured()) - self.computed(at, planes).values[0]
        return residual

    @property
    def title(self) -> str:
        """The reading as messages call it: as typed, else in words."""
        return f'"{self.typed}"' if self.typed else self.words[0].upper() + self.words[1:]

    def __post_init__(self) -> None:
        if not 0 < self.sd < math.inf:
            raise BadValue(f"{self.title} has no accuracy. Say what it is good to, more than nothing.")
        if len(set(self.places)) < len(self.places):
            raise BadValue(f"{self.title} goes from a place to itself. Name two different places.")
        if self.touched and self.touched.further and not self.has_sides:
            raise BadValue(f"{self.title} has no near or far side. Write top, bottom, front, back, left or right.")
        if not all(map(math.isfinite, self.measured())):
            raise BadValue(f"{self.title} has a figure that cannot be measured.")


class Linear(Reading):
    """A reading whose numbers are fixed sums of coordinates."""

    __slots__ = ()

    @abstractmethod
    def coefficients(self) -> FloatArray:
        """(c, k, 3) of the places' coordinates."""

    def computed_together(self, readings: Sequence[Self], at: At, planes: At) -> Computed:
        """What they should show, were the places there."""
        coefficients = np.array([reading.coefficients() for reading in readings])
        values = np.einsum("mckx,mkx->mc", coefficients, np.array([reading.touched_at(at) for reading in readings]))
        return Computed(values, coefficients, np.zeros((*values.shape, 2)))


class Curved(Reading):
    """A reading whose numbers change with the places in no fixed way; all of a class are computed together."""

    __slots__ = ()

    @abstractmethod
    def formula(self, at: FloatArray, plane: FloatArray) -> Computed:
        """Numbers of m readings of this class from (m, k, 3) touched places and (m, 2) planes."""

    def computed_together(self, readings: Sequence[Self], at: At, planes: At) -> Computed:
        """What they should show, were the places and planes there."""
        no_plane = np.zeros(2)
        of_each = [no_plane if reading.plane is None else planes[reading.plane] for reading in readings]
        return self.formula(np.array([reading.touched_at(at) for reading in readings]), np.array(of_each))


@record(kw_only=True)
class Amount(Reading):
    """A length read along one line, perhaps to the near or the far side of what was touched.

    Attributes:
        value: as read; what lies right of a line or below a datum is negative.
        habits: how the tape was read.
    """

    has_sides: ClassVar[bool] = True
    either_way: ClassVar[bool] = False
    """Whether what is measured may lie on either side of what it is measured from."""

    value: float
    habits: TapeHabits = AS_READ

    def measured(self) -> tuple[float, ...]:
        """The true length, habits and a near or far side allowed for, with the sign of what was read."""
        length = self.habits.length(abs(self.value)) + (self.touched.further if self.touched else 0.0)
        return (-length if self.value < 0 else length,)

    @property
    def doubt(self) -> float:
        """One standard deviation, mm, with the least division and the tape's own limits."""
        return self.habits.sd(self.value, self.sd)

    def __post_init__(self) -> None:
        Reading.__post_init__(self)
        if self.either_way and self.value == 0 and self.touched and self.touched.further:
            raise BadValue(f"{self.title} is nothing, to a near or far side. Name the side touched otherwise.")
