"""Roots of many quartics at once: a line meets a bend in up to four places, and a cut is drawn by a thousand lines."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plumbend.frames import FloatArray

_SMALL = 1e-10  # of the resolvent's root beside the coefficients, where dividing by its root would lose too much
_ROUNDING = 1e-15  # what arithmetic leaves of the square of how far two roots are apart
_CURVED = 0.1  # of two roots that a parabola tells apart; with less, a third is near
_REAL = 1e-12  # square of the largest imaginary part that is taken for rounding
FLAT = 1e-6
"""Slope of a double root, which is as good as it gets."""


def quartic_roots(
    square: FloatArray, linear: FloatArray, constant: FloatArray
) -> tuple[FloatArray, npt.NDArray[np.bool_], FloatArray]:
    """Roots of x^4 + square x^2 + linear x + constant, for coefficients (m,) each.

    The quartic is split into x^2 + u x + ... and x^2 - u x + ..., where the square of u is the largest root of a cubic
    (Descartes, La Geometrie, 1637); that is told by Viete's cosine where it has three real roots and by Cardano where
    it has one. Newton's steps polish what is real.

    Returns:
        The real parts (m, 4), which of them are roots, and the slope there.
    """
    z = _resolvent_root(square, linear, constant)
    u, half = np.sqrt(z), (square + z) / 2
    small = z <= _SMALL * (1 + np.abs(square))
    apart = np.where(
        small,
        np.copysign(np.sqrt(np.maximum(half**2 - constant, 0.0)), linear),
        linear / (2 * np.where(small, 1.0, u)),
    )
    room = np.stack([z / 4 - half + apart, z / 4 - half - apart], axis=1)
    root = np.sqrt(np.maximum(room, 0.0))
    middle = np.stack([-u / 2, u / 2], axis=1)
    x = np.concatenate([middle - root, middle + root], axis=1)
    real = np.tile(room > -_REAL, 2)
    square, linear, constant = square[:, None], linear[:, None], constant[:, None]
    for _ in range(3):
        value = ((x**2 + square) * x + linear) * x + constant
        slope = (4 * x**2 + 2 * square) * x + linear
        steep = real & (np.abs(slope) > FLAT)
        x = np.where(steep, x - value / np.where(steep, slope, 1.0), x)
    flat = real & ~steep  # where the last step found no slope to go by
    if flat.any():
        x = np.where(flat, _nearly_double(x, square, linear, constant), x)
    return x, real, (4 * x**2 + 2 * square) * x + linear


def _nearly_double(x: FloatArray, square: FloatArray, linear: FloatArray, constant: FloatArray) -> FloatArray:
    """Roots next to where the quartic turns: that place is known far better than the roots are, and these lie as far to
    either side of it as a parabola says."""
    curve = 12 * x**2 + 2 * square
    bent = np.abs(curve) > _CURVED
    curve = np.where(bent, curve, 1.0)
    turns = x
    for _ in range(2):
        turns = turns - ((4 * turns**2 + 2 * square) * turns + linear) / curve
    value = ((turns**2 + square) * turns + linear) * turns + constant
    apart = np.maximum(-2 * value / curve, 0.0)
    apart = np.where(apart > _ROUNDING, np.copysign(np.sqrt(apart), x - turns), 0.0)
    return np.where(bent, turns + apart, x)


def _resolvent_root(square: FloatArray, linear: FloatArray, constant: FloatArray) -> FloatArray:
    """The largest root of z^3 + 2 square z^2 + (square^2 - 4 constant) z - linear^2, which is never negative."""
    slope = square**2 - 4 * constant
    third = -(square**2 + 12 * constant) / 9  # the cubic in w = z + 2 square / 3 is w^3 + 3 third w + 2 half
    half = -(square**3) / 27 + 4 * square * constant / 3 - linear**2 / 2
    under = half**2 + third**3
    size = np.sqrt(np.maximum(-third, 0.0))
    cosine = np.clip(-half / np.where(size > 0, size, 1.0) ** 3, -1.0, 1.0)
    one = np.cbrt(-half - np.copysign(np.sqrt(np.maximum(under, 0.0)), half))
    single = one - third / np.where(one == 0, 1.0, one)
    z = np.where(under < 0, 2 * size * np.cos(np.arccos(cosine) / 3), single) - 2 * square / 3
    for _ in range(2):
        steepness = (3 * z + 4 * square) * z + slope
        value = ((z + 2 * square) * z + slope) * z - linear**2
        steep = np.abs(steepness) > FLAT
        z = np.where(steep, z - value / np.where(steep, steepness, 1.0), z)
    return np.maximum(z, 0.0)
