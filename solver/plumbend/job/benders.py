"""The bender read from its table."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from plumbend.job.checking import read_table
from plumbend.job.places import Mistakes, Spot
from plumbend.job.tables import BenderTable
from plumbend.job.values import Reading
from plumbend.shop import Bender
from plumbend.units import Units


def read_bender(table: Mapping[str, Any] | None, top: Spot, units: Units | None, mistakes: Mistakes) -> Bender:
    """The bender of ``[bender]``; what it does not say, and all of it where there is no table, is None."""
    if table is None:
        return Bender()
    read = read_table(BenderTable, table, top.within(("bender",), "[bender]"), Reading(units or "mm"), mistakes)
    return Bender(read.drive, read.plane, read.swings, read.dial_step, read.dial_slack, read.tape_step)
