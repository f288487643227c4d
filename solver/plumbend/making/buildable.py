"""Whether the shop can bend it: refusals with the amount and two ways out, and what could not be checked."""

from __future__ import annotations

import math
from dataclasses import field

import numpy as np

from plumbend.making.crossing import self_crossing
from plumbend.making.habit import Habit
from plumbend.notices import Notice
from plumbend.records import record
from plumbend.shape.chain import Chain
from plumbend.shape.fit import FormingLimits
from plumbend.shape.program import Program
from plumbend.shop import Bender, Die, Notcher
from plumbend.tubing import Tubing
from plumbend.units import MM_PER_INCH, Units, format_angle, length_with_unit, stated_length

ROUNDING = 1e-6
"""A limit is passed only by more than this, mm or radians: what arithmetic alone may do."""

OD_TOLERANCE = 0.3
"""mm between a tube's OD and a die's that may come from naming one size in inches and in millimetres."""


@record
class Bench:
    """What a tube is bent from, bent and cut on, and the units that remarks on it are written in and the tape shows."""

    tubing: Tubing
    die: Die
    units: Units
    bender: Bender = field(default_factory=Bender)
    habit: Habit = field(default_factory=Habit)
    notcher: Notcher = field(default_factory=Notcher)

    @property
    def limits(self) -> FormingLimits:
        """What this die can bend of this tube."""
        return FormingLimits(self.die.radius, self.die.least_straight(self.tubing), self.die.largest_angle)

    def length(self, mm: float) -> str:
        """A length with its unit, as tape or rule would give it."""
        return length_with_unit(mm, self.units, decimals=1 if self.units == "mm" else 0)

    def whole(self, mm: float) -> str:
        """A stated size, or a difference of two, to the last digit that anybody states."""
        return stated_length(mm, self.units)

    def size(self, mm: float) -> str:
        """A wall as it is bought: 0.095 in, 2.41 mm."""
        return self.whole(mm) if self.units == "mm" else f"{mm / MM_PER_INCH:.3f} in"


def straight_name(index: int, bends: int, ends: tuple[str, str]) -> str:
    """A straight by what lies at its ends; ``index`` counts from 0."""
    if bends == 0:
        return f"the straight from the {ends[0]} end to the {ends[1]} end"
    if index == 0:
        return f"the straight from the {ends[0]} end to bend 1"
    if index == bends:
        return f"the straight from bend {bends} to the {ends[1]} end"
    return f"the straight between bend {index} and bend {index + 1}"


def wrong_die(bench: Bench) -> list[Notice]:
    """Refusal of a die made for another OD."""
    die, od = bench.die, bench.tubing.od
    if die.od is None or abs(die.od - od) <= OD_TOLERANCE:
        return []
    differs = "big" if od > die.od else "small"
    return [
        Notice(
            "die-od",
            "refusal",
            f"The die {die.name} takes tube of {bench.whole(die.od)} OD and this tube has {bench.whole(od)}: "
            f"{bench.whole(abs(od - die.od))} too {differs}. No bend of it can be made on that die. "
            f"Ways out: name a die for {bench.whole(od)} tube, or make the part from {bench.whole(die.od)} tube.",
        )
    ]


def over_limits(wished: Program, bench: Bench, ends: tuple[str, str]) -> list[Notice]:
    """Refusals of a program's short straights and of angles beyond the die; empty where it can be bent."""
    refusals = []
    for k, straight in enumerate(wished.straights.tolist()):
        inner = 0 < k < wished.bends
        need = bench.limits.least_straight if inner else 0.0
        if straight < need - ROUNDING:
            refusals.append(_short_straight(k, wished, need, bench) if inner else _short_end(k, wished, bench, ends))
    for k, angle in enumerate(wished.angles.tolist()):
        if angle > bench.limits.largest_angle + ROUNDING:
            refusals.append(_beyond_die(k, angle, bench))
    return refusals


def _short_straight(k: int, wished: Program, need: float, bench: Bench) -> Notice:
    straight = float(wished.straights[k])
    guess = ", a guess of 2 x OD + 10 mm, since the shop gives no grip" if bench.die.grip is None else ""
    setback = float(np.tan(wished.angles[k - 1 : k + 1] / 2).sum())
    largest = bench.die.radius - (need - straight) / setback if setback > 0 else 0.0
    room = f"{straight_room(straight, bench)} between bend {k} and bend {k + 1}"
    smaller = (
        f"a die with a centreline radius of {bench.length(largest)} or less and the same grip"
        if largest > bench.tubing.od
        else "one bend in place of the two"
    )
    return Notice(
        "short-straight",
        "refusal",
        f"{room}, and the die {bench.die.name} must have {bench.length(need)} to grip{guess}: "
        f"{bench.length(need - straight)} short. Ways out: move the corners of bend {k} and bend {k + 1} "
        f"{bench.length(need - straight)} farther apart, or use {smaller}.",
    )


