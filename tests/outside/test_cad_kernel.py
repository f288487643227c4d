"""Bent tubes against a general-purpose CAD kernel: centreline length, volume, and where the tangents lie.

The kernel gets corners and a radius and rounds the corners off itself; where a U-bend has no corner it is
handed straights, turns and bends, and moves its own coordinate frame from one to the next. Nothing that the
product computed goes in.
"""

import math
from collections.abc import Iterable
from itertools import pairwise

import numpy as np
import pytest
from OCP.BRepAdaptor import BRepAdaptor_Curve
from OCP.BRepBuilderAPI import (
    BRepBuilderAPI_MakeEdge,
    BRepBuilderAPI_MakeFace,
    BRepBuilderAPI_MakeWire,
)
from OCP.BRepGProp import BRepGProp
from OCP.BRepOffsetAPI import BRepOffsetAPI_MakePipe
from OCP.ChFi2d import ChFi2d_FilletAlgo
from OCP.GC import GC_MakeArcOfCircle
from OCP.gp import gp_Ax1, gp_Ax2, gp_Circ, gp_Dir, gp_Pln, gp_Pnt, gp_Trsf, gp_Vec
from OCP.GProp import GProp_GProps
from OCP.TopoDS import TopoDS_Edge, TopoDS_Wire

from plumbend.frames import FloatArray
from plumbend.making.corners import corners_from_program, program_from_corners
from plumbend.shape.chain import Chain
from plumbend.shape.program import Program

RADIUS, OD, WALL = 140.0, 44.45, 2.4


def pnt(place: Iterable[float]) -> gp_Pnt:
    return gp_Pnt(*map(float, place))


def wire_of(edges: Iterable[TopoDS_Edge]) -> TopoDS_Wire:
    maker = BRepBuilderAPI_MakeWire()
    for edge in edges:
        maker.Add(edge)
        assert maker.IsDone()  # else the edge does not join the one before
    return maker.Wire()


def rounded(corners: FloatArray, radius: float) -> list[TopoDS_Edge]:
    """Straight edges through the corners, with the kernel's fillets between them."""
    legs = [BRepBuilderAPI_MakeEdge(pnt(a), pnt(b)).Edge() for a, b in pairwise(corners)]
    done = []
    for k, corner in enumerate(corners[1:-1], start=1):
        normal = np.cross(corners[k] - corners[k - 1], corners[k + 1] - corners[k])
        fillet = ChFi2d_FilletAlgo(legs[k - 1], legs[k], gp_Pln(pnt(corner), gp_Dir(*map(float, normal))))
        assert fillet.Perform(radius)
        before, after = TopoDS_Edge(), TopoDS_Edge()
        arc = fillet.Result(pnt(corner), before, after)
        done += [before, arc]
        legs[k] = after
    return [*done, legs[-1]]


def walked(program: Program, radius: float) -> list[TopoDS_Edge]:
    """The same from a program: straight, turn and bend laid in a frame that the kernel moves along.

    The frame's first axis runs along the tube, the second points to the next bend's centre.
    """
    origin, along, across = gp_Pnt(0, 0, 0), gp_Dir(1, 0, 0), gp_Dir(0, 0, 1)
    centre = gp_Pnt(0, radius, 0)
    here = gp_Trsf()  # from the moving frame to where the tube has got to
    edges = []
    for k, straight in enumerate(program.straights):
        ahead = gp_Trsf()
        ahead.SetTranslation(gp_Vec(float(straight), 0, 0))
        start = origin.Transformed(here)
        here.Multiply(ahead)
        edges.append(BRepBuilderAPI_MakeEdge(start, origin.Transformed(here)).Edge())
        if k < program.bends:
            turn, half = gp_Trsf(), gp_Trsf()
            turn.SetRotation(gp_Ax1(origin, along), float(program.rotations[k]))
            half.SetRotation(gp_Ax1(centre, across), float(program.angles[k]) / 2)
            here.Multiply(turn)
            places = [origin.Transformed(here)]
            for _ in range(2):
                here.Multiply(half)
                places.append(origin.Transformed(here))
            edges.append(BRepBuilderAPI_MakeEdge(GC_MakeArcOfCircle(*places).Value()).Edge())
    return edges


def length(wire: TopoDS_Wire) -> float:
    found = GProp_GProps()
    BRepGProp.LinearProperties_s(wire, found)
    return float(found.Mass())


