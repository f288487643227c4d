"""What the man at the bender sets: pen marks or straights, turns, stops or angles, each in steps of tape and dial.

All are sums of the program's numbers and constants. The pen mark of a bend lies before the bend's start by the die's
reference offset, and before that lie the straights and, for each bend, the stock that it uses; from the last bend there
is only a straight. The line for the middle of a bend, and how far it goes behind the bender's reference, differ by that
same mark. The pointer's stop is the finished angle and what springs back.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.making.habit import Habit
from plumbend.making.order import order_of
from plumbend.records import record
from plumbend.shape.chain import POSE, layout
from plumbend.shop import Bender, Die
from plumbend.units import MM_PER_INCH, Units

TAPE_STEP: dict[Units, float] = {"in": MM_PER_INCH / 16, "mm": 1.0}
"""Smallest step of the tape, mm, where the shop does not say."""
DEGREE = float(np.radians(1.0))
"""Step of every turn, and of the dial where the shop does not say."""


@record
class Steps:
    """Steps of what is set: length in mm, rotation and angle in radians."""

    length: float
    rotation: float
    angle: float


@record(eq=False)
class Setting:
    """How the numbers set, in steps, follow from a program of n bends.

    A program is a vector here: n + 1 straights, rotations without the first, n angles. The numbers set stand in the
    same order: n marks and where the far end lies along the straight tube, or n + 1 straights; turns; stops or angles.

    Attributes:
        bends: n.
        steps: of each kind.
        matrix: (q, q), numbers set for each unit of the program.
        constant: (q,) numbers set for a program of nothing but zeros.
        has_marks, has_stops: whether marks and stops are set; else straights and finished angles are.
    """

    bends: int
    steps: Steps
    matrix: FloatArray
    constant: FloatArray
    has_marks: bool
    has_stops: bool

    @property
    def straights(self) -> slice:
        """Where the marks and the far end, or the straights stand."""
        return _after_pose(layout(self.bends).straights)

    @property
    def rotations(self) -> slice:
        """Where the turns stand."""
        return _after_pose(layout(self.bends).rotations)

    @property
    def angles(self) -> slice:
        """Where the stops or angles stand."""
        return _after_pose(layout(self.bends).angles)

    def set_for(self, program: FloatArray) -> FloatArray:
        """Numbers set (q,), in steps, for a program (q,)."""
        numbers: FloatArray = self.matrix @ program + self.constant
        return numbers

    def in_units(self, numbers: FloatArray) -> FloatArray:
        """Numbers set (q,) in mm and radians, for those in steps."""
        return numbers * _step_of_each(self.bends, self.steps)


def setting_for(die: Die, bender: Bender, units: Units, bends: int, habit: Habit | None = None) -> Setting:
    """What is set for a tube of ``bends`` bends on a die: marks where its reference offset is known, stops where its
    springback is; ``units`` are those of the tape, marks are drawn as ``habit`` has it, else from the start end."""
    steps = Steps(tape_step(bender, units), DEGREE, bender.dial_step or DEGREE)
    where = layout(bends)
    straights, angles = _after_pose(where.straights), _after_pose(where.angles)
    size = where.size - POSE
    matrix, constant = np.eye(size), np.zeros(size)
    if die.reference_offset is not None:
        matrix[straights], constant[straights] = _marks(die, die.reference_offset, bends, size, habit or Habit())
    if die.springback is not None:
        matrix[angles, angles] *= 1 + die.springback.part
        constant[angles] = die.springback.constant
    each = _step_of_each(bends, steps)
    return Setting(
        bends,
        steps,
        matrix / each[:, None],
        constant / each,
        die.reference_offset is not None,
        die.springback is not None,
    )


def _marks(die: Die, offset: float, bends: int, size: int, habit: Habit) -> tuple[FloatArray, FloatArray]:
    """Marks in the order of the bends, and the other end: rows (n + 1, q) for a program, and constants (n + 1,), mm."""
    where = layout(bends)
    stock = die.radius if die.stock_per_radian is None else die.stock_per_radian
    straights = np.eye(size)[_after_pose(where.straights)]
    arcs = stock * np.eye(size)[_after_pose(where.angles)]
    # row k counts all that lies before bend k + 1, the last all there is
    starts = np.tri(bends + 1) @ straights + np.tri(bends + 1, bends, -1) @ arcs
    rows, constants = starts.copy(), np.zeros(bends + 1)
    order = order_of(bends, habit.begins)
    hooks_start = not order or order[0].start_leads
    for place, now in enumerate(order):
        k = now.bend
        if place and habit.measured == "last bend":
            rows[k], constants[k] = straights[k if now.start_leads else k + 1], -offset
        elif hooks_start:
            rows[k] = starts[k] + (0.0 if now.start_leads else arcs[k])
            constants[k] = -offset if now.start_leads else offset
        else:
            rows[k], constants[k] = starts[-1] - starts[k] - arcs[k], -offset
    if habit.measured == "last bend":
        rows[-1] = straights[-1 if hooks_start else 0]
    return rows, constants


def tape_step(bender: Bender, units: Units) -> float:
    """Smallest step of the tape, mm."""
    return bender.tape_step or TAPE_STEP[units]


def _after_pose(part: slice) -> slice:
    return slice(part.start - POSE, part.stop - POSE)


def _step_of_each(bends: int, steps: Steps) -> FloatArray:
    return np.repeat([steps.length, steps.rotation, steps.angle], [bends + 1, max(bends - 1, 0), bends])
