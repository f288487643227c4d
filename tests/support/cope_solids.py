"""Random joints, and the same joints as solids of a general-purpose CAD kernel.

The kernel gets places, directions and sizes; nothing that the product computed goes in.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut
from OCP.BRepGProp import BRepGProp
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCylinder, BRepPrimAPI_MakeTorus
from OCP.gp import gp_Ax2, gp_Dir, gp_Lin, gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.IntCurvesFace import IntCurvesFace_ShapeIntersector
from OCP.TopoDS import TopoDS_Shape

from plumbend.ends.neighbours import Leg, Neighbour, straight_neighbour, tube_neighbour
from plumbend.frames import FloatArray, normals_to, rotation_about, unit
from plumbend.shape.chain import Chain
from support import cut_ends
from support.tubes import random_frame

KINDS = ("equal", "unequal", "offset", "skew", "bent", "plate", "two")


def pnt(place: FloatArray) -> gp_Pnt:
    return gp_Pnt(*map(float, place))


def direction(v: FloatArray) -> gp_Dir:
    return gp_Dir(*map(float, v))


def cylinder(start: FloatArray, axis: FloatArray, radius: float, length: float) -> TopoDS_Shape:
    return BRepPrimAPI_MakeCylinder(gp_Ax2(pnt(start), direction(axis)), radius, length).Shape()


def random_joint(rng: np.random.Generator, kind: str) -> tuple[Leg, list[Neighbour], list[TopoDS_Shape]]:
    """A leg, what it meets, and what it meets as solids."""
    od = float(rng.choice([25.4, 38.1, 44.45]))
    leg = Leg(rng.uniform(-300, 300, 3), random_frame(rng), od, float(rng.uniform(1.6, 3.2)))
    node = leg.start + rng.uniform(220, 300) * leg.along

    def header(size: float, offset: float, least: float) -> tuple[Neighbour, TopoDS_Shape]:
        side = unit(rng.normal(size=2)) @ normals_to(leg.along[None])[0]
        axis = rotation_about(side, rng.uniform(math.radians(least), math.pi - math.radians(least))) @ leg.along
        middle = node + offset * side
        ends = middle - 200 * axis, middle + 200 * axis
        return straight_neighbour("header", *ends, size), cylinder(ends[0], axis, size / 2, 400.0)

    if kind == "plate":
        normal = rotation_about(leg.frame[:, 2], rng.uniform(-1.0, 1.0)) @ -leg.along
        normal = rotation_about(leg.along, rng.uniform(0, 6)) @ normal
        # the box grows along x, y of its own axes; its corner is set so that the node lies in the middle of a face
        ax = gp_Ax2(pnt(node), direction(-normal), direction(normals_to(normal[None])[0, 0]))
        x, y = np.array(ax.XDirection().Coord()), np.array(ax.YDirection().Coord())
        ax.SetLocation(pnt(node - 250 * x - 250 * y))
        box = BRepPrimAPI_MakeBox(ax, 500.0, 500.0, 400.0)
        return leg, [cut_ends.plate("plate", node, normal, leg)], [box.Shape()]
    if kind == "bent":
        size, radius = od + float(rng.uniform(6, 16)), float(rng.uniform(115, 160))
        frame, angle, middle = random_frame(rng), float(rng.uniform(1.0, 1.8)), 0.0
        while True:
            frame, middle = random_frame(rng), float(rng.uniform(0.0, angle))
            # the arc in the frame (along, toward the centre, normal): its place and direction at `middle`
            tangent = frame @ np.array([math.cos(middle), math.sin(middle), 0])
            if abs(tangent @ leg.along) < math.cos(math.radians(45)):
                break
        centre = node - radius * frame @ np.array([math.sin(middle), -math.cos(middle), 0])
        origin = centre - radius * frame[:, 1] - 180 * frame[:, 0]
        chain = Chain(origin, frame, np.array([180.0, 180.0]), np.zeros(1), np.array([angle]), radius)
        torus = BRepPrimAPI_MakeTorus(
            gp_Ax2(pnt(centre), direction(frame[:, 2]), direction(-frame[:, 1])), radius, size / 2, angle)  # fmt: skip
        last = frame @ np.array([math.cos(angle), math.sin(angle), 0])
        end = centre + radius * frame @ np.array([math.sin(angle), -math.cos(angle), 0])
        solids = [cylinder(origin, frame[:, 0], size / 2, 180.0), torus.Shape(), cylinder(end, last, size / 2, 180.0)]
        return leg, [tube_neighbour("hoop", chain, size)], solids
    if kind == "equal":
        sizes, offsets = [od], [0.0]
    elif kind == "unequal":
        sizes, offsets = [od + float(rng.uniform(3, 25))], [0.0]
    else:
        sizes = [od + float(rng.uniform(8, 25)) for _ in range(2 if kind == "two" else 1)]
        offsets = [0.0 if kind == "two" else float(rng.uniform(0, (size - od) / 2)) for size in sizes]
    both = [header(size, offset, 35 if kind == "skew" else 50) for size, offset in zip(sizes, offsets, strict=True)]
    return leg, [neighbour for neighbour, _ in both], [solid for _, solid in both]


def slanted_joint(
    rng: np.random.Generator, least: float, most: float, *, offset: bool
) -> tuple[Leg, list[Neighbour], list[TopoDS_Shape]]:
    """A tube on a larger straight one, the joint angle between two in degrees, its axis aside of the other's or not."""
    od = float(rng.choice([25.4, 38.1, 44.45]))
    size = od + float(rng.uniform(8, 25))
    leg = Leg(rng.uniform(-300, 300, 3), random_frame(rng), od, float(rng.uniform(1.6, 3.2)))
    side = unit(rng.normal(size=2)) @ normals_to(leg.along[None])[0]
    axis = rotation_about(side, math.radians(rng.uniform(least, most)) * rng.choice([-1.0, 1.0])) @ leg.along
    aside = float(rng.uniform(0.2, 0.95)) * (size - od) / 2 if offset else 0.0
    middle = leg.start + 300 * leg.along + aside * side
    ends = middle - 300 * axis, middle + 300 * axis
    return leg, [straight_neighbour("header", *ends, size)], [cylinder(ends[0], axis, size / 2, 600.0)]


