"""The steps at the bender, each found by moving the part: what to clamp, mark, turn, check with a level, and stop at.

Every direction is a word with its viewpoint. Nothing is looked up: a step holds the part as the machine does before
and after it, and says how the one differs from the other.
"""

from __future__ import annotations

import math
from typing import Literal

from plumbend.frames import FloatArray
from plumbend.making.buildable import Bench
from plumbend.making.habit import Habit
from plumbend.making.held_part import HeldPart
from plumbend.making.levels import LevelReading, level_on
from plumbend.making.machine import ANY_MACHINE, machine_of
from plumbend.making.order import Bending, order_of
from plumbend.making.setting import tape_step
from plumbend.making.stock_places import Stock, lay_out
from plumbend.records import record
from plumbend.shape.chain import Chain
from plumbend.shop import Bender, Die

SQUARE = 1e-9
"""Radians by which a seam may be off a bend's very side for rounding alone."""


@record
class Mark:
    """A pen line on the tube.

    Attributes:
        at: mm along the tube, from ``end`` or, where that is None, from the end of bend ``after``.
        end: the end that the tape is hooked on.
        after: the bend, counted from 1, from whose end it is measured.
        middle: whether it is the middle of the bend, or else the line for its start.
        behind: mm; how far from the bender's reference toward the tail the line goes. None for a line that is only
            looked at.
    """

    at: float
    end: str | None
    after: int | None
    middle: bool
    behind: float | None


@record
class Step:
    """One bend at the bender.

    Attributes:
        bend: counted from 1, from the start end.
        front, tail: names of the end that goes through the die and of the end where the man stands.
        swapped: the tube is first turned end for end.
        zero: the bend, counted from 1, that lies as if just bent before the tube is turned; None at the first step.
        starts: where the bend starts (tangent), measured as the marks are; no line for the bender.
        marks: the line for the bender first; empty where the die's reference offset is not known.
        turn: radians in (-pi, pi], + clockwise, looking from the tail to the die, from where bend ``zero`` lies as
            if just bent.
        line: radians in (-pi, pi], where the line of this bend lies from that of bend ``zero``: + to the left of
            it, with that line uppermost and seen from the tail.
        running: radians in (-pi, pi], how far the reference line has turned from where it faced at the first step,
            + clockwise, seen from the tail.
        arc: mm round the tube of ``line``.
        level: what a level on the leg beyond bend ``zero`` reads before the bend is made; None where none can say.
        seam: radians from 0 to half pi, how far a seam on the reference line lies from the side of this bend.
        seam_toward: the inside or the outside of the bend; None at its very side, and where it takes a level bender
            with a known swing to tell.
        angle, stop: finished angle and pointer stop, radians; no stop where springback is not known.
        stop_sd: radians, one standard deviation of the stop; None where no test bends told it.
    """

    bend: int
    front: str
    tail: str
    swapped: bool
    zero: int | None
    starts: Mark
    marks: tuple[Mark, ...]
    turn: float
    line: float
    running: float
    arc: float
    level: LevelReading | None
    seam: float
    seam_toward: Literal["inside", "outside"] | None
    angle: float
    stop: float | None
    stop_sd: float | None


@record(eq=False)
class Making:
    """How one tube is made.

    Attributes:
        habit: as it was asked for.
        bender: whose plane and swing the level readings hold for.
        hooked: name of the end that marks are measured from.
        steps: in the order of making.
        trims: mm that come off at the start end and at the far end.
        stock: mm of tube that the part and its trims take.
        saw_length: the same where the shop says how much tail the die needs, else None.
    """

    habit: Habit
    bender: Bender
    hooked: str
    steps: tuple[Step, ...]
    trims: tuple[float, float]
    stock: float
    saw_length: float | None


