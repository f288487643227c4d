"""What test bends tell of a die: reference offset, bent radius, stock per degree and springback, each with its doubt.

A test bend of sawn length L, pen mark M, finished angle A and pointer stop P, with centreline radius R, stock k A and
start of bend s = M + c, reaches along its legs, by a square (for A under a right angle to the end of the other leg)

    a = s + (R + D/2) sin A + (L - s - k A) cos A     A < 90 degrees
    a = s + R + D/2                                   A >= 90 degrees

from the clamped end, and likewise from the other with L - s - k A in the place of s; a U is (R + D/2)(1 - cos A) wide,
outside to outside, and P - A is the springback, a constant for each batch and a part of the angle. Least squares, each
bend's rows weighed together by the errors of everything read on it (general adjustment, Ghilani, Adjustment
Computations; from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

import numpy as np

from plumbend.estimate.chances import SELDOM, beyond_chance
from plumbend.estimate.normal import FLAT, column_scale
from plumbend.frames import FloatArray
from plumbend.measuring.accuracies import sd_from_good_to
from plumbend.records import record
from plumbend.shop import KNOWN_AT

SQUARED: Final = sd_from_good_to(1.0)
"""One standard deviation in mm of a leg or width read with square and rule (common practice, no source)."""
SCRIBED: Final = sd_from_good_to(0.6)
"""The same of a scribed mark, put on the machine's reference (common practice, no source)."""
SAWN: Final = sd_from_good_to(0.8)
"""The same of a sawn length, measured (common practice, no source)."""
READ_TRUE: Final = math.radians(0.2)
"""One standard deviation in radians of an angle read off the bend with a digital level (common practice, no source)."""
READ_POINTER: Final = math.radians(0.4)
"""The same of the pointer, with how one bend springs unlike the next of the same stick (common practice, no source)."""
STAMP: Final = 0.01
"""One standard deviation of the radius, as a part of the stamp: finished bends are some 1 to 2 % larger (common
practice, no source). It counts where no width of a U tells the radius."""
WIDE: Final = math.radians(170.0)
"""Least angle of a U whose width tells the radius."""
_KNOWS_LINE: Final = math.radians(1.0)
"""The springback line is told where its doubt at 30 and at 90 degrees is less."""


@record
class TriedBend:
    """One test bend; mm and radians. What was not read is None.

    Attributes:
        sawn: length of the piece.
        mark: pen mark, from the end that is clamped.
        angle: finished, read off the bend itself.
        pointer: where the pointer stopped under load.
        clamp_leg, tail_leg: by a square, from the clamped and the other end to the farthest place along that leg.
        width: of a U, outside to outside, close to the bend.
        batch: of the tube; "" where not said.
        date: year, month, day; "" where not said.
    """

    sawn: float
    mark: float
    angle: float
    pointer: float | None = None
    clamp_leg: float | None = None
    tail_leg: float | None = None
    width: float | None = None
    batch: str = ""
    date: str = ""


@record
class Figure:
    """A figure and its standard deviation."""

    value: float
    sd: float


@record
class Calibration:
    """What test bends tell; None for what they do not.

    Attributes:
        reference_offset: mm.
        bent_clr: mm; None where no U tells it, and the die's own radius was taken.
        stock_per_radian: mm.
        constant, part: springback of the last batch, radians and part of the angle.
        springback: of that batch at 30, 90 and 180 degrees, radians.
        wrong: index of the test bend that does not go with the others and was left out.
        widened: by how much every doubt was widened, since the test bends disagree: 1 where they do not.
    """

    reference_offset: Figure | None
    bent_clr: Figure | None
    stock_per_radian: Figure | None
    constant: Figure | None
    part: Figure | None
    springback: tuple[Figure, Figure, Figure] | None
    wrong: int | None = None
    widened: float = 1.0


NEXT_ANGLES: Final = (180.0, 90.0, 60.0, 45.0, 30.0)
_WANTED: Final = (1.0, 1.0, math.radians(0.5), math.radians(0.5), 1.0)
"""Doubts worth having: offset and stock of a 90 in mm, springback at 30 and 90 degrees, radius in mm."""
_BEFORE: Final = (50.0, 0.1, STAMP, 0.1, math.radians(5.0))
"""What is known before any test bend: offset in mm, stock and radius as parts, part and constant of the springback."""


