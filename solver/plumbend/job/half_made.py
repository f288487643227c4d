"""A job that is still being made: what it says so far, with nothing held against it for not being there yet."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import create_model

from plumbend.job.checking import read_table
from plumbend.job.dies import read_dies
from plumbend.job.files_beside import read_beside
from plumbend.job.frame_values import TO_BE_FOUND
from plumbend.job.good_to import GoodTo
from plumbend.job.model import VehicleFrame, Written
from plumbend.job.places import Document, Mistakes, Spot, called, toml_spot
from plumbend.job.points_csv import PointRows, read_point_rows
from plumbend.job.reader import read_shop
from plumbend.job.tables import GoodToTable, JobFile, PointRow, Table, TubeTable, TubingTable
from plumbend.job.values import Reading as HowWritten
from plumbend.job.vehicle_frame import Vehicle, frame_of, read_vehicle
from plumbend.job.writing import JobDocument
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.readings import Reading
from plumbend.records import record
from plumbend.shop import Die
from plumbend.units import Units

T = TypeVar("T", bound=Table)


@record
class PointSoFar:
    """A point of a tube.

    Attributes:
        tube: the tube's name.
        index: where it stands among the tube's points, counted from 0.
        name, what, leg: as typed.
        row: all its keys as typed.
    """

    tube: str
    index: int
    name: str
    what: str
    leg: int | None
    row: Mapping[str, Any]

    @property
    def has_place(self) -> bool:
        """Whether forward, left and up are typed, none of them left open."""
        at = self.row.get("at", TO_BE_FOUND)
        return at != TO_BE_FOUND and TO_BE_FOUND not in at


@record
class TubeSoFar:
    """A tube; what is None is not there yet.

    Attributes:
        index: which one of the job's, counted from 0.
        name, bends: as typed.
        die: as typed, a name or a radius.
        other_evidence: it is given by a program, a scan or readings of its own.
        points: in order.
    """

    index: int = 0
    name: str | None = None
    die: str | float | None = None
    bends: int | None = None
    other_evidence: bool = False
    points: tuple[PointSoFar, ...] = ()


@record
class ReadingSoFar:
    """A reading of the vehicle.

    Attributes:
        typed: it as a line.
        written: where it stands.
        reading: it as read; None where it is struck out.
    """

    typed: str
    written: Written
    reading: Reading | None


@record
class HalfMade:
    """A job so far; what is None or empty is not there yet.

    Attributes:
        title, units, shop: of the job.
        od, wall: mm, of the tubing.
        dies: the job's own and those of its shop file.
        tubes: in order; one of which nothing is known where there is none yet.
        bases: in order, as far as they say where they are; ``base_rows`` are their keys as typed.
        places: bases, points, then what readings alone name.
        readings: in the order typed; those that are struck out too.
        planes: those that readings need.
    """

    title: str | None
    units: Units | None
    shop: str | None
    od: float | None
    wall: float | None
    dies: tuple[Die, ...]
    tubes: tuple[TubeSoFar, ...]
    bases: tuple[Place, ...]
    base_rows: tuple[Mapping[str, Any], ...]
    places: tuple[Place, ...]
    readings: tuple[ReadingSoFar, ...]
    planes: tuple[CentrePlane, ...]

    @property
    def points(self) -> tuple[PointSoFar, ...]:
        """Of all tubes, in order."""
        return tuple(point for tube in self.tubes for point in tube.points)

    @property
    def counted(self) -> tuple[Reading, ...]:
        """The readings that are not struck out."""
        return tuple(one.reading for one in self.readings if one.reading is not None)


def _lenient(table: type[T]) -> type[T]:
    """The table with no key that must be there."""
    lenient = create_model(table.__name__, __base__=table, __module__=__name__)
    lenient.needed = ()
    return lenient


_Job, _Tubing, _Tube = _lenient(JobFile), _lenient(TubingTable), _lenient(TubeTable)


def read_half_made(document: JobDocument) -> HalfMade:
    """What a document says so far; of CSV files beside it, what is on the disk.

    Raises:
        BadFile: with everything that is wrong, but nothing that is merely not there yet.
    """
    mistakes = Mistakes()
    typed, folder = document.data, document.path.parent
    place = Document(str(document.path), document.text().replace("\r\n", "\n"))
    top = toml_spot(place)
    table = read_table(_Job, typed, top, HowWritten("mm"), mistakes)
    how = HowWritten(table.units or "mm")
    tubing = read_table(_Tubing, table.tubing or {}, top.within(("tubing",), "[tubing]"), how, mistakes)
    said = read_table(GoodToTable, table.good_to or {}, top.within(("good_to",), "[good_to]"), how, mistakes)
    good_to = GoodTo(said)
    vehicle = read_vehicle(table, place, folder, how, mistakes)
    tubes = [
        _read_tube(row, index, top, folder, how, mistakes, vehicle, good_to)
        for index, row in enumerate(table.tube or [])
    ]
    frame = _frame(vehicle, tubing.od, good_to, how.units, mistakes)
    dies = _dies(table, folder, top, mistakes)
    mistakes.raise_any()
    return HalfMade(
        title=table.title,
        units=table.units,
        shop=table.shop,
        od=tubing.od,
        wall=tubing.wall,
        dies=tuple(dies),
        tubes=tuple(tubes) or (TubeSoFar(),),
        bases=tuple(vehicle.placing.bases.values()),
        base_rows=tuple(table.base or ()),
        places=frame.places,
        readings=tuple(_in_order(frame)),
        planes=frame.planes,
    )


def _dies(table: JobFile, folder: Path, top: Spot, mistakes: Mistakes) -> list[Die]:
    dies = read_dies(table.die or [], top, table.units, mistakes)
    shop = None if table.shop is None else read_beside(read_shop, folder, table.shop, top, "shop", mistakes)
    return [*dies, *(shop.dies if shop else ())]


def _read_tube(
    row: dict[str, Any],
    index: int,
    top: Spot,
    folder: Path,
    how: HowWritten,
    mistakes: Mistakes,
    vehicle: Vehicle,
    good_to: GoodTo,
) -> TubeSoFar:
    """A tube with its points, which the vehicle's places take in."""
    spot = top.within(("tube", index), called("tube", row.get("name"), index + 1))
    table = read_table(_Tube, row, spot, how, mistakes)
    points = []
    rows = _point_rows(table, spot, folder, how, mistakes)
    for at, (point_row, point_spot) in enumerate(rows.rows):
        point = read_table(PointRow, point_row, point_spot, rows.reading, mistakes)
        if point.name is None or point.what is None:
            continue
        if point.on and point.at is None and point.name not in vehicle.placing.times:
            continue  # the end stops at what it is on, and is not measured
        # that no reading names it is no mistake as long as readings may still come
        if not vehicle.placing.add_point(point, True, good_to, point_spot, mistakes):
            sds = (0.0, 0.0, 0.0) if point.at is None else good_to.sds(point.good_to)
            place = Place(point.name, point.at or (None, None, None), sds, hints=point.hint or ())
            vehicle.placing.points.setdefault(point.name, place)
        points.append(PointSoFar(table.name or "", at, point.name, point.what, point.leg, point_row))
    other_evidence = any(part is not None for part in (table.program, table.scan, table.readings))
    return TubeSoFar(index, table.name, table.die, table.bends, other_evidence, tuple(points))


