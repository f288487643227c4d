"""Rigid motions and angles: right-handed axes, mm and radians."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


def unit(v: FloatArray) -> FloatArray:
    """Scale vectors (..., 3) to length one."""
    scaled: FloatArray = v / np.linalg.norm(v, axis=-1, keepdims=True)
    return scaled


def cross(a: FloatArray, b: FloatArray) -> FloatArray:
    """Vector product of (..., 3) and (..., 3); numpy's own spends ten times as long on a few vectors."""
    if a.ndim == b.ndim == 1:  # and of plain numbers an eighth of what follows
        x, y, z = a.tolist()
        u, v, w = b.tolist()
        return np.array([y * w - z * v, z * u - x * w, x * v - y * u], dtype=np.float64)
    product = np.empty(np.broadcast_shapes(a.shape, b.shape))
    product[..., 0] = a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1]
    product[..., 1] = a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2]
    product[..., 2] = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return product


def angle_between(a: FloatArray, b: FloatArray) -> float:
    """Angle in radians, 0 to pi, between two vectors of any length; by atan2, which keeps small angles."""
    return float(math.atan2(float(np.linalg.norm(cross(a, b))), float(a @ b)))


def wrap_angle(angle: FloatArray | float) -> FloatArray:
    """The same angle in (-pi, pi], radians."""
    wrapped = -((-np.asarray(angle, dtype=np.float64) + np.pi) % (2 * np.pi) - np.pi) + 0.0  # no minus zero
    return np.asarray(wrapped, dtype=np.float64)


def rotation_about(axis: FloatArray, angle: float) -> FloatArray:
    """Rotation matrix (3, 3) that turns right-handed by ``angle`` radians about the unit ``axis``.

    Rodrigues' formula.
    """
    x, y, z = axis
    spin = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    # 1 - cos as 2 sin^2(half): no digits are lost at small angles
    turn: FloatArray = np.eye(3) + math.sin(angle) * spin + 2 * math.sin(angle / 2) ** 2 * (spin @ spin)
    return turn


def normals_to(t: FloatArray) -> FloatArray:
    """Two unit vectors square to each unit vector of ``t`` (m, 3) and to each other: (m, 2, 3)."""
    away = np.eye(3)[np.argmin(np.abs(t), axis=1)]
    first = unit(cross(t, away))
    return np.stack([first, cross(t, first)], axis=1)


def frame_along(u: FloatArray, towards: FloatArray) -> FloatArray:
    """Frame (3, 3) with columns u, n, a: n is the part of ``towards`` square to the unit ``u``, a = u x n.

    Where ``towards`` lies along ``u`` any direction square to ``u`` serves.
    """
    n = towards - (towards @ u) * u
    size = float(np.linalg.norm(n))
    n = n / size if size > 1e-9 * max(1.0, float(np.linalg.norm(towards))) else normals_to(u[None])[0, 0]
    n = unit(n - (n @ u) * u)
    return np.column_stack([u, n, cross(u, n)])
