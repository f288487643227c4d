"""One ``[[tube]]`` table: a program from elsewhere, or everything that was measured of the tube."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from plumbend.frames import FloatArray
from plumbend.job.checking import read_table
from plumbend.job.dies import choose_die, open_dies
from plumbend.job.files_beside import read_beside
from plumbend.job.good_to import GoodTo
from plumbend.job.model import ParallelToTube, PlacedPoint, WantedTube
from plumbend.job.named import Named
from plumbend.job.places import Mistakes, Spot, called
from plumbend.job.placing import Placing
from plumbend.job.points_csv import PointRows, read_point_rows
from plumbend.job.tables import TubeTable
from plumbend.job.tube_points import PointsTold, TubePoints, read_points
from plumbend.job.values import MOST_BENDS, Reading
from plumbend.notices import listed
from plumbend.progress import Progress, untold
from plumbend.shape.points import Point
from plumbend.shape.program import Program
from plumbend.shop import Die
from plumbend.units import length_with_unit

if TYPE_CHECKING:  # a tube pays for what it has
    from plumbend.job.end_cuts import MeetingAt
    from plumbend.shape.demands import Demand
    from plumbend.shape.scan import Scan
    from plumbend.shape.tube_readings import TubeReading

FARTHEST = 15_000.0
"""mm that the points of one tube may lie apart: no stick of tube is as long."""

_MEASURED = ("points", "readings", "scan")


@dataclass
class Common:
    """What every tube of a job is read with. ``od`` and ``dies`` are None where mistakes hide them."""

    folder: Path
    reading: Reading
    od: float | None
    dies: list[Die] | None
    good_to: GoodTo
    mistakes: Mistakes
    placing: Placing
    progress: Progress = untold
    tube_names: set[str] = field(default_factory=set)
    meetings: list[tuple[str, MeetingAt]] = field(default_factory=list)


def read_tube(row: dict[str, Any], index: int, top: Spot, common: Common) -> WantedTube | None:
    """The tube of the ``index``-th table; None where its mistakes, which are noted, leave no tube."""
    spot = top.within(("tube", index), called("tube", row.get("name"), index + 1))
    before = len(common.mistakes)
    table = read_table(TubeTable, row, spot, common.reading, common.mistakes)
    if table.points is None and len(common.mistakes) > before:
        common.placing.hides_names = True  # the points may stand under a key that was misspelt
    if table.name is not None and table.name in common.tube_names:
        common.mistakes.add(spot, ("name",), f'there are two tubes called "{table.name}"', "Give each its own name.")
    common.tube_names.add(table.name or "")
    die = _read_die(table, spot, common)
    _check_keys(table, spot, common.mistakes)
    program, bends = _read_program(table, spot, common)
    points, named = TubePoints(bends=bends), Named()
    if table.points is not None:
        points, named = _read_points(table, spot, common)
        bends = points.bends
        _check_reach(points.typed, spot, common)
        if table.copied:
            _check_copy([*points.typed, *points.placed], spot, common.mistakes)
    readings, bends = _read_readings(table, spot, bends, named, common)
    scan = _read_scan(table, spot, common)
    demands, beside = _read_demands(table, spot, bends, common)
    common.meetings += [(table.name or "", meeting) for meeting in points.meetings]
    if die is None or table.name is None:
        return None
    return WantedTube(
        table.name,
        die,
        tuple(points.typed),
        bends,
        program,
        readings=tuple(readings),
        planar=bool(table.planar),
        scan=scan,
        copied=bool(table.copied),
        placed=tuple(points.placed),
        demands=tuple(demands),
        beside=tuple(beside),
        ordered=table.ordered is not False,
        dies=open_dies(table.die, common.dies or [], common.od),
        meetings=tuple(sorted((at.meeting for at in points.meetings), key=lambda meeting: meeting.far)),
    )


def _read_die(table: TubeTable, spot: Spot, common: Common) -> Die | None:
    """The tube's die; None with the mistake noted here or where it hides the dies or the tube's size."""
    misread = table.says("die") and table.die is None
    if common.dies is None or misread or (table.die is None and common.od is None):
        return None
    return choose_die(table.die, common.dies, common.od, spot, common.reading.units, common.mistakes)


def _check_keys(table: TubeTable, spot: Spot, mistakes: Mistakes) -> None:
    """Hold together the keys that say what the tube is given by."""
    measured = [key for key in _MEASURED if table.says(key)]
    if table.says("program"):
        if measured:
            what = f"it has both {'a scan' if measured[0] == 'scan' else measured[0]} and a program"
            mistakes.add(spot, (), what, "A tube is given by what was measured or by its program.")
        for key in ("planar", "copied", "ordered", "demands"):
            if table.says(key):
                mistakes.add(spot, (key,), f'"{key}" does not go with a program', "Take it out.")
    elif not measured:
        what = "it has neither points nor a program"
        mistakes.add(spot, (), what, "A tube is given by points, readings and a scan, any of them, or by its program.")
    elif table.copied and measured == ["readings"]:
        mend = "Measure places on the bends, or take it out: the radius of the existing bends is found from them."
        mistakes.add(spot, ("copied",), "a copy needs points or a scan", mend)
    elif table.says("ordered") and not table.says("points"):
        mistakes.add(spot, ("ordered",), "there are no points that it is said of", "Take it out.")
    for key in ("scan_good_to", "scan_alike"):
        if table.says(key) and not table.says("scan"):
            mend = 'Name it, such as scan = "scan.csv", or take this out.'
            mistakes.add(spot, (key,), "there is no scan that it is said of", mend)


def _check_copy(points: Sequence[Point | PlacedPoint], spot: Spot, mistakes: Mistakes) -> None:
    """Places on the body say where a new tube may run, and nothing of the part that is copied."""
    on_body = [point.name for point in points if point.what in ("touch", "clear")]
    if on_body:
        what = f"a copy lies as the existing part does, but {listed(on_body)} would have it lie elsewhere"
        mend = "Take out copied, or the places on the body."
        mistakes.add(spot, ("copied",), what, mend)


def _check_reach(points: Sequence[Point], spot: Spot, common: Common) -> None:
    """Ask back about points that reach so far that they must be in other units than they are read in."""
    if len(points) < 2:
        return
    at = np.array([point.at for point in points])
    reach = float(np.ptp(at, axis=0).max())
    if reach <= FARTHEST:
        return
    units = common.reading.units
    other = "mm" if units == "in" else "in"
    what = f"the points reach over {length_with_unit(reach, units)}, {reach / 1000:.0f} m"
    mend = f'Write units = "{other}" if they are in {other}, or its unit with each figure that has lost it.'
    common.mistakes.add(spot, ("points",), what, mend)


def _read_program(table: TubeTable, spot: Spot, common: Common) -> tuple[Program | None, int | None]:
    """The tube's program, and its number of bends by that or as told."""
    if table.program is None:
        return None, table.bends
    from plumbend.job.tube_program import read_program_rows  # only a tube given by its program pays for it

    rows = _rows(table.program, "program", "program row", spot, by_name=False)
    program = read_program_rows(rows, spot, common.reading, common.mistakes)
    if program is None:
        return None, table.bends
    if table.bends is not None and table.bends != program.bends:
        what = f"the program has {program.bends} bends, not {table.bends}"
        common.mistakes.add(spot, ("bends",), what, "Correct bends, or leave it out.")
    return program, program.bends


