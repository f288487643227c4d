"""The developed outline of a cut: how far each line along the tube's surface runs before it meets a neighbour.

The cut is the union of the neighbours: each line stops at the first crossing. Exact for cylinders, tori and planes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from plumbend.ends.neighbours import Leg, Neighbour
from plumbend.errors import Refused
from plumbend.frames import FloatArray
from plumbend.records import record

OVERHANG = 1.0
"""mm by which the side of a tube may stand past the side of what it meets: measured tubes of one size never meet dead
centre, and this much is welded over (common practice). The outline there ends where the line passes nearest."""

FARTHEST_SPAN = 6.0
"""ODs that a cut may run along the tube before it is taken that part of the tube passes what it should meet; the least
joint angle gives under four."""

_LEVEL = 1e-6  # mm; what arithmetic leaves of a level stretch, and far less than any slope between two stations
_EXTREME_STATIONS = 720
_ALL_ROUND = np.linspace(0.0, 2 * math.pi, _EXTREME_STATIONS, endpoint=False)


def outline(
    leg: Leg, neighbours: Sequence[Neighbour], rounds: FloatArray, radius: float | FloatArray | None = None
) -> FloatArray:
    """How far the surface at ``radius`` (one, or (m,); the outside where None) runs at each of ``rounds`` (m,): mm from
    the tangent.

    Raises:
        Refused: part of the tube meets nothing, or the cut runs back past the tangent.
    """
    rho = np.asarray(leg.outer if radius is None else radius)
    starts = leg.lines(rounds, rho)
    farthest_out = float(rho.max()) + OVERHANG
    first = np.full(len(rounds), np.inf)
    nearest, missed_by = np.full(len(rounds), np.nan), np.full(len(rounds), np.inf)
    for neighbour in neighbours:
        for piece in neighbour.pieces:
            if piece.clears(leg.start, leg.along, farthest_out):
                continue  # most of a bent tube lies elsewhere
            if leg.bend_angle is not None and (piece.distance(starts) < 0).any():
                raise Refused(
                    f'The cut on "{neighbour.name}" would run back into the bend, past the start of the straight. '
                    "Make that straight longer, or move the joint"
                )
            at, crossing = piece.meets(starts, leg.along)
            first = np.minimum(first, np.where(crossing & (at >= 0), at, np.inf).min(axis=1))
            if np.isfinite(first).all():
                continue
            for column in at.T:
                ahead = np.where(column >= 0, column, 0.0)
                by = np.where(column >= 0, piece.distance(starts + ahead[:, None] * leg.along), np.inf)
                closer = by < missed_by
                nearest, missed_by = np.where(closer, column, nearest), np.where(closer, by, missed_by)
    missing = ~np.isfinite(first)
    if missing.any():
        worst = float(missed_by[missing].max())
        if worst > OVERHANG:
            raise Refused(*_why_missed(leg, neighbours, worst, float(missed_by.min()) if missing.all() else 0.0))
        first = np.where(missing, nearest, first)
    if np.ptp(first) > FARTHEST_SPAN * leg.od:
        raise Refused(
            f"Part of the tube's end passes {_names(neighbours)} and lands only ",
            float(np.ptp(first)),
            " further on. Move the joint so that the whole end lands",
        )
    return first + leg.free_from


def _names(neighbours: Sequence[Neighbour]) -> str:
    return " and ".join(f'"{neighbour.name}"' for neighbour in neighbours)


def _why_missed(leg: Leg, neighbours: Sequence[Neighbour], by: float, clear: float) -> tuple[str | float, ...]:
    """In words and lengths, mm; the farthest side passes ``by``, and where all of the tube does, its nearest one
    ``clear``."""
    ods = [neighbour.od for neighbour in neighbours if neighbour.od is not None]
    if ods and len(ods) == len(neighbours) and max(ods) < leg.od:
        return (
            "The tube is ",
            leg.od,
            f" OD and {_names(neighbours)} is only ",
            max(ods),
            ": a saddle cannot be cut. Let this tube run through and cut the other, or use a plate between them",
        )
    if not math.isfinite(by):
        for neighbour in neighbours:
            if leg.bend_angle is None and any(piece.distance(leg.start[None])[0] < 0 for piece in neighbour.pieces):
                return (
                    f'The other end of the tube lies inside "{neighbour.name}", so that this end cannot be cut to it. '
                    "Check the places, or name it at the other end alone",
                )
        return (f"The tube's end does not meet {_names(neighbours)}. Check the places, or prolong it",)
    if clear > 0:
        return (
            f"The whole tube passes {_names(neighbours)}: its nearest side stands ",
            clear,
            " clear of it. Bring the centrelines together, or move the joint away from the end",
        )
    return (
        "One side of the tube stands ",
        by,
        f" past the side of {_names(neighbours)} and meets nothing there. Bring the centrelines nearer together, move "
        "the joint away from the end, or use a smaller tube",
    )


@record
class TurningPlace:
    """Where an outline turns: a tip (it runs farthest) or the bottom of a hollow.

    Attributes:
        round: radians in (-pi, pi].
        at: mm from the nearest tangent.
        tip: whether it is a tip.
    """

    round: float
    at: float
    tip: bool


def turning_places(leg: Leg, neighbours: Sequence[Neighbour], radius: float | None = None) -> tuple[TurningPlace, ...]:
    """Every tip and hollow round the outside, by 720 stations and then ever finer between the neighbours of each; at
    another ``radius`` (mm) where one is given.

    None for a square cut. Kinks, such as the tips of equal tubes, are found like smooth ones.

    Raises:
        Refused: the cut cannot be made.
    """
    return _turning_places(leg, tuple(neighbours), radius)


@lru_cache(maxsize=32)  # one part of the work asks for the longest point, the next for the places
def _turning_places(leg: Leg, neighbours: tuple[Neighbour, ...], radius: float | None) -> tuple[TurningPlace, ...]:
    at = outline(leg, neighbours, _ALL_ROUND, radius)
    if np.ptp(at) < 2 * _LEVEL:
        return ()
    tips, hollows = stations_of_tips(at), stations_of_tips(-at)
    where = np.array(sorted([*tips, *hollows]))
    sign = np.where(np.isin(where, tips), 1.0, -1.0)
    middle, half = _ALL_ROUND[where], np.full(len(where), 2 * math.pi / _EXTREME_STATIONS)
    spread = np.linspace(-1.0, 1.0, 33)
    rows = np.arange(len(where))
    while half[0] > 1e-9:
        rounds = middle[:, None] + half[:, None] * spread
        values = sign[:, None] * outline(leg, neighbours, rounds.ravel(), radius).reshape(rounds.shape)
        best = values.argmax(axis=1)
        middle, half = rounds[rows, best], half / 16
    ends = outline(leg, neighbours, middle, radius)
    return tuple(
        TurningPlace(math.remainder(float(m), 2 * math.pi), float(z), bool(s > 0))
        for m, z, s in zip(middle, ends, sign, strict=True)
    )


def stations_of_tips(at: FloatArray) -> list[int]:
    """Which of the stations of an outline ``at`` (m,) mm, equally spaced all round, stand highest among those beside
    them; of a stretch that is level, as on a plate, its middle."""
    before, after = np.roll(at, 1), np.roll(at, -1)
    tips = []
    for first in np.flatnonzero((at > before + _LEVEL) & (at >= after - _LEVEL)).tolist():
        last = first
        while abs(at[(last + 1) % len(at)] - at[first]) < _LEVEL:
            last += 1
        tips.append((first + last) // 2 % len(at))
    return tips


@record
class Ordinate:
    """One line of an ordinate table.

    Attributes:
        round: radians from the plane of the nearest bend, clockwise looking toward the cut.
        arc: the same along the outside, mm.
        outer, inner: how far the outside and the inside run, mm from the nearest tangent.
    """

    round: float
    arc: float
    outer: float
    inner: float


def ordinates(leg: Leg, neighbours: Sequence[Neighbour], stations: int, start: float = 0.0) -> tuple[Ordinate, ...]:
    """The outline at ``stations`` equal steps round the tube (8, 16 or 24 in the shop), from the round ``start``.

    Raises:
        Refused: the cut cannot be made.
    """
    rounds = start + 2 * math.pi * np.arange(stations) / stations
    outer = outline(leg, neighbours, rounds)
    inner = outline(leg, neighbours, rounds, leg.inner)
    return tuple(
        Ordinate(float(r), float(r - start) * leg.outer, float(o), float(i))
        for r, o, i in zip(rounds, outer, inner, strict=True)
    )
