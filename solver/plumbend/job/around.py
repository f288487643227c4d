"""What stands around a job's tubes: its neighbours, and whether all that ends are on is there to be met."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

from plumbend.job.end_cuts import check_meetings
from plumbend.job.meetings import Fixture
from plumbend.job.model import WantedTube
from plumbend.job.neighbours import Names, read_neighbours
from plumbend.job.places import Spot
from plumbend.job.tables import JobFile
from plumbend.job.tube import Common
from plumbend.tubing import Tubing


def read_around(
    table: JobFile,
    typed: Mapping[str, Any],
    tubes: Sequence[WantedTube],
    tubing: Tubing | None,
    placed: Collection[str],
    top: Spot,
    common: Common,
) -> tuple[Fixture, ...]:
    """The neighbours of a job, with the mistakes in them and in what the ends of its tubes are on noted.

    Args:
        table: the job as checked.
        typed: the same as typed.
        tubes: those that could be read.
        tubing: what they are made of.
        placed: names of places that readings of the vehicle find.
        top: the top of the file.
        common: what every tube was read with.
    """
    mistakes, rows = common.mistakes, table.neighbour or []
    before = len(mistakes)
    names = Names(common.tube_names, placed)
    fixtures = read_neighbours(rows, top, names, common.good_to, common.reading, mistakes)
    is_sure = (
        len(mistakes) == before and ("neighbour" not in typed or bool(rows)) and len(tubes) == len(table.tube or [])
    )
    if common.meetings:
        check_meetings(common.meetings, tubes, fixtures, tubing, mistakes, names_are_sure=is_sure)
    return fixtures
