"""A man at a bender: he does what the printed steps say in words and figures, with a tube that is a rigid body.

He knows nothing of programs or signs. The tube is a row of straight pieces, each with a pose in the machine's axes:
x from the tail to the die, y to the left, z up. The bend starts at the origin.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pytest

from plumbend.frames import FloatArray, rotation_about

X = np.array([1.0, 0.0, 0.0])
LEFT, UP = np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0])


@dataclass
class Bender:
    """A machine as it stands on the floor: where its front end goes, and which way a line toward the man or up faces.

    Beside an upright one he may stand on either side.
    """

    swing: FloatArray
    facing: FloatArray


BENDERS = {
    ("level", "left"): [Bender(LEFT, UP)],
    ("level", "right"): [Bender(-LEFT, UP)],
    ("upright", "up"): [Bender(UP, LEFT), Bender(UP, -LEFT)],
    ("upright", "down"): [Bender(-UP, LEFT), Bender(-UP, -LEFT)],
}
"""Every bender that a shop file may mean by plane and swings."""
BENDERS[("upright", "left")] = BENDERS["upright", "up"] + BENDERS["upright", "down"]
BENDERS[("upright", None)] = BENDERS["upright", "left"]
BENDERS[("level", None)] = BENDERS["level", "left"] + BENDERS["level", "right"]
BENDERS[(None, None)] = BENDERS["level", None] + BENDERS["upright", None]


@dataclass
class Piece:
    """Straight stock from ``first`` to ``last`` mm of the sawn tube, and where it lies: places and a pen line's side.

    ``line`` is the side on which the reference line was drawn.
    """

    first: float
    last: float
    ends: FloatArray
    line: FloatArray

    def move(self, turn: FloatArray, shift: FloatArray) -> None:
        self.ends = self.ends @ turn.T + shift
        self.line = turn @ self.line

    def place(self, at: float) -> FloatArray:
        part = (at - self.first) / (self.last - self.first)
        placed: FloatArray = self.ends[0] + part * (self.ends[1] - self.ends[0])
        return placed


@dataclass
class Bent:
    """Stock that went into a bend, and which bend of the sheet it was."""

    first: float
    last: float
    bend: int


class Man:
    """One tube, one bender."""

    def __init__(self, length: float, names: tuple[str, str], machine: Bender) -> None:
        self.names = names
        self.length = length
        self.swing, self.facing = machine.swing, machine.facing
        along = np.array([[0.0, 0.0, 0.0], [length, 0.0, 0.0]])
        self.pieces = [Piece(0.0, length, along, self.facing.copy())]
        self.bends: list[Bent] = []
        self.lines: dict[int, float] = {}

    def place_part(self, step: dict[str, Any]) -> None:
        """The named end through the die; the bend named lies in the plane of bend, its far leg on the swing side."""
        tail = self.tail(step)
        away = tail.ends[1] - tail.ends[0]
        toward_front = away if step["tail"] == self.names[0] else -away
        frame = _frame(toward_front, self._leg_out(step)) if step["zero"] else _frame(toward_front, tail.line)
        aim = _frame(X, self.swing if step["zero"] else self.facing)
        turn = aim @ frame.T
        front = tail.ends[1] if step["tail"] == self.names[0] else tail.ends[0]
        for piece in self.pieces:
            piece.move(turn, np.zeros(3))
        shift = -(turn @ front)
        for piece in self.pieces:
            piece.move(np.eye(3), shift)

    def turn_tube(self, degrees: float, way: str) -> None:
        """Standing at the tail, looking to the die: clockwise is right-handed about that look."""
        sign = {"clockwise": 1.0, "counter-clockwise": -1.0, "none": 0.0, "either way": 1.0}[way]
        turn = rotation_about(X, sign * math.radians(degrees))
        for piece in self.pieces:
            piece.move(turn, np.zeros(3))

    def turn_to_arc(self, arc: float, side: str, od: float, zero: int, step: dict[str, Any]) -> None:
        """Draw a line ``arc`` mm to the left or right of the last one, and turn until it faces so."""
        now = self._facing_line(zero, step)
        # the last line is held uppermost: left of it, seen from the tail, is counter-clockwise
        sign = {"left": -1.0, "right": 1.0, "same line": 0.0, "opposite": 1.0}[side]
        new = rotation_about(X, sign * arc / (od / 2)) @ now
        angle = math.atan2(float(X @ np.cross(new, self.facing)), float(new @ self.facing))
        turn = rotation_about(X, angle)
        for piece in self.pieces:
            piece.move(turn, np.zeros(3))

    def feed(self, mark: dict[str, Any], step: dict[str, Any], offset: float) -> None:
        """Slide the tube until the pen line lies as told from the bender's reference, which is ``offset`` ahead."""
        place = self.tail(step).place(self.on_stock(mark, step))
        shift = (offset - mark["behind_reference"] - place[0]) * X
        for piece in self.pieces:
            piece.move(np.eye(3), shift)

    def on_stock(self, mark: dict[str, Any], step: dict[str, Any]) -> float:
        """Where the tape says the line is, along the sawn tube from its first end."""
        if mark["from"] == self.names[0]:
            return float(mark["at"])
        if mark["from"] == self.names[1]:
            return self.length - float(mark["at"])
        last = next(b for b in self.bends if f"end of bend {b.bend}" == mark["from"])
        return last.first - float(mark["at"]) if step["tail"] == self.names[0] else last.last + float(mark["at"])

    def bend(self, angle: float, radius: float, stock: float, step: dict[str, Any]) -> None:
        """The die turns: stock from the origin back goes into the bend, and all that is ahead swings."""
        tail = self.tail(step)
        forward = step["tail"] == self.names[0]  # stock counts up toward the die
        whole = tail.ends[1] - tail.ends[0]
        start = tail.first + float(-tail.ends[0] @ whole) / float(whole @ whole) * (tail.last - tail.first)
        cut = (start - stock, start) if forward else (start, start + stock)
        assert tail.first < cut[0]
        assert cut[1] < tail.last
        low = Piece(tail.first, cut[0], np.array([tail.ends[0], tail.place(cut[0])]), tail.line.copy())
        high = Piece(cut[1], tail.last, np.array([tail.place(cut[1]), tail.ends[1]]), tail.line.copy())
        at = self.pieces.index(tail)
        swung = [high, *self.pieces[at + 1 :]] if forward else [*self.pieces[:at], low]
        kept = low if forward else high
        axis = np.cross(X, self.swing)
        turn = rotation_about(axis, angle)
        centre = radius * self.swing
        for piece in swung:
            piece.move(turn, centre - turn @ centre)
        kept.move(np.eye(3), stock * X)
        self.pieces = [kept, *swung] if forward else [*swung, kept]
        self.bends.append(Bent(*cut, step["bend"]))
        side = kept.line
        self.lines[step["bend"]] = math.atan2(float(X @ np.cross(side, self.facing)), float(side @ self.facing))
        self._forward = forward

    def level(self, step: dict[str, Any]) -> tuple[float, FloatArray]:
        """A level on the leg beyond the bend made last, in degrees, and the way that leg points."""
        outward = self._leg_out(step)
        return math.degrees(math.asin(min(1.0, abs(float(outward[2]))))), outward

    def corners(self, trims: tuple[float, float]) -> FloatArray:
        """Ends, trimmed, and where neighbouring straights meet."""
        ordered = sorted(self.pieces, key=lambda piece: piece.first)
        places = [ordered[0].place(trims[0])]
        for one, other in pairwise(ordered):
            u, v = one.ends[1] - one.ends[0], other.ends[1] - other.ends[0]
            along = np.linalg.lstsq(np.column_stack([u, -v]), other.ends[0] - one.ends[0], rcond=None)[0]
            places.append(one.ends[0] + along[0] * u)
        places.append(ordered[-1].place(self.length - trims[1]))
        return np.array(places)

    def tail(self, step: dict[str, Any]) -> Piece:
        first = step["tail"] == self.names[0]
        return min(self.pieces, key=lambda p: p.first) if first else max(self.pieces, key=lambda p: p.last)

    def _leg_out(self, step: dict[str, Any]) -> FloatArray:
        """The way the leg beyond the bend made last on this side points, away from that bend."""
        ordered = sorted(self.pieces, key=lambda piece: piece.first)
        leg = ordered[1] if step["tail"] == self.names[0] else ordered[-2]
        away = leg.ends[1] - leg.ends[0]
        if step["tail"] != self.names[0]:
            away = -away
        unit: FloatArray = away / np.linalg.norm(away)
        return unit

    def _facing_line(self, zero: int, step: dict[str, Any]) -> FloatArray:
        """The line of bend ``zero``: drawn at a fixed way round from the reference line, seen along the stock."""
        tail = self.tail(step)
        # kept as seen from the tail when it was made; from the other end it lies the other way round
        angle = self.lines[zero] if (step["tail"] == self.names[0]) == self._forward else -self.lines[zero]
        line: FloatArray = rotation_about(X, angle) @ tail.line
        return line


