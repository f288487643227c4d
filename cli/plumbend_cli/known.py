"""Numbers rounded to what is known of them, each with its ±.

A ± is two standard deviations: 19 of 20 lie within it. The step that a number is shown in follows its ±; the ± is
rounded up to the same step. The steps stay small beside the ±, for the numbers of a program lean on each other:
where the end of a tube is known better than its single bends, coarse rounding of these would throw it off.

============== ==============================
± below        shown in steps of
============== ==============================
1, 2 in        1/16, 1/8 in; above that 1/4
1.5, 8, 20 mm  0.1, 0.5, 1 mm; above that 5
1.5, 6 degrees 0.1, 0.5 degree; above that 1
============== ==============================
"""

from __future__ import annotations

import math
from typing import NamedTuple

from plumbend.units import MM_PER_INCH, Units, format_length

MOST_MM, MOST_DEGREES = 1e6, 180.0
"""A ± beyond this, a kilometre or half a turn, is shown as this: nothing is known."""
_Ladder = tuple[tuple[float, float], ...]
_INCH = MM_PER_INCH
_LENGTH_STEPS: dict[Units, _Ladder] = {
    "in": ((_INCH, _INCH / 16), (2 * _INCH, _INCH / 8), (math.inf, _INCH / 4)),
    "mm": ((1.5, 0.1), (8.0, 0.5), (20.0, 1.0), (math.inf, 5.0)),
}
_ANGLE_STEPS: _Ladder = ((1.5, 0.1), (6.0, 0.5), (math.inf, 1.0))


class Known(NamedTuple):
    """A number as text, and its ± as text, in the same step."""

    value: str
    within: str


def known_length(mm: float, sd: float, units: Units) -> Known:
    """A length in mm, good to twice ``sd`` mm, without its unit."""
    most = min(2 * sd, MOST_MM)
    step = _step(most, _LENGTH_STEPS[units])
    decimals = 1 if units == "mm" and step < 1 else 0
    value, within = (format_length(amount, units, parts=16, decimals=decimals) for amount in _in_steps(mm, most, step))
    return Known(value, within)


def known_angle(rad: float, sd: float) -> Known:
    """An angle in radians, good to twice ``sd``, in degrees; the sign is left to the caller."""
    degrees, within = math.degrees(rad), min(math.degrees(2 * sd), MOST_DEGREES)
    step = _step(within, _ANGLE_STEPS)
    decimals = 0 if step >= 1 else 1
    value, good_to = _in_steps(degrees, within, step)
    return Known(f"{value:.{decimals}f}", f"{good_to:.{decimals}f}")


def _step(within: float, ladder: _Ladder) -> float:
    return next(step for below, step in ladder if within < below)


def _in_steps(value: float, within: float, step: float) -> tuple[float, float]:
    """The value at the nearest step, never minus zero, and its ± at the next step up."""
    return round(value / step) * step + 0.0, max(1, math.ceil(within / step - 1e-9)) * step
