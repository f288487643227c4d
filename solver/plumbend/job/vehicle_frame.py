"""What was measured on the vehicle, put together: readings read in any of their forms, places, and the frame."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from plumbend.errors import BadValue
from plumbend.job.checking import read_table
from plumbend.job.files_beside import read_beside
from plumbend.job.frame_tables import FrameTable
from plumbend.job.good_to import GoodTo
from plumbend.job.measured_from import FLOOR, read_bases, read_centre_plane, read_datums, read_tape
from plumbend.job.model import VehicleFrame
from plumbend.job.places import Document, Mistakes, Spot, toml_spot
from plumbend.job.placing import Placing
from plumbend.job.reading_lines import read_lines
from plumbend.job.reading_list import read_list
from plumbend.job.readings_csv import read_readings_csv
from plumbend.job.tables import JobFile
from plumbend.job.values import Reading
from plumbend.job.vehicle_entries import Entries
from plumbend.job.vehicle_readings import VehicleReadingMaker
from plumbend.job.vehicle_tables import CENTRE_PLANE
from plumbend.measuring import readings as measured
from plumbend.measuring.frame import Frame, frame_as_given, frame_from_bases, frame_from_pairs
from plumbend.measuring.lengths import Datum
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.relations import SymmetricPair
from plumbend.measuring.tapes import TapeHabits
from plumbend.records import record
from plumbend.units import Units, length_with_unit

_BLOCK_MARKS = ('"""', "'''")


@record
class Vehicle:
    """What a job says of its vehicle, before its tubes are read.

    Attributes:
        entries: readings as typed.
        placing: takes in the points of tubes.
        datums, plane, habits: what readings are taken from, and how.
        says_floor: whether the job says how the floor lies.
        frame: what the job says of its frame.
        frame_spot: where it says it.
    """

    entries: Entries
    placing: Placing
    datums: Mapping[str, Datum]
    plane: CentrePlane | None
    habits: TapeHabits
    says_floor: bool
    frame: FrameTable | None
    frame_spot: Spot


def read_vehicle(table: JobFile, document: Document, folder: Path, reading: Reading, mistakes: Mistakes) -> Vehicle:
    """Everything that a job says of its vehicle, with the mistakes in it noted.

    Args:
        table: the job as checked.
        document: where it stands.
        folder: of the files that it names.
        reading: how its values are written.
        mistakes: what is wrong is noted here.
    """
    top = toml_spot(document)
    if table.readings is None:
        entries = Entries(is_sure=not table.says("readings"))
    else:
        entries = _read_entries(table.readings, document, top, folder, reading, mistakes)
    bases = read_bases(table.base or [], top, reading, mistakes)
    frame_spot = top.within(("frame",), "[frame]")
    frame = None if table.frame is None else read_table(FrameTable, table.frame, frame_spot, reading, mistakes)
    if table.frame is not None and ("bases" in table.frame) == ("zero" in table.frame):
        mend = 'Write bases = ["B1", "B2", "B3"] for three bases, or zero = "B1" for the base that pairs count from.'
        mistakes.add(frame_spot, (), "it says neither three bases nor one to count from, or both", mend)
    return Vehicle(
        entries,
        Placing.of(bases, entries, measured=table.readings is not None or table.base is not None),
        read_datums(table.floor, table.datum or [], top, reading, mistakes),
        read_centre_plane(table.centre_plane, top, reading, mistakes),
        read_tape(table.tape, top, reading, mistakes),
        table.floor is not None,
        frame,
        frame_spot,
    )


def _read_entries(
    readings: str | list[dict[str, Any]],
    document: Document,
    top: Spot,
    folder: Path,
    reading: Reading,
    mistakes: Mistakes,
) -> Entries:
    """The readings of a list, of lines or of a CSV file."""
    if not isinstance(readings, str):
        return read_list(readings, top, reading, mistakes)
    typed = document.typed(("readings",))
    if typed is not None and typed.text.startswith(_BLOCK_MARKS):
        # TOML leaves out the line end after the opening marks
        first = typed.line + typed.text[3:].startswith("\n")
        return read_lines(readings, top.file, first, reading.units, mistakes)
    read = read_beside(
        lambda path: read_readings_csv(path, reading.units, mistakes), folder, readings, top, "readings", mistakes
    )
    return Entries(is_sure=False) if read is None else read


