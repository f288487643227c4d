"""What readings should show, with exact derivatives, for many readings of a kind at once.

Places come as (m, k, 3): m readings of k places each, in mm.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray, cross
from plumbend.records import record


@record(eq=False)
class Computed:
    """Numbers of m readings with c components each.

    Attributes:
        values: (m, c) mm.
        by_place: (m, c, k, 3) derivatives by the places.
        by_plane: (m, c, 2) derivatives by the plane's offset and heading.
    """

    values: FloatArray
    by_place: FloatArray
    by_plane: FloatArray


def _without_plane(values: FloatArray, by_place: FloatArray) -> Computed:
    return Computed(values, by_place, np.zeros((*values.shape, 2)))


def _length(v: FloatArray) -> FloatArray:
    """Length (m, 1) of vectors (m, 3), never nothing: two places that fall together have no direction."""
    length: FloatArray = np.maximum(np.sqrt(np.einsum("mx,mx->m", v, v)), 1e-9)[:, None]
    return length


def distance(at: FloatArray) -> Computed:
    """Distance between two places."""
    between = at[:, 0] - at[:, 1]
    length = _length(between)
    way = between / length
    return _without_plane(length, np.stack([way, -way], axis=1)[:, None])


def along(at: FloatArray) -> Computed:
    """How far along the line from the second place to the third the first one is."""
    from_start, line = at[:, 0] - at[:, 1], at[:, 2] - at[:, 1]
    length = _length(line)
    way = line / length
    value = np.einsum("mx,mx->m", from_start, way)[:, None]
    by_line = (from_start - value * way) / length
    return _without_plane(value, np.stack([way, -way - by_line, by_line], axis=1)[:, None])


def across(at: FloatArray, upright: FloatArray) -> tuple[Computed, Computed]:
    """How far the first place is off the line from the second to the third, along two directions square to it.

    The first direction is square to ``upright`` (m, 3) as well, to the left of the line where that is up; the
    second is square to both. ``upright`` must not lie along the line.
    """
    from_start, line = at[:, 0] - at[:, 1], at[:, 2] - at[:, 1]

    def off(normal: FloatArray, by_line_of: FloatArray | None) -> Computed:
        """Distance along normal / |normal|; without ``by_line_of`` the normal is upright x line."""
        length = _length(normal)
        way = normal / length
        value = np.einsum("mx,mx->m", from_start, way)[:, None]
        by_normal = (from_start - value * way) / length
        if by_line_of is None:
            by_line = cross(by_normal, upright)
        else:
            dot = np.einsum("mx,mx->m", upright, by_normal)[:, None]
            by_line = (
                2 * line * dot
                - np.einsum("mx,mx->m", line, upright)[:, None] * by_normal
                - upright * np.einsum("mx,mx->m", line, by_normal)[:, None]
            )
        return _without_plane(value, np.stack([way, -way - by_line, by_line], axis=1)[:, None])

    level = cross(upright, line)
    return off(level, None), off(cross(line, level), upright)


def from_plane(at: FloatArray, plane: FloatArray) -> Computed:
    """How far the one place is to the left of a plumb plane given by (m, 2) offset and heading."""
    x, y = at[:, 0, 0], at[:, 0, 1] - plane[:, 0]
    sin, cos = np.sin(plane[:, 1]), np.cos(plane[:, 1])
    by_place = np.stack([-sin, cos, np.zeros_like(sin)], axis=-1)
    by_plane = np.stack([-cos, -x * cos - y * sin], axis=-1)
    return Computed((y * cos - x * sin)[:, None], by_place[:, None, None], by_plane[:, None])


def mirrored(at: FloatArray, plane: FloatArray) -> Computed:
    """How far two places are from mirroring each other across a plane: (m, 3) off it, along it and up."""
    x, y = at[..., 0], at[..., 1] - plane[:, :1]
    sin, cos = np.sin(plane[:, 1]), np.cos(plane[:, 1])
    off = y * cos[:, None] - x * sin[:, None]
    ahead = x * cos[:, None] + y * sin[:, None]
    values = np.stack([off.sum(axis=1), ahead[:, 0] - ahead[:, 1], at[:, 0, 2] - at[:, 1, 2]], axis=-1)
    by_place = np.zeros((len(at), 3, 2, 3))
    by_place[:, 0, :, 0], by_place[:, 0, :, 1] = -sin[:, None], cos[:, None]
    for place, sign in ((0, 1.0), (1, -1.0)):
        by_place[:, 1, place, 0], by_place[:, 1, place, 1] = sign * cos, sign * sin
        by_place[:, 2, place, 2] = sign
    by_plane = np.zeros((len(at), 3, 2))
    by_plane[:, 0, 0], by_plane[:, 0, 1] = -2 * cos, -ahead.sum(axis=1)
    by_plane[:, 1, 1] = off[:, 0] - off[:, 1]
    return Computed(values, by_place, by_plane)