def next_angle(bends: Sequence[TriedBend], od: float, radius: float, largest: float, batch: str = "") -> float | None:
    """Angle in radians of the test bend that lowers the worst doubt most, of those up to ``largest``.

    None where every doubt is good enough, or no test bend betters the worst.
    """
    at = np.array([0.0, radius, radius, 0.03, 0.02])
    before = np.array([_BEFORE[0], _BEFORE[1] * radius, _BEFORE[2] * radius, _BEFORE[3], _BEFORE[4]])
    known = np.diag(1 / before**2)
    for bend in bends:
        rows, _ = _whitened(replace(bend, pointer=bend.pointer if bend.batch == batch else None), at, 0, od)
        known = known + rows.T @ rows

    def worst(information: FloatArray) -> float:
        covariance = np.linalg.inv(information)
        wanted = np.zeros((5, 5))
        wanted[0, 0], wanted[1, 1], wanted[4, 2] = 1.0, math.pi / 2, 1.0
        wanted[2, 3:], wanted[3, 3:] = (math.radians(30), 1.0), (math.radians(90), 1.0)
        return float((np.sqrt(np.diag(wanted @ covariance @ wanted.T)) / _WANTED).max())

    best, found = worst(known), None
    if best <= 1:
        return None
    for degrees in NEXT_ANGLES:
        angle = math.radians(degrees)
        if angle > largest + 1e-9:
            continue
        legs = 1000.0 - radius * angle / 2
        trial = TriedBend(1000.0, 400.0, angle, angle, legs, legs, legs if angle >= WIDE else None, batch)
        rows, _ = _whitened(trial, at, 0, od)
        after = worst(known + rows.T @ rows)
        if after < 0.99 * best:
            best, found = after, angle
    return found


def calibrated(bends: Sequence[TriedBend], od: float, radius: float, radius_sd: float | None = None) -> Calibration:
    """The figures of a die by least squares over its test bends, one that cannot be right left out.

    Args:
        bends: the last one's batch is the one whose springback is told.
        od: of the tube, mm.
        radius: centreline radius of the die, which holds where no U tells a better one, mm.
        radius_sd: its standard deviation; :data:`STAMP` of it where None.
    """
    fit = _Fit(bends, od, radius, STAMP * radius if radius_sd is None else radius_sd)
    wrong = fit.misfit()
    if wrong is not None:
        kept = [bend for index, bend in enumerate(bends) if index != wrong]
        fit = _Fit(kept, od, radius, fit.radius_sd)
    return replace(fit.told(), wrong=wrong)


class _Fit:
    """Least squares over some test bends: unknown offset, stock, radius, part, and a constant for each batch."""

    def __init__(self, bends: Sequence[TriedBend], od: float, radius: float, radius_sd: float) -> None:
        self.bends, self.od, self.radius, self.radius_sd = bends, od, radius, radius_sd
        self.batches = list(dict.fromkeys(bend.batch for bend in bends))
        self.at = np.concatenate([[0.0, radius, radius, 0.03], np.full(len(self.batches), 0.02)])
        self.finds_radius = any(_tells_width(bend) for bend in bends)
        self.free = np.array([True, True, self.finds_radius, *[True] * (1 + len(self.batches))])
        for _ in range(6):
            rows, misses = self._rows()
            self.half, self.scale, self.gone = _pseudo_half(rows[:, self.free])
            step = self.scale * (self.half @ (self.half.T @ (self.scale * (rows[:, self.free].T @ misses))))
            self.at[self.free] -= step
        rows, misses = self._rows()
        self.rows, self.chi2 = rows, float(misses @ misses)
        self.dof = misses.size - int(self.free.sum()) + self.gone

    def _rows(self) -> tuple[FloatArray, FloatArray]:
        """Whitened rows (m, p) and misses (m,), model less read."""
        parts = [_whitened(bend, self.at, self.batches.index(bend.batch), self.od) for bend in self.bends]
        if not parts:
            return np.zeros((0, self.at.size)), np.zeros(0)
        return np.vstack([rows for rows, _ in parts]), np.concatenate([misses for _, misses in parts])

    def misfit(self) -> int | None:
        """The one test bend without which the others agree, where all of them together do not; None else."""
        if not beyond_chance(self.chi2, self.dof, 0.005):
            return None
        without = [
            _Fit([*self.bends[:k], *self.bends[k + 1 :]], self.od, self.radius, self.radius_sd)
            for k in range(len(self.bends))
        ]
        good = [k for k, fit in enumerate(without) if fit.dof > 0 and not beyond_chance(fit.chi2, fit.dof, 0.05)]
        bad = [fit for k, fit in enumerate(without) if k not in good]
        told_apart = all(fit.dof > 0 and beyond_chance(fit.chi2, fit.dof, SELDOM) for fit in bad)
        return good[0] if len(good) == 1 and told_apart else None

    def told(self) -> Calibration:
        """The figures that the rows tell, those that they do not left out."""
        widened = math.sqrt(self.chi2 / self.dof) if beyond_chance(self.chi2, self.dof) else 1.0
        jacobian = self.rows[:, self.free]
        inverse = (self.scale[:, None] * (self.half @ self.half.T)) * self.scale
        covariance = widened**2 * inverse
        if not self.finds_radius:  # its own doubt reaches the others through every leg
            lever = inverse @ (jacobian.T @ self.rows[:, 2])
            covariance = covariance + self.radius_sd**2 * np.outer(lever, lever)
        full = np.zeros((self.at.size, self.at.size))
        full[np.ix_(self.free, self.free)] = covariance
        blocked = np.eye(int(self.free.sum())) - self.half @ np.linalg.pinv(self.half)
        place = {column: row for row, column in enumerate(np.flatnonzero(self.free).tolist())}

        def figure(direction: FloatArray) -> Figure | None:
            along = np.array([direction[column] for column in place]) / self.scale
            if np.abs(blocked @ along).max() > 1e-6 * max(np.abs(along).max(), 1e-30):
                return None
            return Figure(float(direction @ self.at), float(np.sqrt(direction @ full @ direction)))

        unit = np.eye(self.at.size)
        last = 4 + self.batches.index(self.bends[-1].batch) if self.bends else 3
        opens = [figure(unit[last] + math.radians(angle) * unit[3]) for angle in KNOWN_AT] if self.bends else []
        small, square, u = opens or (None, None, None)
        is_line = small is not None and square is not None and max(small.sd, square.sd) < _KNOWS_LINE
        return Calibration(
            figure(unit[0]),
            figure(unit[2]) if self.finds_radius else None,
            figure(unit[1]),
            figure(unit[last]) if is_line else None,
            figure(unit[3]) if is_line else None,
            (small, square, u) if is_line and small and square and u else None,
            widened=widened,
        )


