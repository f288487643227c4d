"""A job as read: everything in mm and radians, every name settled."""

from __future__ import annotations

from dataclasses import dataclass

from plumbend.frames import FloatArray
from plumbend.shape.points import Point
from plumbend.shape.program import Program
from plumbend.shape.scan import Scan
from plumbend.shape.tube_readings import TubeReading
from plumbend.shop import Die
from plumbend.tubing import Tubing
from plumbend.units import Units


@dataclass(frozen=True, slots=True)
class WantedTube:
    """One tube of a job: either points in order from the start end, or a program from elsewhere.

    Attributes:
        name: the tube's name.
        die: the die to bend it on.
        points: in the order typed; empty where ``program`` is given.
        bends: number of bends where told.
        program: straights, rotations and angles where typed instead of points.
        readings: of the tube itself.
        joint: (3m, 3m) mm^2, covariance of all m points together, in their order; None where they are
            independent.
        planar: the tube lies in one plane.
        scan: places on its outside, in any order.
        copied: the points are of an existing part, whose bends have a radius of their own.
    """

    name: str
    die: Die
    points: tuple[Point, ...] = ()
    bends: int | None = None
    program: Program | None = None
    readings: tuple[TubeReading, ...] = ()
    joint: FloatArray | None = None
    planar: bool = False
    scan: Scan | None = None
    copied: bool = False


@dataclass(frozen=True, slots=True)
class Job:
    """One job file with the shop file that it names.

    Attributes:
        title: the job's title; the file's name where none is given.
        units: how bare numbers were read and results are written.
        tubing: the stock that every tube of the job is made from.
        tubes: the tubes wanted, in the file's order.
        assumed: accuracies that the file left to the instrument table, in words, to be said once.
    """

    title: str
    units: Units
    tubing: Tubing
    tubes: tuple[WantedTube, ...]
    assumed: tuple[str, ...] = ()