def swept_volume(wire: TopoDS_Wire, start: FloatArray, course: FloatArray, diameter: float) -> float:
    """Volume of a round bar of ``diameter`` along the wire."""
    circle = gp_Circ(gp_Ax2(pnt(start), gp_Dir(*map(float, course))), diameter / 2)
    rim = wire_of([BRepBuilderAPI_MakeEdge(circle).Edge()])
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(BRepOffsetAPI_MakePipe(wire, BRepBuilderAPI_MakeFace(rim).Face()).Shape(), found)
    return abs(float(found.Mass()))


def ends_of(edge: TopoDS_Edge) -> FloatArray:
    """(2, 3)"""
    curve = BRepAdaptor_Curve(edge)
    ends = [curve.Value(curve.FirstParameter()), curve.Value(curve.LastParameter())]
    return np.array([[end.X(), end.Y(), end.Z()] for end in ends])


def assert_made_alike(edges: list[TopoDS_Edge], chain: Chain) -> None:
    """Tangents, centreline length and volume of the kernel's tube and of the product's."""
    program = chain.program
    for edge, (start, end) in zip(edges[::2], chain.tangents(), strict=True):
        assert ends_of(edge) == pytest.approx(np.array([start, end]), abs=1e-6)
    wire = wire_of(edges)
    developed = program.developed_length(chain.radius)
    assert length(wire) == pytest.approx(developed, abs=1e-6)
    start, course = chain.tangents()[0, 0], chain.frames[0, :, 0]
    metal = swept_volume(wire, start, course, OD) - swept_volume(wire, start, course, OD - 2 * WALL)
    expected = math.pi / 4 * (OD**2 - (OD - 2 * WALL) ** 2) * developed
    assert metal == pytest.approx(expected, rel=1e-6)


def random_program(random: np.random.Generator, bends: int) -> Program:
    rotations = random.uniform(-math.pi, math.pi, bends)
    rotations[:1] = 0.0
    angles = np.radians(random.uniform(5.0, 150.0, bends))
    return Program(random.uniform(80.0, 700.0, bends + 1), rotations, angles)


def random_corners(random: np.random.Generator, bends: int) -> FloatArray:
    """Corners far enough apart for turns of at most 120 degrees."""
    course = random.normal(size=3)
    corners = [random.normal(size=3) * 500.0]
    setback = 0.0
    for k in range(bends + 1):
        turn = math.radians(random.uniform(10.0, 120.0)) if k < bends else 0.0
        course = course / np.linalg.norm(course)
        corners.append(corners[-1] + (setback + random.uniform(80.0, 500.0) + RADIUS * math.tan(turn / 2)) * course)
        setback = RADIUS * math.tan(turn / 2)
        side = np.cross(course, random.normal(size=3))
        course = math.cos(turn) * course + math.sin(turn) * side / np.linalg.norm(side)
    return np.array(corners)


@pytest.mark.parametrize("seed", range(18))
def test_corners_rounded_by_the_kernel(seed: int) -> None:
    corners = random_corners(np.random.default_rng([140, seed]), 1 + seed % 6)
    program = program_from_corners(corners, RADIUS)
    edges = rounded(corners, RADIUS)
    assert length(wire_of(edges)) == pytest.approx(program.developed_length(RADIUS), abs=1e-6)
    # laid out by its program the tube is the same but stands elsewhere
    at_home = corners_from_program(program, RADIUS)
    assert_made_alike(rounded(at_home, RADIUS), Chain.from_program(program, RADIUS))


@pytest.mark.parametrize("seed", range(12))
def test_programs_walked_by_the_kernel(seed: int) -> None:
    bends = 1 + seed % 6
    random = np.random.default_rng([2140, seed])
    program = random_program(random, bends)
    if seed % 2:  # one bend of every other tube is a U
        angles = program.angles.copy()
        angles[random.integers(bends)] = math.pi
        program = Program(program.straights, program.rotations, angles)
    assert_made_alike(walked(program, RADIUS), Chain.from_program(program, RADIUS))


def test_u_bend() -> None:
    program = Program(np.array([400.0, 250.0]), np.zeros(1), np.array([math.pi]))
    chain = Chain.from_program(program, RADIUS)
    edges = walked(program, RADIUS)
    assert_made_alike(edges, chain)
    assert length(wire_of(edges)) == pytest.approx(650.0 + math.pi * RADIUS, abs=1e-6)
    assert chain.far_end == pytest.approx(np.array([150.0, 2 * RADIUS, 0.0]), abs=1e-9)