def making_of(chain: Chain, bench: Bench, ends: tuple[str, str], beyond: tuple[float, float] = (0.0, 0.0)) -> Making:
    """The steps that make a tube (mm) of one bend or more, in the order and with the marks of the bench's habit.

    ``ends`` are the names of the start end and the far end; their cuts run ``beyond`` (mm) where the centreline stops,
    and stop short of there where that is less than 0.
    """
    habit = bench.habit
    order = order_of(chain.bends, habit.begins)
    stock = lay_out(chain.program, bench, order, (habit.trim + beyond[0], habit.trim + beyond[1]))
    machine = machine_of(bench.bender)
    part = HeldPart(chain, machine or ANY_MACHINE, order)
    hooks_start = order[0].start_leads if order else True
    steps: list[Step] = []
    for place, now in enumerate(order):
        zero = None if place == 0 else now.bend + (-1 if now.start_leads else 1)
        tail, front = ends if not now.start_leads else ends[::-1]
        turning, line = (0.0, 0.0) if zero is None else part.turning(now, zero)
        start, *marks = _marks(now, zero, stock, chain, bench, ends, hooks_start)
        steps.append(
            Step(
                now.bend + 1,
                front,
                tail,
                place > 0 and order[place - 1].start_leads != now.start_leads,
                None if zero is None else zero + 1,
                start,
                tuple(marks),
                turning,
                line,
                part.running(now),
                abs(line) * bench.tubing.od / 2,
                None if zero is None or machine is None else level_on(part.leg(now), turning, bench.bender),
                *_seam(part.seam(now.bend), bench.bender),
                float(chain.angles[now.bend]),
                _stop(float(chain.angles[now.bend]), bench.die),
                None if bench.die.springback is None else bench.die.springback.sd(float(chain.angles[now.bend])),
            )
        )
    saw_length = None if bench.die.tail is None and chain.bends else stock.length
    hooked = ends[0] if hooks_start else ends[1]
    return Making(habit, bench.bender, hooked, tuple(steps), stock.trims, stock.length, saw_length)


def reference_lines(chain: Chain, bench: Bench) -> FloatArray | None:
    """(n + 1, 3) unit: where the reference line faces on every straight of the finished part, for a tube of one bend
    or more; None where the shop does not say how a level bender swings. On which side of an upright one he stands is
    not known."""
    machine = machine_of(bench.bender)
    if machine is None or bench.bender.plane != "level":
        return None
    return HeldPart(chain, machine, order_of(chain.bends, bench.habit.begins)).reference


def _seam(from_inside: float, bender: Bender) -> tuple[float, Literal["inside", "outside"] | None]:
    """How far a seam lies from a bend's side, and toward which fibre.

    The reference line faces up or the man; seen from there the bend goes to one hand or the other.
    """
    off = math.pi / 2 - from_inside
    told = bender.plane == "level" and machine_of(bender) is not None and abs(off) > SQUARE
    return abs(off), ("inside" if off > 0 else "outside") if told else None


def _stop(angle: float, die: Die) -> float | None:
    return None if die.springback is None else angle + die.springback.opens(angle)


def _marks(
    now: Bending,
    zero: int | None,
    stock: Stock,
    chain: Chain,
    bench: Bench,
    ends: tuple[str, str],
    hooks_start: bool,
) -> list[Mark]:
    """Where a bend starts, then the pen lines for it.

    The line for the middle goes behind the reference by a length that the tape shows, so it is drawn where the bend
    starts as the line for its start would have it, within half a step of the very middle.
    """
    habit, offset = bench.habit, bench.die.reference_offset
    half = stock.used_per_radian * float(chain.angles[now.bend]) / 2
    start = float(stock.starts[now.bend] if now.start_leads else stock.ends[now.bend])
    toward_tail = 1.0 if now.start_leads else -1.0
    straight = float(chain.straights[now.bend if now.start_leads else now.bend + 1])

    def mark(from_start: float, *, middle: bool, behind: float | None) -> Mark:
        if habit.measured == "last bend" and zero is not None and straight + from_start >= 0:
            return Mark(straight + from_start, None, zero + 1, middle, behind)
        place = start + toward_tail * from_start
        hook = ends[0] if hooks_start else ends[1]
        return Mark(stock.from_end(place, start=hooks_start), hook, None, middle, behind)

    tangent = mark(0.0, middle=False, behind=None)
    if offset is None:
        return [tangent]
    if habit.marks == "middle":
        step = tape_step(bench.bender, bench.units)
        behind = step * round((half + offset) / step)
        return [tangent, mark(behind - offset, middle=True, behind=behind)]
    lines = [mark(-offset, middle=False, behind=0.0)]
    if habit.marks == "both":
        lines.append(mark(half, middle=True, behind=None))
    return [tangent, *lines]