def frame_of(
    vehicle: Vehicle, od: float | None, good_to: GoodTo, mistakes: Mistakes, *, names_are_sure: bool, units: Units
) -> tuple[VehicleFrame | None, tuple[str, ...]]:
    """What was measured on the vehicle, once the tubes are read, and what was assumed in it.

    Args:
        vehicle: as read.
        od: of the tubing, mm; None where a mistake hides it.
        good_to: accuracies of the job.
        mistakes: what is wrong is noted here.
        names_are_sure: whether all points of the tubes are known.
        units: of the sentences.
    """
    if not vehicle.placing.measured:
        return None, ()
    asks = len(vehicle.datums) > 1 and not vehicle.says_floor
    maker = VehicleReadingMaker(
        vehicle.placing,
        vehicle.datums,
        None if asks else vehicle.datums[FLOOR],
        vehicle.habits,
        od,
        good_to,
        mistakes,
        names_are_sure,
    )
    made = [(maker.make(entry), entry.written) for entry in vehicle.entries.counted]
    readings = tuple(reading for reading, _ in made if reading is not None)
    plane, assumed = _plane(vehicle.plane, readings)
    if maker.od_assumed and od is not None:
        size = length_with_unit(od, units, parts=64, decimals=1)
        assumed += (f"What was touched is taken as {size} OD, the tube's own, where a reading does not say.",)
    places = vehicle.placing.all_places(maker.others)
    frame = _frame(vehicle, places, readings, () if plane is None else (plane,), mistakes)
    if frame is None:
        return None, ()
    return (
        VehicleFrame(
            frame.places,
            readings,
            tuple(written for reading, written in made if reading is not None),
            frame.planes,
            tuple(vehicle.entries.struck_out),
            frame.words,
        ),
        assumed,
    )


def _plane(
    told: CentrePlane | None, readings: tuple[measured.Reading, ...]
) -> tuple[CentrePlane | None, tuple[str, ...]]:
    """The centre plane that readings need, and what was assumed of it."""
    if all(reading.plane is None for reading in readings):
        return None, ()
    if told is not None:
        return told, ()
    if any(isinstance(reading, SymmetricPair) for reading in readings):
        return CentrePlane(CENTRE_PLANE), ()
    said = "The centre plane is taken to run straight forward where left is 0, since no pair says where it runs."
    return CentrePlane(CENTRE_PLANE, 0.0, 0.0), (said,)


def _frame(
    vehicle: Vehicle,
    places: tuple[Place, ...],
    readings: tuple[measured.Reading, ...],
    planes: tuple[CentrePlane, ...],
    mistakes: Mistakes,
) -> Frame | None:
    """The frame as the job says it, else as the bases give it; None with the mistake noted."""
    told, spot = vehicle.frame, vehicle.frame_spot
    if told is None:
        return frame_as_given(places, readings, planes)
    if told.zero is not None and vehicle.plane is not None:
        mend = "Take [centre_plane] out, or the zero of [frame]."
        mistakes.add(
            spot, ("zero",), "the pairs' centre plane is the middle of this frame, so nothing more is said of it", mend
        )
        return None
    if len(mistakes):
        return None  # readings that were not understood may be what the frame needs
    try:
        if told.bases is not None:
            return frame_from_bases(places, readings, told.bases, planes)
        return frame_from_pairs(places, readings, told.zero or "")
    except BadValue as fault:
        what, _, mend = str(fault).rpartition(". ")
        what = re.sub("^(The|Pairs) ", lambda first: first[0].lower(), what)  # it goes on after a colon
        mistakes.add(spot, ("zero",) if told.bases is None else ("bases",), what, mend)
        return None
