"""How wide the joint gapes: for the cut as drawn, one straight pass of a hole saw, a cut clocked or set one degree off.

The cut end is pushed along its axis until it first touches, as it is when it is tacked. The gap is the shortest
distance from the outer edge to what it meets.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from plumbend.ends.joints import Joint, joint, square_to_both
from plumbend.ends.neighbours import Leg, Neighbour
from plumbend.ends.outline import outline
from plumbend.ends.surfaces import Cylinder
from plumbend.errors import Refused
from plumbend.frames import FloatArray, rotation_about
from plumbend.records import record
from plumbend.tubing import Edges

_DEGREES = 360
_ROUNDS = np.linspace(0.0, 2 * math.pi, _DEGREES, endpoint=False)
_THROUGH_WALL = 3


@record
class FitUp:
    """The largest gap along a joint, mm.

    Attributes:
        exact: the cut as drawn, with the edges asked for.
        saw: one straight pass of a hole saw of the neighbour's OD; None where it meets a plate or several, or where the
            saw would not take the whole end.
        clocked_off: the exact cut turned one degree about the tube, the worse way.
        set_off: the cut set one degree off its joint angle, the worse way and neighbour; None where part of the end
            would then pass what it is cut to.
    """

    exact: float
    saw: float | None
    clocked_off: float
    set_off: float | None


def cut_to_fit(leg: Leg, neighbours: Sequence[Neighbour], edges: Edges = "both") -> FloatArray:
    """How far a cut runs that fits ``neighbours`` at both edges of the wall, or at one and square through the wall.

    Returns:
        (k, 360) mm from the tangent, at a few depths of the wall from the inside out and at each degree all round; not
        to be written to.

    Raises:
        Refused: the cut cannot be made.
    """
    return _cut_to_fit(leg, tuple(neighbours), edges)


@lru_cache(maxsize=32)  # every gap of a joint is one to the cut that fits it
def _cut_to_fit(leg: Leg, neighbours: tuple[Neighbour, ...], edges: Edges) -> FloatArray:
    if edges == "both":
        depths = np.linspace(leg.inner, leg.outer, _THROUGH_WALL)
        at = outline(leg, neighbours, np.tile(_ROUNDS, _THROUGH_WALL), np.repeat(depths, _DEGREES))
    else:
        at = np.tile(outline(leg, neighbours, _ROUNDS, leg.outer if edges == "outer" else leg.inner), _THROUGH_WALL)
    at.flags.writeable = False
    return at.reshape(_THROUGH_WALL, _DEGREES)


def largest_gap(leg: Leg, neighbours: Sequence[Neighbour], cut: FloatArray) -> float:
    """Largest gap, mm, when a ``cut``, as :func:`cut_to_fit` has it, is pushed home on ``neighbours``.

    Raises:
        Refused: no cut fits them.
    """
    room = cut_to_fit(leg, neighbours) - cut
    edge = cut[-1] + room.min()
    places = leg.start + leg.outer * leg.sides(_ROUNDS) + edge[:, None] * leg.along
    gap = np.min([piece.distance(places) for neighbour in neighbours for piece in neighbour.pieces], axis=0)
    return max(0.0, float(gap.max()))


def straight_pass(leg: Leg, neighbours: Sequence[Neighbour]) -> float | None:
    """Largest gap left by one straight pass of a hole saw, mm; None where it meets a plate or several, infinite where
    one side of the tube would pass the saw, which runs straight on where what is met bends.

    Raises:
        Refused: no cut fits what it meets.
    """
    if len(neighbours) != 1 or neighbours[0].od is None:
        return None
    saw = _saw_at(joint(leg, neighbours[0]), neighbours[0].od)
    try:
        cut = cut_to_fit(leg, [saw])
    except Refused:
        return math.inf
    return largest_gap(leg, neighbours, cut)


def fit_up(leg: Leg, neighbours: Sequence[Neighbour], edges: Edges = "both") -> FitUp:
    """The gaps of a joint.

    Raises:
        Refused: the cut cannot be made.
    """
    exact = cut_to_fit(leg, neighbours, edges)
    saw = straight_pass(leg, neighbours)
    return FitUp(
        exact=largest_gap(leg, neighbours, exact),
        saw=saw if saw is not None and math.isfinite(saw) else None,
        clocked_off=max(largest_gap(leg, neighbours, np.roll(exact, by, axis=1)) for by in (1, -1)),
        set_off=_set_off(leg, neighbours, edges),
    )


def _set_off(leg: Leg, neighbours: Sequence[Neighbour], edges: Edges) -> float | None:
    gaps = []
    for k, neighbour in enumerate(neighbours):
        at = joint(leg, neighbour)
        for degrees in (1, -1):
            turn = rotation_about(square_to_both(leg, at), math.radians(degrees))
            tilted = neighbour.moved(turn, leg.start + at.node * leg.along)
            try:
                cut = cut_to_fit(leg, [*neighbours[:k], tilted, *neighbours[k + 1 :]], edges)
            except Refused:
                return None
            gaps.append(largest_gap(leg, neighbours, cut))
    return max(gaps)


def _saw_at(met: Joint, od: float) -> Neighbour:
    """One straight pass of a hole saw as large as the ``od`` of the tube met, along its centreline at the joint."""
    return Neighbour("hole saw", (Cylinder(met.place, met.direction, od / 2),), od)


def saw_depth(leg: Leg, od: float, met: Joint) -> float:
    """How deep the saw's cup must be to cut in one pass: the cut's extent along the saw's axis, mm.

    ``met`` is how the leg stands to a tube of ``od`` mm. Of several neighbours one alone need not stop the whole end:
    what it does not meet has no part in its cut.
    """
    (saw,) = _saw_at(met, od).pieces
    starts = leg.lines(_ROUNDS, leg.outer)
    at, crossing = saw.meets(starts, leg.along)
    edge = np.where(crossing & (at >= 0), at, np.inf).min(axis=1)
    stopped = np.isfinite(edge)
    places = starts[stopped] + edge[stopped, None] * leg.along
    return float(np.ptp(places @ met.direction)) if stopped.any() else 0.0
