"""Job and shop files read, with every mistake in them told at once."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from plumbend.job.checking import note_below_heading, read_table
from plumbend.job.dies import read_dies
from plumbend.job.files import read_utf8
from plumbend.job.files_beside import read_beside
from plumbend.job.good_to import GoodTo
from plumbend.job.machines import Machines, of_either, read_machines
from plumbend.job.model import Job, VehicleFrame
from plumbend.job.places import Document, Mistakes, Spot, toml_spot
from plumbend.job.placing import Placing
from plumbend.job.tables import GoodToTable, JobFile, ShopFile, TubingTable
from plumbend.job.toml_parsing import parse_toml
from plumbend.job.tube import Common, read_tube
from plumbend.job.values import Reading
from plumbend.progress import Progress, untold
from plumbend.shop import Die, Shop
from plumbend.tubing import Tubing
from plumbend.units import check_tube_size

if TYPE_CHECKING:  # a job without neighbours does not pay for them
    from plumbend.job.meetings import Fixture

VEHICLE_KEYS = frozenset({"readings", "base", "datum", "floor", "centre_plane", "frame", "tape"})
"""Top-level keys that say what was measured on the vehicle."""

_NO_UNITS = Reading("mm")
"""Stands in where a file does not say its units: nothing that is read with it gets out, but mistakes do."""


def read_shop(path: Path | str) -> Shop:
    """Read a shop file.

    Args:
        path: the file, as the user names it.

    Raises:
        BadFile: with every mistake of the file.
    """
    mistakes = Mistakes()
    typed, document = _open(Path(path))
    top = toml_spot(document)
    table = read_table(ShopFile, typed, top, _NO_UNITS, mistakes)
    _note_hung_readings(typed, top, ShopFile.later, mistakes)
    dies = read_dies(table.die or [], top, table.units, mistakes)
    machines = read_machines(table, top, mistakes)
    mistakes.raise_any()
    return Shop(tuple(dies), machines.bender, machines.notcher, machines.ways)


def read_job(path: Path | str, progress: Progress = untold) -> Job:
    """Read a job file with the shop file and the CSV files that it names, which lie beside it.

    Args:
        path: the file, as the user names it.
        progress: told of a scan that is read.

    Raises:
        BadFile: with every mistake of all these files.
    """
    path = Path(path)
    mistakes = Mistakes()
    typed, document = _open(path)
    top = toml_spot(document)
    table = read_table(JobFile, typed, top, _NO_UNITS, mistakes)
    _note_hung_readings(typed, top, JobFile.later, mistakes)
    reading = Reading(table.units or "mm")
    tubing, no_wall = _read_tubing(table, top, reading, mistakes)
    said = read_table(GoodToTable, table.good_to or {}, top.within(("good_to",), "[good_to]"), reading, mistakes)
    vehicle = None
    if any(map(table.says, VEHICLE_KEYS)):
        from plumbend.job.vehicle_frame import frame_of, read_vehicle  # a job without these does not pay for them

        vehicle = read_vehicle(table, document, path.parent, reading, mistakes)
    dies, machines = _gather_shop(table, path.parent, top, mistakes)
    common = Common(
        folder=path.parent,
        reading=reading,
        od=tubing.od if tubing else None,
        dies=dies,
        good_to=GoodTo(said),
        mistakes=mistakes,
        placing=vehicle.placing if vehicle else Placing(),
        progress=progress,
    )
    tubes = [read_tube(row, index, top, common) for index, row in enumerate(table.tube or [])]
    frame: VehicleFrame | None = None
    assumed: tuple[str, ...] = ()
    if vehicle:
        sure = not common.placing.hides_names and table.tube is not None
        frame, assumed = frame_of(
            vehicle, common.od, common.good_to, mistakes, names_are_sure=sure, units=reading.units
        )
    neighbours: tuple[Fixture, ...] = ()
    if table.neighbour or common.meetings:
        from plumbend.job.around import read_around  # a job without neighbours does not pay for them

        placed: list[str] | None = []
        if vehicle:  # readings that were not understood may find more places
            placed = [place.name for place in frame.places] if frame and common.placing.is_sure else None
        neighbours = read_around(table, [tube for tube in tubes if tube], no_wall, placed, top, common)
    mistakes.raise_any()
    assert tubing is not None  # else a mistake was raised
    return Job(
        title=table.title or path.stem,
        units=reading.units,
        tubing=tubing,
        tubes=tuple(tube for tube in tubes if tube is not None),
        assumed=(*common.good_to.assumed(reading.units), *assumed),
        frame=frame,
        bender=machines.bender,
        notcher=machines.notcher,
        ways=machines.ways,
        neighbours=neighbours,
    )


def _open(path: Path) -> tuple[dict[str, Any], Document]:
    text = read_utf8(path)
    return parse_toml(text, str(path)), Document(str(path), text)


def _note_hung_readings(typed: Mapping[str, Any], top: Spot, tables: frozenset[str], mistakes: Mistakes) -> None:
    """Readings below the heading of a table that is not read yet, where no check of its keys would find them."""
    for name in sorted(tables & set(typed)):
        value = typed[name]
        for index, table in enumerate(value if isinstance(value, list) else [value]):
            if isinstance(table, dict) and "readings" in table:
                keys = (name, index) if isinstance(value, list) else (name,)
                note_below_heading("readings", top.within(keys, name), mistakes)


def _read_tubing(table: JobFile, top: Spot, reading: Reading, mistakes: Mistakes) -> tuple[Tubing | None, bool]:
    """What the tubes are made of, None where mistakes hide it, and whether it does not say its wall."""
    if table.tubing is None:
        return None, False
    spot = top.within(("tubing",), "[tubing]")
    tubing = read_table(TubingTable, table.tubing, spot, reading, mistakes)
    no_wall = not tubing.says("wall")
    if tubing.od is None:
        return None, no_wall
    doubt = check_tube_size(tubing.od, tubing.wall) if table.units else None
    if doubt:
        what, _, mend = doubt.rpartition(". ")
        mistakes.add(spot, ("wall" if what.startswith("Wall") else "od",), what, mend)
    return Tubing(tubing.od, tubing.wall, tubing.metal), no_wall


def _gather_shop(table: JobFile, folder: Path, top: Spot, mistakes: Mistakes) -> tuple[list[Die] | None, Machines]:
    """The job's own dies and those of its shop file, None where mistakes may hide some; and the machines of either."""
    before = len(mistakes)
    dies = read_dies(table.die or [], top, table.units, mistakes)
    machines = read_machines(table, top, mistakes)
    shop = None
    if table.shop is not None:
        shop = read_beside(read_shop, folder, table.shop, top, "shop", mistakes)
    if shop is not None:
        for die in shop.dies:
            if any(own.name == die.name for own in dies):
                what = f'the shop file and this file both have a die "{die.name}"'
                mistakes.add(top, ("shop",), what, "Give one of them another name.")
            dies.append(die)
        machines = of_either(table, machines, shop, top, mistakes)
    # a key that was typed and not read hides dies as well
    lost = [key for key, read in (("shop", shop), ("die", table.die)) if table.says(key) and not read]
    is_sure = len(mistakes) == before and table.units and not lost
    return (dies if is_sure else None), machines
