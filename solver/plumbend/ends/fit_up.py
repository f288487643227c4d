"""How wide the joint gapes: for the cut as drawn, one straight pass of a hole saw, a cut clocked or set one degree off.

The cut end is pushed along its axis until it first touches, as it is when it is tacked. The gap is the shortest
distance from the outer edge to what it meets.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np

from plumbend.ends.joints import Joint, joint, square_to_both
from plumbend.ends.neighbours import Leg, Neighbour
from plumbend.ends.outline import outline
from plumbend.ends.surfaces import Cylinder
from plumbend.frames import FloatArray, rotation_about
from plumbend.records import record
from plumbend.tubing import Edges

_ROUNDS = np.linspace(0.0, 2 * math.pi, 360, endpoint=False)
_THROUGH_WALL = 3
_ONE_DEGREE = math.radians(1)

Cut = Callable[[FloatArray, float], FloatArray]
"""How far a cut surface runs at rounds (m,) and a radius, mm."""


@record
class FitUp:
    """The largest gap along a joint, mm.

    Attributes:
        exact: the cut as drawn, with the edges asked for.
        saw: one straight pass of a hole saw of the neighbour's OD; None where it meets a plate or several.
        clocked_off: the exact cut turned one degree about the tube, the worse way.
        set_off: the cut set one degree off its joint angle, the worse way and neighbour.
    """

    exact: float
    saw: float | None
    clocked_off: float
    set_off: float


def largest_gap(leg: Leg, neighbours: Sequence[Neighbour], cut: Cut, met: Sequence[FloatArray] | None = None) -> float:
    """Largest gap, mm, when ``cut`` is pushed home on ``neighbours``; ``met`` is what :func:`met_through_wall` says of
    them, where that is known already."""
    room = np.inf
    for radius, at in zip(_radii(leg), met or met_through_wall(leg, neighbours), strict=True):
        room = min(room, float((at - cut(_ROUNDS, radius)).min()))
    edge = cut(_ROUNDS, leg.outer) + room
    places = leg.start + leg.outer * leg.sides(_ROUNDS) + edge[:, None] * leg.along
    gap = np.min([piece.distance(places) for neighbour in neighbours for piece in neighbour.pieces], axis=0)
    return max(0.0, float(gap.max()))


def met_through_wall(leg: Leg, neighbours: Sequence[Neighbour]) -> list[FloatArray]:
    """How far lines all round run at a few depths of the wall, from the inside out."""
    return [outline(leg, neighbours, _ROUNDS, radius) for radius in _radii(leg)]


def _radii(leg: Leg) -> list[float]:
    radii: list[float] = np.linspace(leg.inner, leg.outer, _THROUGH_WALL).tolist()
    return radii


def straight_pass(leg: Leg, neighbours: Sequence[Neighbour]) -> float | None:
    """Largest gap left by one straight pass of a hole saw, mm; None where it meets a plate or several."""
    if len(neighbours) != 1 or neighbours[0].od is None:
        return None
    return largest_gap(leg, neighbours, cut_against(leg, [hole_saw(leg, neighbours[0])]))


def cut_against(leg: Leg, neighbours: Sequence[Neighbour], edges: Edges = "both") -> Cut:
    """The cut that fits ``neighbours`` at both edges of the wall, or at one of them and square through the wall."""
    if edges == "both":
        return lambda rounds, radius: outline(leg, neighbours, rounds, radius)
    fitted = leg.outer if edges == "outer" else leg.inner
    return lambda rounds, _radius: outline(leg, neighbours, rounds, fitted)


def _clocked(cut: Cut, turn: float) -> Cut:
    return lambda rounds, radius: cut(rounds - turn, radius)


def fit_up(leg: Leg, neighbours: Sequence[Neighbour], edges: Edges = "both") -> FitUp:
    """The gaps of a joint.

    Raises:
        Refused: the cut cannot be made.
    """
    exact = cut_against(leg, neighbours, edges)
    at = met_through_wall(leg, neighbours)
    clocked = [largest_gap(leg, neighbours, _clocked(exact, turn), at) for turn in (_ONE_DEGREE, -_ONE_DEGREE)]
    set_off = []
    for k, neighbour in enumerate(neighbours):
        met = joint(leg, neighbour)
        for turn in (_ONE_DEGREE, -_ONE_DEGREE):
            tilted = neighbour.moved(rotation_about(square_to_both(leg, met), turn), leg.start + met.node * leg.along)
            cut = cut_against(leg, [*neighbours[:k], tilted, *neighbours[k + 1 :]], edges)
            set_off.append(largest_gap(leg, neighbours, cut, at))
    return FitUp(largest_gap(leg, neighbours, exact, at), straight_pass(leg, neighbours), max(clocked), max(set_off))


def hole_saw(leg: Leg, neighbour: Neighbour) -> Neighbour:
    """One straight pass of a hole saw as large as the tube met, along its centreline at the joint."""
    return _saw_at(joint(leg, neighbour), neighbour)


def _saw_at(met: Joint, neighbour: Neighbour) -> Neighbour:
    od = float(neighbour.od or 0.0)
    return Neighbour("hole saw", (Cylinder(met.place, met.direction, od / 2),), od)


def saw_depth(leg: Leg, neighbour: Neighbour, met: Joint) -> float:
    """How deep the saw's cup must be to cut in one pass: the cut's extent along the saw's axis, mm.

    ``met`` is how the leg stands to the neighbour. Of several neighbours one alone need not stop the whole end: what it
    does not meet has no part in its cut.
    """
    (saw,) = _saw_at(met, neighbour).pieces
    starts = leg.start + leg.outer * leg.sides(_ROUNDS)
    at, crossing = saw.meets(starts, leg.along)
    edge = np.where(crossing & (at >= 0), at, np.inf).min(axis=1)
    stopped = np.isfinite(edge)
    places = starts[stopped] + edge[stopped, None] * leg.along
    return float(np.ptp(places @ met.direction)) if stopped.any() else 0.0
