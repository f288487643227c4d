"""The tape: how far its marks may be out, and how it is read.

A maker's limit is a largest permissible error, not a standard deviation. Nothing more is known of the error than
that it lies within the limit, so it is taken as equally likely anywhere there (JCGM 100:2008, 4.3.7).
"""

from __future__ import annotations

import math
from typing import Final, Protocol

from plumbend.errors import BadValue
from plumbend.measuring.accuracies import sd_from_division, sd_from_limit
from plumbend.records import record
from plumbend.units import MM_PER_INCH

STEEL_EXPANSION: Final = 11.6e-6
"""Growth of a steel tape per degree Celsius, as part of its length (surveying texts, from memory)."""

_FOOT: Final = 12 * MM_PER_INCH


class TapeLimits(Protocol):
    """What the maker or the law promises of a tape."""

    def limit(self, length: float, *, from_end: bool = False) -> float:
        """Largest permissible error, mm, of ``length`` mm; ``from_end`` where the tape's end is its zero."""


@record
class TapeClass:
    """Accuracy class of a tape: its error stays within a + b L mm, L in metres rounded up to the next whole one.

    Directive 2014/32/EU, Annex X, chapter I. ``end`` mm are added where the end of the tape (its hook) is the zero.
    """

    a: float
    b: float
    end: float

    def limit(self, length: float, *, from_end: bool = False) -> float:
        """Largest permissible error, mm, of ``length`` mm."""
        metres = math.ceil(round(abs(length) / 1000, 9))
        return self.a + self.b * metres + (self.end if from_end else 0.0)


@record
class SteppedTape:
    """A tape whose error is limited by steps of length: ``steps`` are (up to mm, limit mm), the shortest first."""

    steps: tuple[tuple[float, float], ...]

    def limit(self, length: float, *, from_end: bool = False) -> float:
        """Largest permissible error, mm, of ``length`` mm. Raises BadValue beyond the last step."""
        for up_to, limit in self.steps:
            if abs(length) <= up_to * (1 + 1e-9):
                return limit
        raise BadValue(
            f"A tape of this kind has no limit for {abs(length):.0f} mm: "
            f"it ends at {self.steps[-1][0]:.0f} mm. Measure in two parts."
        )


TAPES: Final[dict[str, TapeLimits]] = {
    "I": TapeClass(0.1, 0.1, 0.1),
    "II": TapeClass(0.3, 0.2, 0.2),
    "III": TapeClass(0.6, 0.4, 0.3),
    # NIST Handbook 44, section 5.52, as quoted in a guide to building tolerances
    "US": SteppedTape(
        ((6 * _FOOT, MM_PER_INCH / 32), (30 * _FOOT, MM_PER_INCH / 16), (55 * _FOOT, MM_PER_INCH / 8)),
    ),
}
"""Tapes by what is printed on them; "US" is the tolerance of the United States' handbook of weights and measures."""


@record
class TapeHabits:
    """How a tape is read, all lengths in mm.

    Attributes:
        read_from: the line held at the start instead of the hook, such as 25.4 or 100.
        hook_worn: how much the hook has worn or stretched: hooked on, the tape reads short by this; it plays no
            part where another line is held at the start.
        division: the least division read to; it adds a doubt of division / sqrt 12.
        warmer: degrees Celsius above the 20 at which tapes are true; below is negative.
        limits: the tape's own accuracy; None where the reading's accuracy already has it in.
    """

    read_from: float = 0.0
    hook_worn: float = 0.0
    division: float = 0.0
    warmer: float = 0.0
    limits: TapeLimits | None = None

    def length(self, read: float) -> float:
        """True length, mm, where the tape shows ``read`` mm."""
        shown = read - self.read_from if self.read_from else read + self.hook_worn
        return shown * (1 + STEEL_EXPANSION * self.warmer)

    def sd(self, read: float, own: float) -> float:
        """One standard deviation, mm, of a length read as ``read`` mm with ``own`` mm for holding and sighting."""
        limit = self.limits.limit(read, from_end=not self.read_from) if self.limits else 0.0
        return math.hypot(own, sd_from_division(self.division), sd_from_limit(limit))


AS_READ: Final = TapeHabits()
"""A true tape, read from its end."""
