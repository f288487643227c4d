"""The finished part, held in the machine as each step has it: how it turns, where its reference line and seam lie."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbend.frames import FloatArray, angle_between, cross, rotation_about
from plumbend.making.machine import Machine, clockwise
from plumbend.making.order import Bending
from plumbend.shape.chain import Chain


class HeldPart:
    """The finished part (mm) in a machine, its bends made in an order; straights that are not bent yet lie in line.

    Attributes:
        reference: (n + 1, 3) unit, where the reference line faces on every straight of the finished part.
    """

    def __init__(self, chain: Chain, machine: Machine, order: Sequence[Bending]) -> None:
        self._machine = machine
        self._from_start = chain
        self._from_far = chain.reversed()
        self._order = order
        self.reference = self._line_on_every_straight(order[0]) if order else np.zeros((1, 3))

    def _frames(self, now: Bending) -> tuple[FloatArray, int]:
        """Frames of the part named from the end that leads, and the bend's number among its own, from 0."""
        if now.start_leads:
            return self._from_start.frames, now.bend
        return self._from_far.frames, self._from_far.bends - 1 - now.bend

    def _held(self, now: Bending) -> FloatArray:
        """How the part is held as a bend is about to be made: what leads is still in line with the tail."""
        frames, bend = self._frames(now)
        return self._machine.holding(frames[2 * bend + 1])

    def _just_bent(self, now: Bending, zero: int) -> FloatArray:
        """How the part is held when bend ``zero`` has just been made, or lies as if it had."""
        frames, bend = self._frames(Bending(zero, now.start_leads))
        after = frames[2 * bend + 2]
        return self._machine.holding(after)

    def _straight(self, now: Bending) -> int:
        """The straight that the clamp holds, from 0, named from the start end."""
        return now.bend if now.start_leads else now.bend + 1

    def _line_on_every_straight(self, first: Bending) -> FloatArray:
        """(n + 1, 3): where the reference line faces on every straight of the finished part.

        A bend carries the line along with the metal, so from one straight to the next it moves as the frame does.
        """
        chain = self._from_start
        lines = np.empty((chain.bends + 1, 3))
        at = self._straight(first)
        lines[at] = self._held(first).T @ self._machine.facing
        for k in range(at, chain.bends):
            lines[k + 1] = self._through(k) @ lines[k]
        for k in range(at - 1, -1, -1):
            lines[k] = self._through(k).T @ lines[k + 1]
        return lines

    def _through(self, bend: int) -> FloatArray:
        """Rotation (3, 3) from the straight before a bend to the one behind it."""
        axis = self._from_start.frames[2 * bend + 1, :, 2]
        return rotation_about(axis, float(self._from_start.angles[bend]))

    def turning(self, now: Bending, zero: int) -> tuple[float, float]:
        """How far the tube turns to a step, and where its line lies from that of bend ``zero``."""
        facing = self._machine.facing
        # any direction square to the tail shows the turn: take what faces there before it
        carried = self._held(now) @ self._just_bent(now, zero).T @ facing
        last = self._held(now) @ self._last_line(now, zero)
        # the line of this step faces there now; seen from the tail, left of the last line is counter-clockwise of it
        return clockwise(facing, carried), clockwise(facing, last)

    def _last_line(self, now: Bending, zero: int) -> FloatArray:
        """The line that faced there as bend ``zero`` was made, on the straight that the clamp holds now."""
        made = next(earlier for earlier in self._order if earlier.bend == zero)
        on = self._straight(made)
        along = self._from_start.frames[2 * on, :, 0]
        faced = self._held(made).T @ self._machine.facing
        reference = self.reference[on]
        angle = np.arctan2(along @ cross(reference, faced), reference @ faced)
        held = self._straight(now)
        line: FloatArray = rotation_about(self._from_start.frames[2 * held, :, 0], float(angle)) @ self.reference[held]
        return line

    def running(self, now: Bending) -> float:
        """How far the reference line has turned from where it faced at the first step."""
        return clockwise(self._machine.facing, self._held(now) @ self.reference[self._straight(now)])

    def leg(self, now: Bending) -> tuple[int, FloatArray, FloatArray]:
        """The leg beyond the bend that was made last, counted from 1: its directions before and after the turn.

        Each points away from that bend, in the machine's axes.
        """
        frames, bend = self._frames(now)
        outward = -frames[2 * bend - 2, :, 0]
        before = self._machine.holding(frames[2 * bend]) @ outward
        number = bend if now.start_leads else self._from_start.bends + 2 - bend
        return number, before, self._held(now) @ outward

    def seam(self, bend: int) -> float:
        """Where the reference line lies from the inside of a bend."""
        return angle_between(self.reference[bend], self._from_start.frames[2 * bend + 1, :, 1])
