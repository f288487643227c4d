"""What ends of tubes meet: as typed, and as it stands there once all that is met has been found."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.ends.neighbours import Leg, Neighbour, straight_neighbour, tube_neighbour
from plumbend.ends.surfaces import Plane
from plumbend.errors import BadValue
from plumbend.frames import FloatArray, cross, unit
from plumbend.records import record
from plumbend.shape.corners import chain_from_corners
from plumbend.tubing import Edges

_LEAST_ACROSS = 10.0
"""mm that the third place of a plate stands off the line through the other two, at least."""

Typed = FloatArray | str
"""A place (3,) in mm, or the name of one that readings of the vehicle find."""


@record(eq=False)
class Fixture:
    """A straight tube, a bent tube or a plate that is there already.

    Attributes:
        name: as the ends of tubes name it.
        places: of a tube its start end, the corners of its bends and its far end; of a plate one place on its face, or
            three.
        sd: (3,) mm, one standard deviation of every place that was typed, along forward, left and up.
        od: outside diameter of a tube, mm; None for a plate.
        clr: centreline radius of a bent tube, mm.
        faces: (3,) unit, square off a plate that is given by one place.
    """

    name: str
    places: tuple[Typed, ...]
    sd: FloatArray
    od: float | None = None
    clr: float | None = None
    faces: FloatArray | None = None

    def surface(self, at: FloatArray) -> Neighbour:
        """Its surface, with its places at ``at`` (m, 3) mm.

        Raises:
            BadValue: they are not those of such a tube or plate.
        """
        if self.od is None:
            return Neighbour(self.name, (Plane(at[0], _square_off(at) if self.faces is None else self.faces),))
        if self.clr is None:
            return straight_neighbour(self.name, at[0], at[-1], self.od)
        chain = chain_from_corners(at, self.clr)
        for k, straight in enumerate(chain.straights.tolist()):
            if straight < 0:
                raise BadValue(f"between places {k + 1} and {k + 2} its corners leave no room for bends of that radius")
        return tube_neighbour(self.name, chain, self.od)


@record(eq=False)
class Against:
    """What an end meets, where it stands.

    Attributes:
        neighbour: its surface; a plate's may face either way.
        places: (m, 3) mm on it that were measured or fitted.
        sds: (m, 3) mm, one standard deviation of each along every axis.
    """

    neighbour: Neighbour
    places: FloatArray
    sds: FloatArray

    def sd_near(self, place: FloatArray) -> FloatArray:
        """(3,) mm, one standard deviation of where it stands near ``place``: that of the nearest one known."""
        away = np.linalg.norm(self.places - place, axis=1)
        nearest: FloatArray = self.sds[int(np.argmin(away))]
        return nearest

    def to(self, leg: Leg) -> Neighbour:
        """The neighbour as ``leg`` meets it: a plate faces the side from which it comes."""
        plane = self.neighbour.pieces[0]
        if not isinstance(plane, Plane):
            return self.neighbour
        faces_it = float((leg.start - plane.place) @ plane.normal) >= 0
        facing = plane if faces_it else replace(plane, normal=-plane.normal)
        return replace(self.neighbour, pieces=(facing,))


@record(eq=False)
class Meeting:
    """What one end of a tube is cut to: other tubes and plates, or a straight saw cut through the end's point.

    Attributes:
        end: name of the end's point.
        far: whether it is the tube's far end.
        on: names of what it meets, tubes of the job or neighbours; the centreline runs to that of the first. Empty for
            a saw cut.
        off_square: of a saw cut, radians; 0 is square.
        short_side: (3,) unit, the side on which a mitre leaves the tube short; None where nothing is mitred.
        allowance: mm left on, to be worked down to the joint.
        edges: which edge of the wall is to touch what it is on.
        against: what ``on`` names, in the same order, once it is found.
    """

    end: str
    far: bool
    on: tuple[str, ...] = ()
    off_square: float = 0.0
    short_side: FloatArray | None = None
    allowance: float = 0.0
    edges: Edges = "both"
    against: tuple[Against, ...] = ()


def _square_off(at: FloatArray) -> FloatArray:
    """(3,) unit, square off the plane through three places (3, 3)."""
    sides = at[1] - at[0], at[2] - at[0], at[2] - at[1]
    square = cross(sides[0], sides[1])
    longest = max(float(np.linalg.norm(side)) for side in sides)
    if longest == 0 or float(np.linalg.norm(square)) < _LEAST_ACROSS * longest:
        raise BadValue("its three places lie on one line, or nearly")
    return unit(square)