def straight_room(straight: float, bench: Bench) -> str:
    """How much straight is left, in words that fit a negative one."""
    if straight < 0:
        return f"The bends overlap by {bench.length(-straight)}"
    return f"A straight of {bench.length(straight)} is left"


def _short_end(k: int, wished: Program, bench: Bench, ends: tuple[str, str]) -> Notice:
    short = -float(wished.straights[k])
    end, bend = (ends[0], 1) if k == 0 else (ends[1], wished.bends)
    return Notice(
        "short-end",
        "refusal",
        f"The {end} end lies {bench.length(short)} inside bend {bend}: {bench.length(short)} short of a straight "
        f"to end on. Ways out: carry the {end} end {bench.length(short)} or more farther out, "
        f"or use a die of smaller radius.",
    )


def _beyond_die(k: int, angle: float, bench: Bench) -> Notice:
    die, largest = bench.die, bench.limits.largest_angle
    turns = f"Bend {k + 1} turns {format_angle(angle)} degrees"
    reach = largest
    if die.springback is not None and die.max_wrap is not None and largest < math.pi:
        reach = die.max_wrap
        opens = die.springback.opens(angle)
        turns += f", its {format_angle(opens)} of springback take the pointer to {format_angle(angle + opens)},"
        least = math.degrees(angle + opens)
    else:
        least = math.degrees(angle)
    return Notice(
        "angle-beyond-die",
        "refusal",
        f"{turns} and the die {die.name} reaches {format_angle(reach)}: "
        f"{format_angle(math.radians(least) - reach)} degrees too much. Ways out: make it as two bends "
        f"with a straight of {bench.length(bench.limits.least_straight)} or more between them, or use a die "
        f"that reaches {math.ceil(least - 1e-6)} degrees.",
    )


def crosses_itself(chain: Chain, bench: Bench, ends: tuple[str, str]) -> list[Notice]:
    """Refusal of a tube that runs into itself, naming where and which bends lie between."""
    od = bench.tubing.od
    found = self_crossing(*chain.polyline(0.05), od)
    if found is None:
        return []
    turns = np.cumsum(chain.straights[:-1] + chain.radius * np.concatenate([[0.0], chain.angles[:-1]]))
    between = [
        k + 1
        for k, start in enumerate(turns.tolist())
        if start + chain.radius * float(chain.angles[k]) > found.first and start < found.second
    ]
    bends = f"bend {between[0]}" if len(between) == 1 else f"bends {between[0]} to {between[-1]}"
    return [
        Notice(
            "crosses-itself",
            "refusal",
            f"The tube runs into itself after {bends}: {bench.length(found.first)} and "
            f"{bench.length(found.second)} along it from the {ends[0]} end its centrelines pass "
            f"{bench.whole(found.distance)} apart and an OD of {bench.whole(od)} is needed: "
            f"{bench.whole(od - found.distance)} short. Ways out: move the points so that the two parts pass clear "
            f"of each other, or make it as two tubes. The tube shown is the one the points ask for.",
        )
    ]


def no_length(chain: Chain, bench: Bench) -> list[Notice]:
    """Refusal of a tube that is not even as long as it is thick: its ends were measured in one place."""
    length = chain.program.developed_length(chain.radius)
    if length >= bench.tubing.od:
        return []
    return [
        Notice(
            "no-length",
            "refusal",
            f"The tube comes out {bench.length(max(length, 0.0))} long, less than its OD. Ways out: look for a wrong "
            "coordinate at an end, or, if it comes back to where it began, measure two places on each straight.",
        )
    ]


def not_checked(bench: Bench, bends: int) -> list[Notice]:
    """Checks that could not be made for want of a shop value, and what is never checked here; none of a straight tube,
    which the bender never sees."""
    if not bends:
        return []
    die = bench.die
    missing = []
    if die.od is None:
        missing.append(("die-od", f"Whether the die {die.name} takes this OD: the shop file does not give its od."))
    if die.max_wrap is None:
        missing.append(
            (
                "max-wrap",
                f"Whether the die {die.name} reaches these angles: the shop file does not give its max_wrap.",
            )
        )
    missing.append(("bender-room", "Room at the bender: tail to hold, floor, wall, and the part's swing."))
    missing.append(("tube-wall", "Whether the tube takes this radius without kink or wrinkle: make a test bend."))
    return [Notice(code, "not-checked", text) for code, text in missing]


def grip_guessed(bench: Bench, bends: int) -> list[Notice]:
    """Note that the least straight between bends is a guess."""
    if bench.die.grip is not None or bends < 2:
        return []
    return [
        Notice(
            "grip-guess",
            "note",
            f"The shop does not give the grip of the die {bench.die.name}: a straight of "
            f"{bench.length(bench.limits.least_straight)} between bends (2 x OD + 10 mm) was taken, a guess.",
        )
    ]