def rod(leg: Leg, radius: float, length: float = 215.0) -> TopoDS_Shape:
    return cylinder(leg.start, leg.along, radius, length)


def cut_tube(leg: Leg, solids: Sequence[TopoDS_Shape], length: float) -> TopoDS_Shape:
    """The tube from its tangent on, ``length`` mm long, less the solids."""
    shape = BRepAlgoAPI_Cut(rod(leg, leg.outer, length), rod(leg, leg.inner, length)).Shape()
    for solid in solids:
        cut = BRepAlgoAPI_Cut(shape, solid)
        assert cut.IsDone()
        shape = cut.Shape()
    return shape


def volume(shape: TopoDS_Shape) -> float:
    properties = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, properties, 1e-7)
    return float(properties.Mass())


def first_hits(leg: Leg, solids: Sequence[TopoDS_Shape], rounds: FloatArray, radius: float) -> FloatArray:
    """How far lines along the tube run before the kernel finds them on a face of a solid, mm (m,)."""
    first = np.full(len(rounds), np.inf)
    for solid in solids:
        finder = IntCurvesFace_ShapeIntersector()
        finder.Load(solid, 1e-7)
        for k, side in enumerate(leg.sides(rounds)):
            finder.Perform(gp_Lin(pnt(leg.start + radius * side), direction(leg.along)), 0.0, 900.0)
            for j in range(1, finder.NbPnt() + 1):
                first[k] = min(first[k], finder.WParameter(j))
    return first