def _rows(
    typed: Sequence[dict[str, Any]], key: str, kind: str, spot: Spot, by_name: bool
) -> list[tuple[dict[str, Any], Spot]]:
    """Rows under a key with their places, called by name or by number."""
    return [
        (row, spot.within((key, at), called(kind, row.get("name") if by_name else None, at + 1)))
        for at, row in enumerate(typed)
    ]


def _read_points(table: TubeTable, spot: Spot, common: Common) -> tuple[TubePoints, Named]:
    reading, mistakes = common.reading, common.mistakes
    before = len(mistakes)
    if isinstance(table.points, str):

        def read(path: Path) -> PointRows:
            return read_point_rows(path, spot.words, reading.units, mistakes)

        found = read_beside(read, common.folder, table.points, spot, "points", mistakes)
        if found is None:
            common.placing.hides_names = True
            return TubePoints(bends=table.bends), Named(is_sure=False)
        rows, reading = found.rows, found.reading
    else:
        rows = tuple(_rows(table.points or [], "points", "point", spot, by_name=True))
    told = PointsTold(
        table.bends,
        unread=table.says("bends") and table.bends is None,
        found=table.says("readings") or table.says("scan"),
        ordered=table.ordered is not False,
    )
    points = read_points(rows, spot, told, reading, common.good_to, common.placing, mistakes)
    return points, Named(points.ends, points.corners, points.unnumbered, is_sure=len(mistakes) == before)


