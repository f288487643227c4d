"""The tube whose end is cut, and what it meets."""

from __future__ import annotations

import math

import numpy as np

from plumbend.ends.surfaces import Cylinder, Piece, Plane, Torus
from plumbend.errors import BadValue
from plumbend.frames import FloatArray, rotation_about, unit
from plumbend.records import record
from plumbend.shape.chain import Chain


@record(eq=False)
class Leg:
    """The straight whose end is cut.

    *Round* is an angle about the tube's axis, from the inside of the nearest bend (toward the bend's centre), clockwise
    as one looks along the tube from that bend toward the cut. Of a straight tube it counts from whatever
    side ``frame`` says. Lengths along the tube count from the nearest tangent, the far end of a straight tube.

    Attributes:
        start: (3,) mm, that tangent, on the axis.
        frame: (3, 3) columns: along the tube toward the cut, toward round 0, toward round 90 degrees.
        od: outside diameter, mm.
        wall: mm.
        bend_angle: radians that the nearest bend turns, None without a bend.
        bend_radius: of its centreline, mm.
        free_from: mm from ``start`` on which nothing is met: the other end of a straight tube may be on the same thing,
            and lies within it or along its side.

    Raises:
        BadValue: a tube of this OD cannot have this wall.
    """

    start: FloatArray
    frame: FloatArray
    od: float
    wall: float
    bend_angle: float | None = None
    bend_radius: float | None = None
    free_from: float = 0.0

    def __post_init__(self) -> None:
        if not 0 < self.wall < self.od / 2:
            raise BadValue(f"a tube of {self.od:g} mm OD cannot have a wall of {self.wall:g} mm")

    @property
    def along(self) -> FloatArray:
        """(3,) unit, toward the cut."""
        return self.frame[:, 0]

    @property
    def outer(self) -> float:
        """Outside radius, mm."""
        return self.od / 2

    @property
    def inner(self) -> float:
        """Inside radius, mm."""
        return self.od / 2 - self.wall

    def sides(self, rounds: FloatArray) -> FloatArray:
        """(m, 3) unit, from the axis toward each of ``rounds`` (m,)."""
        outward: FloatArray = np.stack([np.cos(rounds), np.sin(rounds)], axis=1) @ self.frame[:, 1:].T
        return outward

    def lines(self, rounds: FloatArray, radius: float | FloatArray) -> FloatArray:
        """(m, 3) mm, where lines along the tube are followed from, at ``rounds`` (m,) and ``radius``, one or (m,)."""
        axis = self.start + self.free_from * self.along
        places: FloatArray = axis + np.asarray(radius)[..., None] * self.sides(rounds)
        return places

    def round_of(self, direction: FloatArray) -> float:
        """Round of the side that ``direction`` (3,) points to, radians in (-pi, pi]."""
        return math.atan2(float(direction @ self.frame[:, 2]), float(direction @ self.frame[:, 1]))


def end_leg(chain: Chain, od: float, wall: float, *, far: bool = True) -> Leg:
    """The leg at the far end of a tube, or at its start end."""
    chain = chain if far else chain.reversed()
    bent = chain.bends > 0
    return Leg(
        chain.origins[-1],
        chain.frames[-1],
        od,
        wall,
        float(chain.angles[-1]) if bent else None,
        chain.radius if bent else None,
        0.0 if bent else min(od, float(chain.straights[0]) / 2),
    )


@record(eq=False)
class Neighbour:
    """What a tube's end meets.

    Attributes:
        name: as the user calls it.
        pieces: its surface.
        od: outside diameter of a tube, mm; None for a plate or a plain cut.
    """

    name: str
    pieces: tuple[Piece, ...]
    od: float | None = None

    def moved(self, turn: FloatArray, about: FloatArray) -> Neighbour:
        """The neighbour turned about a place."""
        return Neighbour(self.name, tuple(piece.moved(turn, about) for piece in self.pieces), self.od)


def tube_neighbour(name: str, chain: Chain, od: float) -> Neighbour:
    """A bent or straight tube; its ends are where its centreline stops."""
    pieces: list[Piece] = []
    for k, (frame, origin) in enumerate(zip(chain.frames, chain.origins, strict=True)):
        if k % 2:
            local = np.column_stack([-frame[:, 1], frame[:, 0], frame[:, 2]])
            pieces.append(Torus(origin, local, chain.radius, od / 2, float(chain.angles[k // 2])))
        else:
            pieces.append(Cylinder(origin, frame[:, 0], od / 2, float(chain.straights[k // 2])))
    return Neighbour(name, tuple(pieces), od)


def straight_neighbour(name: str, start: FloatArray, stop: FloatArray, od: float) -> Neighbour:
    """A straight tube of ``od`` mm between two places (3,) mm on its centreline.

    Raises:
        BadValue: the places are nearer to each other than the OD.
    """
    length = float(np.linalg.norm(stop - start))
    if length < od:
        raise BadValue(f'"{name}" is given by two places ', length, " apart, nearer than its OD of ", od)
    return Neighbour(name, (Cylinder(start, unit(stop - start), od / 2, length),), od)


def mitre(leg: Leg, length: float, off_square: float, short_side: float = 0.0) -> Neighbour:
    """A straight saw cut through the axis ``length`` mm from the nearest tangent.

    ``off_square`` is in radians, 0 for a square cut; ``short_side`` is the round on which the tube comes out short.
    """
    axis = rotation_about(leg.along, short_side) @ leg.frame[:, 2]
    normal = rotation_about(axis, off_square) @ -leg.along
    return Neighbour("square cut" if off_square == 0 else "mitre", (Plane(leg.start + length * leg.along, normal),))
