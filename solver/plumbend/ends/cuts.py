"""One end of one tube as it is to be cut."""

from __future__ import annotations

from plumbend.ends.neighbours import Leg, Neighbour
from plumbend.records import record
from plumbend.tubing import Edges


@record(eq=False)
class EndCut:
    """What is to be cut at one end.

    Attributes:
        tube: name of the tube whose end it is.
        end: name of the end, as its point is called.
        leg: the straight whose end is cut, as it is in the finished tube.
        neighbours: what the cut lies against, or the plane of a square cut or mitre.
        edges: which edge of the wall the cut fits.
        allowance: mm left on at the end, to be worked down to the joint.
        far: at the tube's far end; else at its start end.
        other: of a straight tube, mm by which the longest point of its other end's finished cut lies beyond where the
            centreline stops there: a tape reaches that point, and seldom the centreline's end.
    """

    tube: str
    end: str
    leg: Leg
    neighbours: tuple[Neighbour, ...]
    edges: Edges = "both"
    allowance: float = 0.0
    far: bool = True
    other: float = 0.0

    @property
    def fitted(self) -> float:
        """Radius of the edge that the line on the tube's outside is drawn for, mm: the inside where that alone is to
        touch."""
        return self.leg.inner if self.edges == "inner" else self.leg.outer
