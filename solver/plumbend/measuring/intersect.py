"""Where one place can be, by what single readings say of it: planes and spheres that meet."""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.records import record

_FIXES = 0.2
"""Planes and differences of spheres that together turn less than this way leave a direction to the spheres."""


@record(eq=False)
class Bounds:
    """What is known of one place.

    Attributes:
        rows, says, row_sd: (r, 3), (r,), (r,) mm: planes rows . place = says.
        centres, radii, radius_sd: (s, 3), (s,), (s,) mm: spheres.
    """

    rows: FloatArray
    says: FloatArray
    row_sd: FloatArray
    centres: FloatArray
    radii: FloatArray
    radius_sd: FloatArray

    def misses(self, at: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Misses (r + s,) at a place, each over its accuracy, and their derivatives (r + s, 3)."""
        away = at - self.centres
        lengths = np.maximum(np.sqrt((away * away).sum(axis=1)), 1e-9)
        residuals = np.concatenate(
            [(self.rows @ at - self.says) / self.row_sd, (lengths - self.radii) / self.radius_sd]
        )
        rows = np.concatenate([self.rows / self.row_sd[:, None], away / (lengths * self.radius_sd)[:, None]])
        return residuals, rows


@record(eq=False)
class Answer:
    """One place (3,) mm where planes and spheres meet, and the sum of squares by which they miss it."""

    at: FloatArray
    chi2: float


def meet(bounds: Bounds) -> list[Answer] | None:
    """The one or two places where the bounds meet, the better first; None where they leave more.

    Differences of spheres are planes (the radical planes of elementary geometry). Where these and the given planes
    leave one direction, a sphere cuts the line in two.
    """
    planes, says = _planes(bounds)
    if not len(planes):
        return None
    sizes, ways = np.linalg.eigh(planes.T @ planes)
    fixed = sizes > _FIXES**2
    if fixed.sum() < 2 or (fixed.sum() < 3 and not bounds.radii.size):
        return None
    along = ways[:, fixed]
    base = along @ ((along.T @ (planes.T @ says)) / sizes[fixed])
    if fixed.all():
        return [Answer(base, 0.0)]  # no other answer to weigh it against
    line = ways[:, ~fixed][:, 0]
    from_centres = base - bounds.centres
    middle = -float(np.mean(from_centres @ line))
    half_square = middle**2 - float(np.mean(np.sum(from_centres**2, axis=1) - bounds.radii**2))
    half = np.sqrt(max(half_square, 0.0))
    starts = [base + (middle + half) * line, base + (middle - half) * line] if half else [base + middle * line]
    answers = [_polished(bounds, start) for start in starts]
    return sorted(answers, key=lambda answer: answer.chi2)


def nearest_within(bounds: Bounds, near: FloatArray) -> FloatArray:
    """A place (3,) mm on all the planes and the first sphere where they leave room, about where ``near`` (3,) is.

    A tape to a place straight above or below what it was taken from would not say which way to go: it must not begin
    there.
    """
    free = np.eye(3)
    if len(bounds.rows):
        back = np.linalg.pinv(bounds.rows, rcond=1e-6)
        near = near + back @ (bounds.says - bounds.rows @ near)
        free = free - back @ bounds.rows
    if not bounds.radii.size:
        return near
    # within the planes, straight out from the foot of the sphere's centre
    away = free @ (near - bounds.centres[0])
    foot = near - away
    square = float(bounds.radii[0] ** 2 - np.sum((foot - bounds.centres[0]) ** 2))
    length = float(np.linalg.norm(away))
    if length < 1e-6:
        return near
    # straight above or below it, a place still begins a little aside
    aside = np.sqrt(max(square, (0.01 * bounds.radii[0]) ** 2))
    return _polished(bounds, foot + away * (aside / length)).at


def _planes(bounds: Bounds) -> tuple[FloatArray, FloatArray]:
    """The given planes and those in which the first sphere meets each other one."""
    if len(bounds.centres) < 2:
        return bounds.rows, bounds.says
    between = bounds.centres[1:] - bounds.centres[0]
    apart = np.linalg.norm(between, axis=1)
    powers = np.sum(bounds.centres**2, axis=1) - bounds.radii**2
    steps, between, apart = (powers[1:] - powers[0])[apart > 0], between[apart > 0], apart[apart > 0]
    rows = np.concatenate([bounds.rows, between / apart[:, None]])
    return rows, np.concatenate([bounds.says, steps / (2 * apart)])


def _polished(bounds: Bounds, at: FloatArray) -> Answer:
    """A few steps of least squares on this place alone, held back where they would leap."""
    residuals, rows = bounds.misses(at)
    chi2 = float(residuals @ residuals)
    for _ in range(4):
        step = np.linalg.solve(rows.T @ rows + 1e-9 * np.eye(3), -rows.T @ residuals)
        tried, tried_rows = bounds.misses(at + step)
        if not tried @ tried < chi2:
            break
        at, residuals, rows = at + step, tried, tried_rows
        before, chi2 = chi2, float(residuals @ residuals)
        if before - chi2 < 1 + 0.1 * chi2:
            break
    return Answer(at, chi2)