def _read_readings(
    table: TubeTable, spot: Spot, bends: int | None, named: Named, common: Common
) -> tuple[list[TubeReading], int | None]:
    """The readings of the tube, and its number of bends, which readings alone tell too."""
    if table.readings is None:
        return [], bends
    from plumbend.job.tube_readings import ReadingMaker, least_bends, read_tube_readings  # likewise with readings

    read = read_tube_readings(
        _rows(table.readings, "readings", "reading", spot, by_name=False), common.reading, common.mistakes
    )
    if not table.readings and not table.says("points") and not table.says("scan"):
        mend = "Write readings = [ { bend = 1, angle = 31.5 }, ... ]."
        common.mistakes.add(spot, ("readings",), "there are no readings in the list", mend)
    if bends is None and not any(map(table.says, ("bends", "points", "scan"))):
        needed = least_bends(read)
        bends = needed if needed <= MOST_BENDS else None
    maker = ReadingMaker(bends, named, common.od, common.good_to, common.mistakes)
    made = [maker.make(reading, place) for reading, place in read]
    return [reading for reading in made if reading is not None], bends


def _read_demands(
    table: TubeTable, spot: Spot, bends: int | None, common: Common
) -> tuple[list[Demand], list[ParallelToTube]]:
    """What the tube is to be, by itself and beside tubes that stand before it."""
    if not table.demands:
        return [], []
    from plumbend.job.tube_demands import read_demands  # a tube without demands does not pay for them

    rows = _rows(table.demands, "demands", "demand", spot, by_name=False)
    own, others = read_demands(rows, bends, common.good_to, common.reading, common.mistakes)
    for other in others:
        if other.tube == table.name or other.tube not in common.tube_names:
            mend = "Name one that stands before it in the file: tubes are found in that order."
            common.mistakes.add(spot, ("demands",), f'no tube called "{other.tube}" comes before this one', mend)
    return own, others


def _read_scan(table: TubeTable, spot: Spot, common: Common) -> Scan | None:
    if table.scan is None:
        return None
    from plumbend.job.scan_csv import read_scan  # a tube without a scan does not pay for it
    from plumbend.shape.scan import Scan  # likewise

    def read(path: Path) -> FloatArray:
        return read_scan(path, spot.words, common.reading.units, common.progress)

    at = read_beside(read, common.folder, table.scan, spot, "scan", common.mistakes)
    if at is None:
        return None
    shared = 0.0
    if table.scan_alike is not None:
        from plumbend.shape.alike import shared_by_neighbours  # few scans say that neighbours are off together

        shared = shared_by_neighbours(at, table.scan_alike)
    return Scan(at, common.good_to.sd("scan", table.scan_good_to), alike=table.scan_alike, shared=shared)
