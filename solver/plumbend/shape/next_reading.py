"""What to measure next: the readings that tell most of a number of a tube.

Of all that could still be measured, each is weighed by what it alone would leave of the number's doubt, worked out
from how well tube and places are known together (:mod:`plumbend.shape.known_together`) without measuring: what a
reading will say does not matter to that, only where it is taken (the classical design of experiments; Fedorov, Theory
of Optimal Experiments, 1972; of networks, Grafarend & Sansò, Optimization and Design of Geodetic Networks, 1985). For
a place the doubt is the root of the sum of the squares of its three, so that no direction is left out of it.
"""

from __future__ import annotations

import re

import numpy as np

from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.measuring.further import Instruments
from plumbend.measuring.readings import Reading
from plumbend.records import record
from plumbend.shape.chain import POSE
from plumbend.shape.fit import Fit
from plumbend.shape.further import further_between, further_of_tube
from plumbend.shape.kinds import end_moves
from plumbend.shape.known_together import KnownTogether, PlacedBy
from plumbend.shape.points import Point
from plumbend.shape.tube_readings import TubeReading

FAR_END, START_END = "far end", "start end"

_NUMBER = re.compile(r"(straight|turn|bend)-(\d+)")

_WORTH = 0.02
"""A reading that leaves more than all but this part of the doubt is not worth the walk."""


@record(eq=False)
class NextReading:
    """A measurement that would tell more of a number.

    Attributes:
        words: what it is, as in "a tape from B2 to F".
        now, then: one standard deviation of the number, mm or radians, without it and with it; infinite where nothing
            fixes the number.
        measurement: itself, as it would show were everything where it is taken to be.
    """

    words: str
    now: float
    then: float
    measurement: Reading | TubeReading | Point

    @property
    def gain(self) -> float:
        """How much less the doubt would be."""
        return self.now - self.then


def next_readings(
    fit: Fit,
    placed_by: PlacedBy | None = None,
    asked: str = FAR_END,
    *,
    ends: tuple[str, str] = ("start", "far"),
    at_hand: bool | None = None,
    instruments: Instruments | None = None,
    most: int = 3,
) -> list[NextReading]:
    """The measurements that would lower the doubt of a number most, each by itself, the best first.

    Args:
        fit: the tube.
        placed_by: the readings that place some of its points; None where none are.
        asked: "far end", "start end", or a number of the program such as "straight-2", "turn-3" or "bend-1". Of a
            tube of readings alone the far end is told as seen from its start.
        ends: what the ends are called, start and far.
        at_hand: whether there is a tube to put a finder or a tape to; where None, it is taken to be so if it was read
            or scanned before, or if none of its points are placed by readings of the vehicle.
        instruments: how good readings of the vehicle would be; where None, as good as those taken.
        most: how many to give. Of several places on one leg the best is given.

    Raises:
        BadValue: where the tube has no number of the name ``asked``.
    """
    numbers = _asked_rows(fit, asked)
    if placed_by is not None and not placed_by.points:
        placed_by = None  # no reading of the vehicle tells of this tube
    known = KnownTogether(fit, placed_by)
    offered = further_of_tube(fit, frozenset() if placed_by is None else placed_by.points, ends, at_hand)
    if placed_by is not None:
        instruments = instruments or Instruments.as_used(placed_by.adjusted.network.readings)
        offered = [*further_between(fit, placed_by, instruments), *offered]
    size = len(known.covariance)
    now = known.doubt(_padded(numbers, size))
    doubts = known.doubts_with(_padded(numbers, size), [(_padded(one.rows, size), one.own) for one in offered])
    best: dict[str, NextReading] = {}
    for i in np.argsort(doubts, kind="stable").tolist():
        one, then = offered[i], float(doubts[i])
        if then < (1 - _WORTH) * now and one.of not in best:
            best[one.of] = NextReading(one.words, now * fit.widening, then * fit.widening, one.measurement)
    return list(best.values())[:most]


def is_angle(asked: str) -> bool:
    """Whether a number is in radians."""
    return asked.startswith(("turn", "bend"))


def _asked_rows(fit: Fit, asked: str) -> FloatArray:
    """(k, p) derivatives of what is asked for by the tube's numbers."""
    chain, motion = fit.chain, fit.chain.motion(fit.evidence.reference)
    where, row = motion.layout, np.zeros((1, motion.layout.size))
    if asked in (FAR_END, START_END):
        _, rows = end_moves(chain, motion, far=asked == FAR_END)
        if not fit.evidence.points and fit.evidence.scan is None:
            rows[:, :POSE] = 0.0
        return rows
    if found := _NUMBER.fullmatch(asked):
        numbers, first = {
            "straight": (where.straights, 1),
            "turn": (where.rotations, 2),
            "bend": (where.angles, 1),
        }[found[1]]
        column = numbers.start + int(found[2]) - first
        if numbers.start <= column < numbers.stop:
            row[0, column] = 1.0
            return row
    raise BadValue(
        f'This tube has no "{asked}". Ask for the {FAR_END}, the {START_END}, or a number such as straight-2, turn-3 '
        "or bend-1."
    )


def _padded(rows: FloatArray, size: int) -> FloatArray:
    """Rows (c, p) as (c, size), 0 by what they do not depend on."""
    padded = np.zeros((len(rows), size))
    padded[:, : rows.shape[1]] = rows
    return padded
