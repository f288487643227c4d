"""A job as read: everything in mm and radians, every name settled."""

from __future__ import annotations

from dataclasses import field, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.points import AT_IT, Point, PointKind, Standoff
from plumbend.shape.program import Program
from plumbend.shape.scan import Scan
from plumbend.shape.tube_readings import TubeReading
from plumbend.shop import Bender, Die, Notcher, Ways
from plumbend.tubing import Tubing
from plumbend.units import Units

if TYPE_CHECKING:  # a job without neighbours, or without readings of the vehicle, does not pay for them
    from plumbend.job.meetings import Fixture, Meeting
    from plumbend.measuring.places import CentrePlane, Place
    from plumbend.measuring.readings import Reading
    from plumbend.shape.demands import Demand


@record
class PlacedPoint:
    """A point of a tube that readings of the vehicle place.

    Attributes:
        index: where it stands among all points of its tube, counted from 0.
        name: of the point, and of its place among those of the job's frame.
        what, leg, bend, side, standoff: as of :class:`plumbend.shape.points.Point`.
    """

    index: int
    name: str
    what: PointKind
    leg: int | None = None
    bend: int | None = None
    side: FloatArray | None = None
    standoff: Standoff = AT_IT

    def at(self, at: FloatArray, cov: FloatArray) -> Point:
        """The point, once its place (3,) in mm and the covariance (3, 3) of that are known."""
        return Point(self.name, self.what, at, cov + self.left_open, self.leg, self.bend, self.side, self.standoff)

    @property
    def left_open(self) -> FloatArray:
        """(3, 3) mm^2, what a place to touch within so much leaves open beside its own doubt."""
        return np.eye(3) * (self.standoff.within or 0.0) ** 2


@record
class ParallelToTube:
    """Leg ``leg`` is to be parallel to leg ``other`` of a ``tube`` that comes earlier in the job.

    ``sd`` in radians; None where it is to be so exactly.
    """

    leg: int
    tube: str
    other: int
    sd: float | None = None