def _frame(along: FloatArray, beside: FloatArray) -> FloatArray:
    u = along / np.linalg.norm(along)
    n = beside - (beside @ u) * u
    n = n / np.linalg.norm(n)
    return np.column_stack([u, n, np.cross(u, n)])


def made_by(
    sheet: dict[str, Any], names: tuple[str, str], shop: dict[str, float], by: str, machine: Bender
) -> FloatArray:
    """Corners (n + 2, 3) of what a man makes who follows a sheet; he turns by degrees or by the arc of a new line.

    ``shop`` is how the bender behaves, whatever the sheet says: offset, radius, stock per radian, springback.
    Level readings, running angles and the seam are held against the tube as it lies in his hands.
    """
    man = Man(sheet["stock"], names, machine)
    for step in sheet["steps"]:
        man.place_part(step)
        if step["zero"]:
            if by == "degrees":
                man.turn_tube(step["turn"]["degrees"], step["turn"]["way"])
            else:
                man.turn_to_arc(step["line"]["arc"], step["line"]["side"], shop["od"], step["zero"], step)
        _hold_against(man, step)
        man.feed(step["marks"][0], step, shop["offset"])
        stop = math.radians(step["stop"])
        finished = (stop - shop["constant"]) / (1 + shop["part"])
        man.bend(finished, shop["radius"], finished * shop["per_radian"], step)
    return man.corners(tuple(sheet["trim"]))


def _hold_against(man: Man, step: dict[str, Any]) -> None:
    """Running angle and level reading must be what the tube shows."""
    line = man.tail(step).line
    sign = {"clockwise": 1.0, "counter-clockwise": -1.0, "none": 0.0, "either way": 1.0}[step["running"]["way"]]
    told = rotation_about(X, sign * math.radians(step["running"]["degrees"])) @ man.facing
    assert np.abs(told - line).max() < 1e-9
    inside = math.degrees(math.asin(np.clip(line @ man.swing, -1.0, 1.0)))
    assert step["seam_from_side"] == pytest.approx(abs(inside), abs=1e-5)
    if step["seam_from_inside"] is not None:
        assert step["seam_from_inside"] == pytest.approx(90.0 - inside, abs=1e-5)
    if step["level"] is None:
        return
    reads, points = man.level(step)
    told_level = step["level"]
    assert abs(told_level["reads"] - reads) < 1e-6
    assert told_level["points"] == ("up" if points[2] > 0 else "down")
    assert told_level["sideways"] == ("left" if points[1] > 0 else "right")
    is_level = abs(man.swing @ UP) < 0.5
    assert told_level["past_plumb"] == (is_level and points @ man.swing < 0)
