"""The places of a cut that have names in the shop."""

from __future__ import annotations

from collections.abc import Sequence

from plumbend.ends.outline import TurningPlace
from plumbend.records import record

_ALIKE = 0.4
"""mm, half of a 32nd: points that differ by less are not told apart as the long or the short one."""


@record
class NamedPlace:
    """A place of the cut that has a name.

    Attributes:
        names: such as tip and long point, the plain name first.
        round: radians in (-pi, pi].
        at: mm from the nearest tangent, on the outside.
    """

    names: tuple[str, ...]
    round: float
    at: float


def named_places(turning: Sequence[TurningPlace], *, on_tube: bool) -> tuple[NamedPlace, ...]:
    """Tips and throats by their names; of a slanted cut also which is the long point and which the short one."""
    if not turning:
        return ()
    longest, shortest = max(place.at for place in turning), min(place.at for place in turning)
    one_long = sum(longest - place.at < _ALIKE for place in turning) == 1
    one_short = sum(place.at - shortest < _ALIKE for place in turning) == 1
    named = []
    for place in sorted(turning, key=lambda turning_place: turning_place.round):
        names = ["tip" if place.tip else "throat"] if on_tube else []
        if one_long and place.at == longest:
            names.append("long point")
        if one_short and place.at == shortest:
            names.append("short point")
        if names:
            named.append(NamedPlace(tuple(names), place.round, place.at))
    return tuple(named)
