"""How good a measurement is taken to be where the user says nothing, and what "good to" means."""

from __future__ import annotations

import math

SDS_IN_GOOD_TO = 2.0
"""A user's "good to" is exactly two standard deviations: about 19 readings of 20 lie within it."""

TYPED_POINT = 2.5
"""One standard deviation in mm, along each axis, of a point typed as x, y, z that was measured with tape and
plumb bob (common practice, no source)."""

TAPED_LENGTH = 1.2
"""One standard deviation in mm of a length taped on the tube itself (common practice, no source)."""

ANGLE_BY_FINDER = math.radians(0.7)
"""One standard deviation in radians of a bend's angle or a leg's slope read off a gravity angle finder (common
practice, no source)."""

ROTATION_BY_FINDER = math.radians(1.0)
"""One standard deviation in radians of the turn between two bends: it takes two readings, and the finder must be
held square to the tube for both (common practice, no source)."""

SCANNED_POINT = 0.5
"""One standard deviation in mm, along each axis, of a scanned point (common practice, no source)."""

MEASURED_HEIGHT = 1.0
"""One standard deviation in mm of a height above a laser line or a taut string (common practice, no source)."""

PLUMB_DROP = 1.5
"""One standard deviation in mm, forward and left, of a place on the floor under a plumb bob (common practice, no
source)."""


def sd_from_good_to(good_to: float) -> float:
    """One standard deviation of a measurement that is good to ``good_to``; any unit in, the same out."""
    return good_to / SDS_IN_GOOD_TO


def good_to_from_sd(sd: float) -> float:
    """The "good to" that goes with one standard deviation ``sd``; any unit in, the same out."""
    return sd * SDS_IN_GOOD_TO


def sd_from_limit(limit: float) -> float:
    """One standard deviation of an error known only to lie within +-``limit``, everywhere alike: limit / sqrt 3.

    JCGM 100:2008, 4.3.7. Any unit in, the same out.
    """
    return limit / math.sqrt(3)


def sd_from_division(division: float) -> float:
    """One standard deviation that reading to the nearest ``division`` adds: division / sqrt 12 (JCGM 100, 4.3.7)."""
    return sd_from_limit(division / 2)
