"""The centreline as a serial chain: start pose, straights, rotations, angles.

Words: *element* e is straight e/2 for even e (counted from 0) and the arc of bend (e + 1)/2 for odd e.
A frame has columns u (along the tube), n (toward the bend's centre), a = u x n. Each number of the chain
moves all that lies after it as one rigid body (product of exponentials: Lynch & Park, Modern Robotics,
ch. 4-5; Murray, Li & Sastry, A Mathematical Introduction to Robotic Manipulation, ch. 3); its twist
(v, w) about a fixed reference c moves a point f by v + w x (f - c).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt

from plumbend.frames import FloatArray, cross, rotation_about, wrap_angle
from plumbend.records import record
from plumbend.shape.program import Program

FAR_CORNER = 100.0
"""A corner farther than this many radii from its tangent points is of no use and is not reported."""

POSE = 6
"""Pose parameters come first: three of place, three of turning about the reference."""


@dataclass(frozen=True)
class Layout:
    """Where the numbers of a chain of n bends stand in a parameter vector: pose, straights, rotations, angles.

    Attributes:
        bends: n.
        size: 6 + (n + 1) + (n - 1) + n, or 7 for a straight tube.
        straights, rotations, angles: slices; ``rotations`` leaves out the first, which is 0.
        before: (2n + 1, size) True where a parameter moves an element as a whole.
    """

    bends: int
    size: int
    straights: slice
    rotations: slice
    angles: slice
    before: npt.NDArray[np.bool_]


@lru_cache(maxsize=64)
def layout(bends: int) -> Layout:
    """The layout for n bends."""
    turns = max(bends - 1, 0)
    straights = slice(POSE, POSE + bends + 1)
    rotations = slice(straights.stop, straights.stop + turns)
    angles = slice(rotations.stop, rotations.stop + bends)
    before = np.zeros((2 * bends + 1, angles.stop), dtype=bool)
    before[:, :POSE] = True
    for k in range(bends + 1):
        before[2 * k + 1 :, straights.start + k] = True
    for k in range(bends):
        if k:
            before[2 * k + 1 :, rotations.start + k - 1] = True
        before[2 * k + 2 :, angles.start + k] = True
    before.setflags(write=False)
    return Layout(bends, angles.stop, straights, rotations, angles, before)


@record(eq=False)
class Motion:
    """How a chain's parameters move its parts, to first order.

    Attributes:
        reference: (3,) mm, the fixed c about which the twists are stated.
        twists: (6, p), v over w.
        layout: where the parameters stand.
    """

    reference: FloatArray
    twists: FloatArray
    layout: Layout

    def rows(self, directions: FloatArray, places: FloatArray) -> FloatArray:
        """(m, k, p): derivative of b . (point - place), for directions b (m, k, 3) and places (m, 3) on the tube
        that lie after every parameter."""
        arms = cross((places - self.reference)[:, None, :], directions)
        return -(np.concatenate([directions, arms], axis=2) @ self.twists)


@dataclass(frozen=True, eq=False)
class Chain:
    """A tube in space.

    Attributes:
        origin: (3,) mm, the start end.
        frame: (3, 3) columns u, n, a at the start; n points toward the centre of bend 1.
        straights: (n + 1,) mm.
        rotations: (n,) radians, unwrapped; the first is 0.
        angles: (n,) radians.
        radius: centreline radius, mm.
    """

    origin: FloatArray
    frame: FloatArray
    straights: FloatArray
    rotations: FloatArray
    angles: FloatArray
    radius: float

    @classmethod
    def from_program(
        cls,
        program: Program,
        radius: float,
        origin: FloatArray | None = None,
        frame: FloatArray | None = None,
    ) -> Chain:
        """A program laid out from ``origin`` (0, 0, 0) along ``frame``: first leg forward, bend 1 to the left."""
        return cls(
            np.zeros(3) if origin is None else origin,
            np.eye(3) if frame is None else frame,
            program.straights,
            program.rotations,
            program.angles,
            radius,
        )

    @property
    def bends(self) -> int:
        """Number of bends n."""
        return int(self.angles.size)

    @property
    def program(self) -> Program:
        """The program, rotations brought into (-pi, pi]."""
        return Program(self.straights, wrap_angle(self.rotations), self.angles)

    @cached_property
    def _elements(self) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Frames (2n + 1, 3, 3) at each element's start, origins (start of straight, centre of arc), far end."""
        n, r = self.bends, self.radius
        frames = np.empty((2 * n + 1, 3, 3))
        origins = np.empty((2 * n + 1, 3))
        place, frame = self.origin, self.frame
        straights, turns, angles = self.straights.tolist(), self.rotations.tolist(), self.angles.tolist()
        for k in range(n):
            frames[2 * k], origins[2 * k] = frame, place
            place = place + straights[k] * frame[:, 0]
            if k:
                c, s = math.cos(turns[k]), math.sin(turns[k])
                frame = frame @ np.array([[1.0, 0.0, 0.0], [0.0, c, -s], [0.0, s, c]])
            centre = place + r * frame[:, 1]
            frames[2 * k + 1], origins[2 * k + 1] = frame, centre
            c, s = math.cos(angles[k]), math.sin(angles[k])
            # p + r (sin A u + (1 - cos A) n), with 1 - cos A = 2 sin^2(A/2)
            place = place + frame @ np.array([r * s, 2 * r * math.sin(angles[k] / 2) ** 2, 0.0])
            frame = frame @ np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        frames[2 * n], origins[2 * n] = frame, place
        return frames, origins, place + straights[n] * frame[:, 0]

    @property
    def frames(self) -> FloatArray:
        """(2n + 1, 3, 3): frame of every straight, and of every arc at its start."""
        return self._elements[0]

    @property
    def origins(self) -> FloatArray:
        """(2n + 1, 3) mm: start of every straight, centre of every arc."""
        return self._elements[1]

    @property
    def far_end(self) -> FloatArray:
        """(3,) mm."""
        return self._elements[2]

    def tangents(self) -> FloatArray:
        """(n + 1, 2, 3) mm: start and end of every straight."""
        starts = self.origins[::2]
        return np.stack([starts, starts + self.straights[:, None] * self.frames[::2, :, 0]], axis=1)

    def corners(self) -> FloatArray:
        """(n + 2, 3) mm: start end, corner of every bend, far end; NaN where a corner is too far off to use."""
        setback = np.tan(self.angles / 2)
        setback = np.where(np.abs(setback) <= FAR_CORNER, setback, np.nan)
        inner = self.tangents()[:-1, 1] + self.radius * setback[:, None] * self.frames[:-1:2, :, 0]
        return np.concatenate([self.origin[None], inner, self.far_end[None]])

    def polyline(self, sagitta: float) -> tuple[FloatArray, FloatArray]:
        """Places (m, 3) along the centreline and their stations (m,), arcs cut into chords.

        A chord stands off its arc by at most ``sagitta`` mm: 2 acos(1 - s/r), to first order sqrt(8 s/r).
        """
        widest = math.sqrt(8 * sagitta / self.radius)
        places, stations, station = [self.origin[None]], [np.zeros(1)], 0.0
        tangents = self.tangents()
        for k in range(self.bends + 1):
            station += float(self.straights[k])
            places.append(tangents[k, 1][None])
            stations.append(np.array([station]))
            if k < self.bends:
                angle = float(self.angles[k])
                steps = np.linspace(0, angle, max(1, math.ceil(angle / widest)) + 1)[1:-1]
                local = self.radius * np.stack([np.sin(steps), -np.cos(steps), np.zeros_like(steps)], axis=1)
                places.append(self.origins[2 * k + 1] + local @ self.frames[2 * k + 1].T)
                stations.append(station + self.radius * steps)
                station += self.radius * angle
                places.append(tangents[k + 1, 0][None])
                stations.append(np.array([station]))
        return np.concatenate(places), np.concatenate(stations)

    def motion(self, reference: FloatArray) -> Motion:
        """What each parameter does to all that lies after it, as twists about ``reference`` (3,)."""
        where = layout(self.bends)
        twists = np.zeros((6, where.size))
        twists[:, :POSE] = np.eye(6)
        twists[:3, where.straights] = self.frames[::2, :, 0].T
        if self.bends:
            arcs, centres = self.frames[1::2], self.origins[1::2]
            along, axis = arcs[1:, :, 0], arcs[:, :, 2]
            starts = centres[1:] - self.radius * arcs[1:, :, 1]
            twists[:3, where.rotations] = cross(along, reference - starts).T
            twists[3:, where.rotations] = along.T
            twists[:3, where.angles] = cross(axis, reference - centres).T
            twists[3:, where.angles] = axis.T
        return Motion(reference, twists, where)

    def reversed(self) -> Chain:
        """The same tube named from its other end."""
        program = self.program.reversed()
        u, n = -self.frames[-1, :, 0], self.frames[-1, :, 1]
        return Chain.from_program(program, self.radius, self.far_end, np.column_stack([u, n, cross(u, n)]))

    def parameters(self) -> FloatArray:
        """(p,): straights, rotations and angles in their places; the pose, folded into the frame, is 0."""
        where = layout(self.bends)
        values = np.zeros(where.size)
        values[where.straights] = self.straights
        values[where.rotations] = self.rotations[1:]
        values[where.angles] = self.angles
        return values

    def moved(self, step: FloatArray, reference: FloatArray) -> Chain:
        """The chain after a step (p,) of its parameters, the pose turned and shifted about ``reference``.

        An angle that would fall below zero bends to the other side instead: its plane turns by half a
        turn, and its neighbours' straights give way so that the corners stay where the step put them.
        """
        where = layout(self.bends)
        size = float(np.linalg.norm(step[3:6]))
        turn = rotation_about(step[3:6] / size, size) if size > 0 else np.eye(3)
        frame = turn @ self.frame
        origin = reference + turn @ (self.origin - reference) + step[:3]
        straights = self.straights + step[where.straights]
        rotations = self.rotations.copy()
        rotations[1:] += step[where.rotations]
        angles = self.angles + step[where.angles]
        if angles.size and angles.min() < 0:
            for k in np.flatnonzero(angles < 0):
                angles[k] = -angles[k]
                give = 2 * self.radius * math.tan(min(angles[k], 3.0) / 2)
                straights[k] -= give
                straights[k + 1] -= give
                if k:
                    rotations[k] += math.pi
                else:
                    frame = frame * np.array([1.0, -1.0, -1.0])
                if k + 1 < angles.size:
                    rotations[k + 1] += math.pi
        # the frame is squared up again, or rounding would creep in over many steps
        u = frame[:, 0] / math.sqrt(float(frame[:, 0] @ frame[:, 0]))
        n = frame[:, 1] - (frame[:, 1] @ u) * u
        n = n / math.sqrt(float(n @ n))
        return Chain(origin, np.column_stack([u, n, cross(u, n)]), straights, rotations, angles, self.radius)


RADIUS_STEP = 1e-3
"""mm: so short that third derivatives are not seen, and long enough for the last digits of places some metres off."""


def by_radius(of: Callable[[Chain], FloatArray], chain: Chain) -> FloatArray:
    """Derivative, per mm, of numbers of a chain by its radius, every other number kept: a central difference."""
    more, less = (of(replace(chain, radius=chain.radius + step)) for step in (RADIUS_STEP, -RADIUS_STEP))
    slope: FloatArray = (more - less) / (2 * RADIUS_STEP)
    return slope
