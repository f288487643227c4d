"""What to measure next on a vehicle: for its tubes' far ends, and for readings that no other checks."""

from __future__ import annotations

from plumbend.fitting import PROGRAM_ENDS
from plumbend.job.model import Job
from plumbend.making.buildable import Bench
from plumbend.notices import Notice
from plumbend.reordering import in_order
from plumbend.shape.known_together import PlacedBy
from plumbend.shape.measured import Measured
from plumbend.shape.next_checks import NextCheck, checks_of_points, checks_of_readings
from plumbend.shape.next_reading import FAR_END, START_END, next_readings
from plumbend.shape.next_words import check_notices, next_notices
from plumbend.shape.structure import fit_counting_bends, fit_measured
from plumbend.survey import Survey, placed
from plumbend.units import Units


def measure_next(job: Job, found: Survey, units: Units, asked: str = FAR_END) -> tuple[Notice, ...]:
    """Notes on the readings that would tell most of each tube's far end, and on those that would check others and typed
    points.

    Args:
        job: as read by :func:`plumbend.read_job`.
        found: its readings adjusted.
        units: what the notes are written in.
        asked: "far end", "start end", or a number of the program such as "straight-2", "turn-3" or "bend-1".

    Raises:
        BadValue: where a tube has no number of the name ``asked``.
    """
    notices: list[Notice] = []
    checks: list[NextCheck] = []
    adjusted = found.screened.adjusted
    for wanted in job.tubes:
        names = frozenset(point.name for point in wanted.placed)
        tube, refusals = placed(wanted, found)
        if refusals or not names:
            continue
        limits = Bench(job.tubing, tube.die, units).limits
        if not tube.ordered:
            tube, _ = in_order(tube, job.tubing.od, limits)
        measured = Measured(job.tubing.od, tube.points, tube.readings, tube.joint, tube.planar, tube.scan)
        fit = fit_counting_bends(measured, limits) if tube.bends is None else fit_measured(measured, tube.bends, limits)
        if fit is None:
            continue
        ends = tube.ends or PROGRAM_ENDS
        checks += checks_of_points(fit, names, ends=ends)
        met = {START_END if not meeting.far else FAR_END for meeting in tube.meetings if meeting.on}
        if asked not in met:  # an end that runs to what it is on is not measured
            best = next_readings(fit, PlacedBy(adjusted, names, found.screened.scale), asked, ends=ends)
            notices += next_notices(best, units, asked, ends)
    return (*notices, *check_notices([*checks_of_readings(adjusted), *checks]))