@record
class WantedTube:
    """One tube of a job: what was measured of it, points, readings or a scan; else a program from elsewhere.

    Attributes:
        name: the tube's name.
        die: the die to bend it on.
        points: those typed with their place alone, in the order typed; empty where ``program`` is given.
        bends: number of bends; found where None.
        program: straights, rotations and angles where typed instead of points.
        readings: of the tube itself.
        joint: (3m, 3m) mm^2, covariance of all m points together, in their order; None where they are
            independent.
        planar: the tube lies in one plane.
        scan: places on its outside, in any order.
        copied: the points are of an existing part, whose bends have a radius of their own.
        placed: points that readings of the vehicle place, in the order typed.
        demands: what the tube is to be by itself.
        beside: what it is to be beside other tubes.
        ordered: the points were typed in order from the start end; else the order is found.
        dies: all that take the tube, where it names none and several do: which one is a question, and ``die`` is but
            the first of them.
        meetings: what its ends are cut to, the start end's first. An end that is not measured is none of the points.
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
    placed: tuple[PlacedPoint, ...] = ()
    demands: tuple[Demand, ...] = ()
    beside: tuple[ParallelToTube, ...] = ()
    ordered: bool = True
    dies: tuple[Die, ...] = ()
    meetings: tuple[Meeting, ...] = ()

    @property
    def names(self) -> list[str]:
        """Names of all points, in the order typed."""
        names = [point.name for point in self.points]
        for point in self.placed:
            names.insert(point.index, point.name)
        return names

    @property
    def ends(self) -> tuple[str, str] | None:
        """Names of the start end and the far end; None where no points name them."""
        names = self.names
        start = [meeting.end for meeting in self.meetings if not meeting.far] or names[:1]
        far = [meeting.end for meeting in self.meetings if meeting.far] or names[-1:]
        return (start[0], far[0]) if start and far else None

    def with_places(self, at: FloatArray, covariance: FloatArray) -> WantedTube:
        """The tube with all its points among ``points``, in the order typed, and how they go together.

        Args:
            at: (k, 3) mm, where the placed points are, in their order.
            covariance: (3k, 3k) mm^2, of all these together.
        """
        if not self.placed:
            return self
        points = list(self.points)
        for k, (placed, place) in enumerate(zip(self.placed, at, strict=True)):
            own = slice(3 * k, 3 * k + 3)
            points.insert(placed.index, placed.at(place, covariance[own, own]))
        joint = np.zeros((3 * len(points), 3 * len(points)))
        for i, point in enumerate(points):
            joint[3 * i : 3 * i + 3, 3 * i : 3 * i + 3] = point.cov
        columns = np.concatenate([3 * placed.index + np.arange(3) for placed in self.placed])
        joint[np.ix_(columns, columns)] = covariance
        for placed in self.placed:
            own = slice(3 * placed.index, 3 * placed.index + 3)
            joint[own, own] += placed.left_open
        return replace(self, points=tuple(points), joint=joint, placed=())


@record
class Written:
    """Where a reading stands.

    Attributes:
        file: the job file or the CSV file, as the user named it.
        line: its line there, counted from 1; None where it cannot be told.
        form: a table in the job's list, a line of the job's text, or a row of a CSV file.
        index: its position in the list, among the lines of the text, blank ones and remarks too, or among the rows
            below the headings, counted from 0.
        note: what is noted beside it.
    """

    file: str
    line: int | None
    form: Literal["rows", "lines", "csv"]
    index: int
    note: str | None = None


@record
class StruckOut:
    """A reading that is kept in the file but does not count: as typed, unchecked, and where it stands."""

    typed: str
    written: Written


@record
class VehicleFrame:
    """What was measured on the vehicle: bases and points, and every reading between them.

    Attributes:
        places: bases first, then points of tubes that readings place, then other places that readings name.
        readings: in the order typed; ``typed`` of each is the line it would be, such as "A tape B1 41-3/8".
        written: where each reading stands, in the same order.
        planes: the centre plane, where a reading needs it.
        struck_out: readings that do not count.
        words: what forward, left and up are counted from.
    """

    places: tuple[Place, ...]
    readings: tuple[Reading, ...]
    written: tuple[Written, ...]
    planes: tuple[CentrePlane, ...] = ()
    struck_out: tuple[StruckOut, ...] = ()
    words: str = ""

    @property
    def numbers(self) -> tuple[int, ...]:
        """The number of each reading: its place in the list as typed, from 1, those struck out counted too.

        So striking one out, or taking it back in, gives no other reading another number.
        """
        number = self._number_of
        return tuple(number[written.index] for written in self.written)

    @property
    def struck_numbers(self) -> tuple[int, ...]:
        """The same for those struck out."""
        number = self._number_of
        return tuple(number[struck.written.index] for struck in self.struck_out)

    @property
    def _number_of(self) -> dict[int, int]:
        every = (*self.written, *(struck.written for struck in self.struck_out))
        return {index: number for number, index in enumerate(sorted(one.index for one in every), 1)}


@record
class Job:
    """One job file with the shop file that it names.

    Attributes:
        title: the job's title; the file's name where none is given.
        units: how bare numbers were read and results are written.
        tubing: the stock that every tube of the job is made from.
        tubes: the tubes wanted, in the file's order.
        assumed: what the file left to be assumed, above all accuracies, in words, to be said once.
        frame: what was measured on the vehicle; None where the job has neither bases nor readings.
        bender, notcher: the machines, as far as the shop says.
        ways: how the man works, as far as job and shop say.
        neighbours: what is there already, for ends of tubes to meet.
    """

    title: str
    units: Units
    tubing: Tubing
    tubes: tuple[WantedTube, ...]
    assumed: tuple[str, ...] = ()
    frame: VehicleFrame | None = None
    bender: Bender = field(default_factory=Bender)
    notcher: Notcher = field(default_factory=Notcher)
    ways: Ways = field(default_factory=Ways)
    neighbours: tuple[Fixture, ...] = ()