def _tells_width(bend: TriedBend) -> bool:
    return bend.width is not None and bend.angle >= WIDE


def _whitened(bend: TriedBend, at: FloatArray, batch: int, od: float) -> tuple[FloatArray, FloatArray]:
    """Rows and misses of one test bend, by what is read on it, each of unit error and free of the others."""
    offset, stock, radius, part = at[:4].tolist()
    constant = float(at[4 + batch])
    angle, size = bend.angle, at.size
    sine, cosine = (math.sin(angle), math.cos(angle)) if angle < math.pi / 2 else (1.0, 0.0)
    start = bend.mark + offset
    rest = bend.sawn - start - stock * angle
    rows: list[FloatArray] = []
    misses: list[float] = []
    errors: list[list[float]] = []  # by errors of mark, sawn length, true angle, and of the reading itself
    crown = radius + od / 2
    for read, own, other, sign in ((bend.clamp_leg, start, rest, 1.0), (bend.tail_leg, rest, start, -1.0)):
        if read is None:
            continue
        by_start = sign * (1 - cosine)  # what moves the bend makes one leg longer and the other shorter
        by_rest = cosine if sign > 0 else 1.0
        row = np.zeros(size)
        row[0], row[1], row[2] = by_start, -angle * by_rest, sine
        rows.append(row)
        misses.append(own + crown * sine + other * cosine - read)
        slope = crown * cosine - other * sine if angle < math.pi / 2 else 0.0
        errors.append([by_start * SCRIBED, by_rest * SAWN, (slope - stock * by_rest) * READ_TRUE, SQUARED])
    if bend.width is not None and bend.angle >= WIDE:
        row = np.zeros(size)
        row[2] = 1 - math.cos(angle)
        rows.append(row)
        misses.append(crown * (1 - math.cos(angle)) - bend.width)
        errors.append([0.0, 0.0, crown * math.sin(angle) * READ_TRUE, SQUARED])
    if bend.pointer is not None:
        row = np.zeros(size)
        row[3], row[4 + batch] = angle, 1.0
        rows.append(row)
        misses.append(constant + (1 + part) * angle - bend.pointer)
        errors.append([0.0, 0.0, (1 + part) * READ_TRUE, READ_POINTER])
    if not rows:
        return np.zeros((0, size)), np.zeros(0)
    shared = np.array(errors)
    covariance = shared[:, :3] @ shared[:, :3].T + np.diag(shared[:, 3] ** 2)
    lower = np.linalg.cholesky(covariance)
    return np.linalg.solve(lower, np.array(rows)), np.linalg.solve(lower, np.array(misses))


def _pseudo_half(rows: FloatArray) -> tuple[FloatArray, FloatArray, int]:
    """W (p, q) with W W^T the inverse of the scaled normal matrix where the rows fix it, the scale (p,), and p - q."""
    normal = rows.T @ rows
    scale = column_scale(normal)
    values, vectors = np.linalg.eigh(scale[:, None] * normal * scale)
    is_fixed = values > FLAT * max(values.max(initial=0.0), 1e-300)
    return vectors[:, is_fixed] / np.sqrt(values[is_fixed]), scale, int((~is_fixed).sum())
