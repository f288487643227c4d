"""Notices: what a result says beside its numbers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

from plumbend.records import record

Level = Literal["note", "caution", "refusal", "not-checked"]

END_NOT_CUT = "end-not-cut-"
"""How codes begin of ends that cannot be cut as asked; the tube itself may well be bent."""


@record
class Notice:
    """One remark on a result.

    Attributes:
        code: a short stable name for programs, such as "short-straight".
        level: "refusal" makes the tube unsolved; "not-checked" names a check that could not be made.
        text: whole sentences for the fabricator, in the units of the result.
    """

    code: str
    level: Level
    text: str


def listed(names: Sequence[str], joined: str = "and") -> str:
    """Names in a row: "A", "A and B", "A, B and C"."""
    return f" {joined} ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)
