"""The ends of all tubes of a solved job as they are to be cut."""

from __future__ import annotations

from plumbend.ends.cuts import EndCut
from plumbend.job.model import Job
from plumbend.job.results import Result


def cuts_of(job: Job, result: Result) -> tuple[EndCut, ...]:
    """Every end that says what it is cut to, in the order of the tubes, the start end of each first.

    The cut is that of the tube as it will be made, by the numbers to set, laid where it then lies best; a tube that is
    refused, or has an end that cannot be cut, has none.

    Args:
        job: as read by :func:`plumbend.read_job`.
        result: of the same job, from :func:`plumbend.solve`.
    """
    return tuple(cut for _, tube in zip(job.tubes, result.tubes, strict=True) for cut in tube.cuts)
