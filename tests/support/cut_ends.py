"""Ends to be cut, as templates are drawn of them."""

from __future__ import annotations

import math

import numpy as np

from plumbend.ends.cuts import EndCut
from plumbend.ends.neighbours import Leg, Neighbour, mitre, straight_neighbour
from plumbend.ends.surfaces import Plane
from plumbend.frames import FloatArray, unit

NODE = 300.0


def leg(od: float, wall: float = 2.4) -> Leg:
    """The leg after a bend of 45 degrees."""
    return Leg(np.zeros(3), np.eye(3), od, wall, math.radians(45), 152.4)


def plate(name: str, place: FloatArray, normal: FloatArray, onto: Leg) -> Neighbour:
    """A plate, by a place (3,) mm on the face that ``onto`` meets, and a direction square to it, either way."""
    facing = unit(normal)
    return Neighbour(name, (Plane(place, -facing if facing @ onto.along > 0 else facing),))


def header(name: str, od: float, angle_deg: float, clocked_deg: float = 0.0, aside: float = 0.0) -> Neighbour:
    """A straight tube at a joint angle, its tight side at a round."""
    a, t = math.radians(angle_deg), math.radians(clocked_deg)
    along = np.array([-math.cos(a), math.sin(a) * math.cos(t), math.sin(a) * math.sin(t)])
    middle = np.array([NODE, 0.0, 0.0]) + aside * unit(np.cross([1.0, 0.0, 0.0], along))
    return straight_neighbour(name, middle - 400 * along, middle + 400 * along, od)


def cut(od: float, *neighbours: Neighbour, allowance: float = 0.0) -> EndCut:
    return EndCut("stretcher rail, left", "F", leg(od), neighbours, allowance=allowance)


SMALL = cut(25.4, header("ladder hoop", 25.4, 90), allowance=3.0)
SLANTED = cut(44.45, header("ladder hoop", 44.45, 45, 140), allowance=3.0)
LARGE = cut(60.3, header("upright", 76.1, 70, 110, 5.0))
NODE_OF_TWO = cut(44.45, header("lower rail", 44.45, 60, 30), header("stretcher rail", 44.45, 110, 150))
MITRE = cut(44.45, mitre(leg(44.45), NODE, math.radians(30), math.radians(90)))
SQUARE = cut(38.1, mitre(leg(38.1), NODE, 0.0))
ON_ITS_SIDE = cut(76.1, header("cross beam", 88.9, 75, 40))
TILED = cut(101.6, header("cross beam", 114.3, 60, 40), allowance=3.0)
EVERY = {
    "small": SMALL,
    "slanted": SLANTED,
    "large": LARGE,
    "node of two": NODE_OF_TWO,
    "mitre": MITRE,
    "square": SQUARE,
    "on its side": ON_ITS_SIDE,
    "tiled": TILED,
}