def _point_rows(table: TubeTable, spot: Spot, folder: Path, how: HowWritten, mistakes: Mistakes) -> PointRows:
    """The rows of a tube's points, from the job or their CSV file."""
    if isinstance(table.points, str):

        def read(path: Path) -> PointRows:
            return read_point_rows(path, spot.words, how.units, mistakes)

        return read_beside(read, folder, table.points, spot, "points", mistakes) or PointRows((), how)
    rows = [
        (row, spot.within(("points", at), called("point", row.get("name"), at + 1)))
        for at, row in enumerate(table.points or [])
    ]
    return PointRows(tuple(rows), how)


def _frame(vehicle: Vehicle, od: float | None, good_to: GoodTo, units: Units, mistakes: Mistakes) -> VehicleFrame:
    """Places and readings, in the frame that the job says where there is enough for that, else as bases give it."""
    vehicle.placing.measured = True
    if vehicle.frame is not None:
        too_early = Mistakes()
        frame, _ = frame_of(vehicle, od, good_to, too_early, names_are_sure=False, units=units)
        if frame is not None and not len(too_early):
            return frame
    frame, _ = frame_of(replace(vehicle, frame=None), od, good_to, mistakes, names_are_sure=False, units=units)
    assert frame is not None  # only a frame of the job's own may not come about
    return frame


def _in_order(frame: VehicleFrame) -> list[ReadingSoFar]:
    """Readings that count and those struck out, as they stand in their file."""
    readings = [
        ReadingSoFar(reading.typed, written, reading)
        for reading, written in zip(frame.readings, frame.written, strict=True)
    ]
    readings += [ReadingSoFar(struck.typed, struck.written, None) for struck in frame.struck_out]
    return sorted(readings, key=lambda one: one.written.index)
