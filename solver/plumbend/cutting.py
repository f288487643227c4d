"""The ends of all tubes of a solved job as they are to be cut."""

from __future__ import annotations

from plumbend.ends.cuts import EndCut
from plumbend.job.model import Job
from plumbend.job.results import Result


def cuts_of(_job: Job, _result: Result) -> tuple[EndCut, ...]:
    """Every end that is cut to something: none, as no end of a job can say yet what it meets.

    Args:
        _job: as read by :func:`plumbend.read_job`.
        _result: of the same job, from :func:`plumbend.solve`.
    """
    return ()
