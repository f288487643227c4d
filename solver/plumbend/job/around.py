"""What stands around a job's tubes: its neighbours, and whether all that ends are on is there to be met."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from plumbend.job.end_cuts import check_meetings
from plumbend.job.meetings import Fixture
from plumbend.job.model import WantedTube
from plumbend.job.neighbours import Names, read_neighbours
from plumbend.job.places import Spot
from plumbend.job.tables import JobFile
from plumbend.job.tube import Common


def read_around(
    table: JobFile,
    tubes: Sequence[WantedTube],
    no_wall: bool,
    placed: Collection[str] | None,
    top: Spot,
    common: Common,
) -> tuple[Fixture, ...]:
    """The neighbours of a job, with the mistakes in them and in what the ends of its tubes are on noted.

    Args:
        table: the job as checked.
        tubes: those that could be read.
        no_wall: whether their tubing does not say its wall.
        placed: names of places that readings of the vehicle find; None where mistakes hide some.
        top: the top of the file.
        common: what every tube was read with.
    """
    mistakes, rows = common.mistakes, table.neighbour or []
    before = len(mistakes)
    names = Names(common.tube_names, placed)
    fixtures = read_neighbours(rows, top, names, common.good_to, common.reading, mistakes)
    lost = not rows and table.says("neighbour")
    all_read = len(mistakes) == before and len(tubes) == len(table.tube or [])
    is_sure = all_read and not (lost or table.misspells("neighbour") or table.misspells("tube"))
    if common.meetings:
        check_meetings(common.meetings, tubes, fixtures, mistakes, no_wall=no_wall, names_are_sure=is_sure)
    return fixtures
