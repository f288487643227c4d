"""Where bends lie along the straight stock, what is left on its ends, and how long to saw it."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from plumbend.frames import FloatArray
from plumbend.making.buildable import Bench
from plumbend.making.order import Bending
from plumbend.making.setting import tape_step
from plumbend.records import record
from plumbend.shape.program import Program

ON_THE_TAPE = 1e-6
"""A length within so many steps of one that the tape shows is that."""


@record(eq=False)
class Stock:
    """The straight tube before it is bent, all in mm.

    Attributes:
        starts, ends: (n,) where the stock that goes into each bend begins and stops, from the sawn start end.
        trims: what comes off at the start end and the far end when the part is bent.
        length: of all the stock that the part and its trims take.
        used_per_radian: stock that goes into a bend per radian of its finished angle.
    """

    starts: FloatArray
    ends: FloatArray
    trims: tuple[float, float]
    length: float
    used_per_radian: float

    def from_end(self, place: float, *, start: bool) -> float:
        """A place along the stock, counted from the sawn start end or else the far end."""
        return place if start else self.length - place


def lay_out(program: Program, bench: Bench, order: Sequence[Bending], least_trims: tuple[float, float]) -> Stock:
    """The stock for a program (mm, radians), the trims of its start end and far end as much as asked and as much as
    the machine needs.

    The clamp must hold the straight before the first bend, the pen mark must fall on the tube, and the tail that the
    die asks for must be left behind every bend; a tail that the shop does not give asks for nothing. Trims are whole
    steps of the tape, so that marks that are on its grid without them stay there.
    """
    step = tape_step(bench.bender, bench.units)
    die = bench.die
    used = die.radius if die.stock_per_radian is None else die.stock_per_radian
    arcs = used * program.angles
    starts = np.cumsum(program.straights[:-1]) + np.cumsum(arcs) - arcs
    length = float(program.straights.sum() + arcs.sum())
    need = max(bench.limits.least_straight, die.reference_offset or 0.0)
    trims = list(least_trims)
    for made in order:
        before, after = float(starts[made.bend]), length - float(starts[made.bend] + arcs[made.bend])
        front, tail = (0, 1) if made.start_leads else (1, 0)
        ahead, behind = (before, after) if made.start_leads else (after, before)
        trims[front] = max(trims[front], need - ahead)
        trims[tail] = max(trims[tail], (die.tail or 0.0) - behind)
    trims = [step * math.ceil(trim / step - ON_THE_TAPE) for trim in trims]
    starts = starts + trims[0]
    return Stock(starts, starts + arcs, (trims[0], trims[1]), length + sum(trims), used)
