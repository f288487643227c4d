"""The surfaces that the end of a tube is cut against, and where straight lines meet them.

A tube is a row of cylinders and parts of tori, a plate or a saw cut is a plane. A line runs from a start along a unit
direction; *at* is the distance along it in mm. What stops it is where it goes in: a straight tube may begin within the
very tube that its other end is on, and only comes out of that. Where a line passes a round surface by, the place where
it comes nearest stands in (the real part of the complex root), and is marked as no crossing.
"""

from __future__ import annotations

import math
from typing import Protocol

import numpy as np
import numpy.typing as npt

from plumbend.ends.quartics import FLAT, quartic_roots
from plumbend.frames import FloatArray, unit
from plumbend.records import record

Mask = npt.NDArray[np.bool_]

_SLACK = 1e-6  # mm or radians by which a crossing may lie past the end of its piece, so that no seam leaks
_PARALLEL = 1e-12


class Piece(Protocol):
    """One surface of a neighbour."""

    def meets(self, starts: FloatArray, along: FloatArray) -> tuple[FloatArray, Mask]:
        """Where lines from ``starts`` (m, 3) along the unit ``along`` (3,) go into it: at (m, k) mm, in any order, NaN
        where there is nothing, and whether each crosses there rather than passes it nearest."""

    def distance(self, places: FloatArray) -> FloatArray:
        """How far ``places`` (m, 3) stand outside the surface, (m,) mm, negative inside."""

    def foot(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The centreline's place nearest to ``place`` (3,), and its unit direction there; for a plane the foot on it
        and its normal."""

    def clears(self, start: FloatArray, along: FloatArray, by: float) -> bool:
        """Whether the whole line through ``start`` (3,) along the unit ``along`` (3,) surely passes it by more than
        ``by`` mm, by a ball round it: a cheap look before the exact one."""

    def moved(self, turn: FloatArray, about: FloatArray) -> Piece:
        """The surface turned by the rotation ``turn`` (3, 3) about the place ``about`` (3,)."""


def _passes(start: FloatArray, along: FloatArray, middle: FloatArray, reach: float) -> bool:
    """Whether a line passes a ``middle`` (3,) farther off than ``reach`` mm."""
    away = middle - start
    return float(away @ away) - float(away @ along) ** 2 > reach * reach


@record(eq=False)
class Cylinder:
    """The outside of a straight.

    Attributes:
        start: (3,) mm on the axis.
        axis: (3,) unit.
        radius: mm.
        length: mm from ``start`` along ``axis``; infinite in both ways where None.
    """

    start: FloatArray
    axis: FloatArray
    radius: float
    length: float | None = None

    def meets(self, starts: FloatArray, along: FloatArray) -> tuple[FloatArray, Mask]:
        """Roots of a quadratic; see `Piece.meets`."""
        away = starts - self.start
        across = along - (along @ self.axis) * self.axis
        square = float(across @ across)
        if square < _PARALLEL:
            return np.full((len(starts), 1), np.nan), np.zeros((len(starts), 1), dtype=bool)
        away = away - (away @ self.axis)[:, None] * self.axis
        middle = -(away @ across) / square
        nearest = away + middle[:, None] * across
        room = self.radius**2 - np.einsum("ij,ij->i", nearest, nearest)
        at = middle - np.sqrt(np.maximum(room, 0.0) / square)
        crossing = room >= 0
        if self.length is not None:
            station = (starts - self.start) @ self.axis + at * (along @ self.axis)
            crossing &= (station >= -_SLACK) & (station <= self.length + _SLACK)
        return at[:, None], crossing[:, None]

    def _station(self, places: FloatArray) -> FloatArray:
        station: FloatArray = (places - self.start) @ self.axis
        return station if self.length is None else np.clip(station, 0.0, self.length)

    def distance(self, places: FloatArray) -> FloatArray:
        """See `Piece.distance`."""
        feet = self.start + self._station(places)[:, None] * self.axis
        outside: FloatArray = np.linalg.norm(places - feet, axis=1) - self.radius
        return outside

    def foot(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """See `Piece.foot`."""
        return self.start + self._station(place[None])[0] * self.axis, self.axis

    def clears(self, start: FloatArray, along: FloatArray, by: float) -> bool:
        """See `Piece.clears`."""
        if self.length is None:
            return False
        middle = self.start + self.length / 2 * self.axis
        return _passes(start, along, middle, math.hypot(self.length / 2, self.radius) + by)

    def moved(self, turn: FloatArray, about: FloatArray) -> Cylinder:
        """See `Piece.moved`."""
        return Cylinder(about + turn @ (self.start - about), turn @ self.axis, self.radius, self.length)


@record(eq=False)
class Torus:
    """The outside of a bend.

    Attributes:
        centre: (3,) mm, of the centreline's arc.
        frame: (3, 3) columns: from the centre to the arc's start, along the tube there, and their normal.
        bend_radius: of the centreline, mm.
        radius: of the tube, mm.
        angle: how far the bend turns, radians.
    """

    centre: FloatArray
    frame: FloatArray
    bend_radius: float
    radius: float
    angle: float

    def meets(self, starts: FloatArray, along: FloatArray) -> tuple[FloatArray, Mask]:
        """Roots of (p.p + R^2 - r^2)^2 = 4 R^2 (x^2 + y^2) along the line, a quartic; see `Piece.meets`.

        Counted from the place nearest to the centre the cubic term vanishes; in lengths of the bend's radius all
        coefficients are near 1. Inside the tube the quartic is negative, so a line goes in where it falls.
        """
        u = self.frame.T @ along
        away = (starts - self.centre) @ self.frame
        shift = away @ u
        q = (away - shift[:, None] * u) / self.bend_radius
        k = np.einsum("ij,ij->i", q, q) + 1 - (self.radius / self.bend_radius) ** 2
        square = k * 2 - 4 * float(u[:2] @ u[:2])
        linear = -8 * (q[:, :2] @ u[:2])
        constant = k**2 - 4 * np.einsum("ij,ij->i", q[:, :2], q[:, :2])
        x, real, slope = quartic_roots(square, linear, constant)
        comes_out = real & (slope > FLAT)
        at = np.where(comes_out, np.nan, x * self.bend_radius - shift[:, None])
        places = away[:, None, :] + at[..., None] * u
        slack = _SLACK / self.bend_radius
        round_arc = np.arctan2(places[..., 1], places[..., 0])
        round_arc = np.where(round_arc < -slack, round_arc + 2 * math.pi, round_arc)
        return at, real & ~comes_out & (round_arc <= self.angle + slack)

    def _feet(self, places: FloatArray) -> FloatArray:
        """Angle (m,) along the arc of the nearest place of the centreline."""
        away = (places - self.centre) @ self.frame
        # the half of the far side that is nearer to the start counts as before it
        beyond = math.pi - self.angle / 2
        turn = np.arctan2(away[:, 1], away[:, 0]) % (2 * math.pi)
        turn = np.where(turn > self.angle + beyond, turn - 2 * math.pi, turn)
        return np.asarray(np.clip(turn, 0.0, self.angle), dtype=np.float64)

    def _centreline(self, turn: FloatArray) -> FloatArray:
        local = self.bend_radius * np.stack([np.cos(turn), np.sin(turn), np.zeros_like(turn)], axis=-1)
        place: FloatArray = self.centre + local @ self.frame.T
        return place

    def distance(self, places: FloatArray) -> FloatArray:
        """See `Piece.distance`."""
        outside: FloatArray = np.linalg.norm(places - self._centreline(self._feet(places)), axis=1) - self.radius
        return outside

    def foot(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """See `Piece.foot`."""
        turn = self._feet(place[None])
        direction = self.frame @ np.array([-math.sin(turn[0]), math.cos(turn[0]), 0.0])
        return self._centreline(turn)[0], direction

    def clears(self, start: FloatArray, along: FloatArray, by: float) -> bool:
        """See `Piece.clears`. Up to half a turn no place of an arc is farther from the middle of its chord than its
        ends are."""
        half = self.angle / 2
        outward = math.cos(half) * self.frame[:, 0] + math.sin(half) * self.frame[:, 1]
        middle = self.centre + self.bend_radius * math.cos(half) * outward
        return _passes(start, along, middle, self.bend_radius * math.sin(half) + self.radius + by)

    def moved(self, turn: FloatArray, about: FloatArray) -> Torus:
        """See `Piece.moved`."""
        centre = about + turn @ (self.centre - about)
        return Torus(centre, turn @ self.frame, self.bend_radius, self.radius, self.angle)


@record(eq=False)
class Plane:
    """A plate's face, or the plane of a straight saw cut.

    Attributes:
        place: (3,) mm on it.
        normal: (3,) unit, away from the plate, toward the tube that is cut.
    """

    place: FloatArray
    normal: FloatArray

    def meets(self, starts: FloatArray, along: FloatArray) -> tuple[FloatArray, Mask]:
        """See `Piece.meets`."""
        rate = float(along @ self.normal)
        if abs(rate) < _PARALLEL:
            return np.full((len(starts), 1), np.nan), np.zeros((len(starts), 1), dtype=bool)
        at = ((self.place - starts) @ self.normal / rate)[:, None]
        return at, np.ones_like(at, dtype=bool)

    def distance(self, places: FloatArray) -> FloatArray:
        """See `Piece.distance`."""
        outside: FloatArray = (places - self.place) @ self.normal
        return outside

    def foot(self, place: FloatArray) -> tuple[FloatArray, FloatArray]:
        """See `Piece.foot`."""
        return place - ((place - self.place) @ self.normal) * self.normal, self.normal

    def clears(self, start: FloatArray, along: FloatArray, by: float) -> bool:
        """See `Piece.clears`: a plane goes on for ever."""
        return False

    def moved(self, turn: FloatArray, about: FloatArray) -> Plane:
        """See `Piece.moved`."""
        return Plane(about + turn @ (self.place - about), unit(turn @ self.normal))
