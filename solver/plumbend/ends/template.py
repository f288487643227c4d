"""The developed template of a tube's end: the cut unrolled, to be wrapped round the tube or to steer a cutter.

On the sheet x runs round the tube and y along it toward the cut. Seen on its printed side, with the cut end up, + round
(clockwise as one looks toward the cut) goes to the right. x is 0 on the reference line, round 0, and the seam is on the
back; y is 0 on the lower edge, a straight line square round the tube, a round distance from where the axes meet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbend.ends.cuts import EndCut
from plumbend.ends.joints import Joint, joint
from plumbend.ends.named_places import NamedPlace, named_places
from plumbend.ends.neighbours import Leg, Neighbour
from plumbend.ends.outline import Ordinate, TurningPlace, ordinates, outline, turning_places
from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.units import MM_PER_INCH, Units

PAPER = 0.1
"""mm, the thickness of office paper (common practice)."""

FLAT = 0.002
"""mm by which the true outline may leave the straight lines between neighbouring places of a template."""

_ENOUGH_BELOW = 20.0
"""mm of full tube between the short point and the lower edge, to be written on and to hold the paper together."""
_LEAST_BELOW = 8.0
"""The same, which must do on a short straight."""

_USUAL_BELOW: dict[Units, float] = {"mm": 100.0, "in": 4 * MM_PER_INCH}
_STEP_BELOW: dict[Units, float] = {"mm": 10.0, "in": MM_PER_INCH / 2}
_HALVINGS = 14  # of one degree: what is left of a place where the outline leaps is thinner than any line


@record(eq=False)
class Template:
    """The developed end of one tube. Lengths along the tube count in mm from its nearest tangent, as everywhere here.

    Attributes:
        cut: what is cut.
        joints: how the tube stands to each neighbour, in their order.
        paper: thickness of what is wrapped round the tube, mm; 0 for a cutter that works on the tube itself.
        edge: where the lower edge lies.
        rounds: (m,) radians from -pi to pi, both ends included.
        outside, inside: (m,) how far the outside and the inside of the tube run there.
        places: tips, throats, long and short point, by their rounds; none for a square cut.
        table: how far they run at equal steps round the tube, from the reference line clockwise.
    """

    cut: EndCut
    joints: tuple[Joint, ...]
    paper: float
    edge: float
    rounds: FloatArray
    outside: FloatArray
    inside: FloatArray
    places: tuple[NamedPlace, ...]
    table: tuple[Ordinate, ...]

    @property
    def wrap(self) -> float:
        """Length once round, mm: the paper bends about its middle, half its thickness off the tube."""
        return math.pi * (self.cut.leg.od + self.paper)

    @property
    def below(self) -> float:
        """From where the axis of the tube meets that of its first neighbour back to the lower edge, mm."""
        return self.joints[0].node - self.edge

    @property
    def top(self) -> float:
        """The highest place of the cut over the lower edge, with what is left on to be worked down, mm."""
        return float(max(self.outside.max(), self.inside.max())) + self.cut.allowance - self.edge

    def across(self, round_: float) -> float:
        """x of a round, mm."""
        return round_ / (2 * math.pi) * self.wrap

    @property
    def line(self) -> FloatArray:
        """(m, 2) mm: the line to mark on the outside of the tube, for the edge of the wall that is to fit."""
        return self._on_sheet(self.inside if self.cut.edges == "inner" else self.outside)

    @property
    def square_to_wall(self) -> FloatArray:
        """(m, 2) mm: the line for a head that cuts square through the wall.

        Where the cut is to fit both edges it follows whichever edge touches first, so that nothing is left to grind.
        """
        if self.cut.edges == "both":
            return self._on_sheet(np.minimum(self.outside, self.inside))
        return self.line

    @property
    def edges(self) -> tuple[FloatArray, FloatArray]:
        """(m, 2) mm each: the outside edge and the inside edge, both drawn at the rounds where they lie."""
        return self._on_sheet(self.outside), self._on_sheet(self.inside)

    def _on_sheet(self, at: FloatArray) -> FloatArray:
        return np.column_stack([self.rounds / (2 * math.pi) * self.wrap, at - self.edge])


def template(cut: EndCut, stations: int = 16, units: Units = "mm", paper: float = PAPER) -> Template:
    """The template of one end.

    Args:
        cut: what is to be cut.
        stations: lines of its ordinate table; 8, 16 or 24 in the shop.
        units: what the distance to the lower edge is a round number of: 100 mm or 4 in wherever there is room.
        paper: thickness of what is wrapped round, mm.

    Raises:
        Refused: the cut cannot be made.
    """
    leg, neighbours = cut.leg, cut.neighbours
    joints = tuple(joint(leg, neighbour) for neighbour in neighbours)
    turning = turning_places(leg, neighbours, cut.fitted)
    rounds, outside, inside = _developed(leg, neighbours, turning)
    node, deepest = joints[0].node, float(min(outside.min(), inside.min()))
    return Template(
        cut,
        joints,
        paper,
        _lower_edge(node, deepest, units),
        rounds,
        outside,
        inside,
        named_places(turning, on_tube=any(met.on_tube for met in joints)),
        ordinates(leg, neighbours, stations),
    )


def _developed(
    leg: Leg, neighbours: Sequence[Neighbour], turning: Sequence[TurningPlace]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Rounds, and how far outside and inside run there, so close that straight lines between them are true."""

    def both(rounds: FloatArray) -> FloatArray:
        return np.stack([outline(leg, neighbours, rounds), outline(leg, neighbours, rounds, leg.inner)])

    rounds = np.union1d(np.radians(np.arange(-180.0, 181.0)), [place.round for place in turning])
    at = both(rounds)
    for _ in range(_HALVINGS):
        middles = (rounds[1:] + rounds[:-1]) / 2
        between = both(middles)
        bent = (np.abs(between - (at[:, 1:] + at[:, :-1]) / 2) > FLAT / 2).any(axis=0)
        if not bent.any():
            break
        order = np.argsort(np.concatenate([rounds, middles[bent]]))
        rounds = np.concatenate([rounds, middles[bent]])[order]
        at = np.concatenate([at, between[:, bent]], axis=1)[:, order]
    return rounds, at[0], at[1]


def _lower_edge(node: float, deepest: float, units: Units) -> float:
    """Where the lower edge lies: a round distance from the node, clear of the cut and still on the straight.

    The tangent itself, where the straight is too short for that.
    """
    back, step = node - deepest, _STEP_BELOW[units]
    below = max(_USUAL_BELOW[units], step * math.ceil((back + _ENOUGH_BELOW) / step))
    if below > node:
        below = step * math.floor(node / step)
    return node - below if below >= back + _LEAST_BELOW else 0.0
