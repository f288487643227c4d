"""Feet: the places on the centreline nearest to measured points.

By vectors throughout: an offset is a projection, never the root of a difference of squares, and an angle
comes from atan2, never from an arccosine.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from plumbend.frames import FloatArray, IntArray
from plumbend.records import record
from plumbend.shape.chain import Chain

Allowed = npt.NDArray[np.bool_]
"""(m, 2n + 1) True where a point may have its foot on an element."""


@record(eq=False)
class Feet:
    """Feet of m points.

    Attributes:
        element: (m,) index of the element.
        place: (m, 3) mm.
        tangent: (m, 3) unit vectors along the tube there.
        along: (m,) how far from the element's start: mm on a straight, radians on an arc.
        off: (m, 3) mm, from foot to point.
        beyond: (m,) mm by which the foot lies beyond the tube's ends, 0 within.
        curvature: (m,) 1/mm, 0 on straights.
        inward: (m, 3) unit vectors toward the centre of an arc; toward the next bend's side on straights.
    """

    element: IntArray
    place: FloatArray
    tangent: FloatArray
    along: FloatArray
    off: FloatArray
    beyond: FloatArray
    curvature: FloatArray
    inward: FloatArray


def allowed_elements(legs: list[int | None], bends: int) -> Allowed | None:
    """(m, 2n + 1) for points of told ``legs`` (1 to n + 1: bend leg - 1, straight leg, bend leg); None if none is."""
    if all(leg is None for leg in legs):
        return None
    allowed = np.zeros((len(legs), 2 * bends + 1), dtype=bool)
    for row, leg in zip(allowed, legs, strict=True):
        row[slice(None) if leg is None else slice(max(2 * leg - 3, 0), 2 * leg)] = True
    return allowed


def feet(chain: Chain, points: FloatArray, allowed: Allowed | None = None, element: IntArray | None = None) -> Feet:
    """Nearest feet of ``points`` (m, 3), the first and last straight prolonged beyond the ends.

    Args:
        chain: the tube.
        points: (m, 3) mm.
        allowed: elements that each point may have its foot on; None for all.
        element: (m,) elements on which to hold the feet instead of seeking the nearest.
    """
    n = chain.bends
    frames, origins = chain.frames, chain.origins
    if element is None:
        element = _nearest_element(chain, points, allowed)
    frame = frames[element]
    local = np.matmul((points - origins[element])[:, None, :], frame)[:, 0, :]
    is_arc = element % 2 == 1
    last = 2 * n
    length = np.maximum(chain.straights, 0.0)[element // 2]
    first_end = np.where(element == 0, -np.inf, 0.0)
    far_end = np.where(element == last, np.inf, length)
    along = np.clip(local[:, 0], first_end, far_end)
    beyond = np.where(element == 0, np.maximum(-along, 0.0), 0.0)
    beyond = np.maximum(beyond, np.where(element == last, along - length, 0.0))
    foot = np.zeros_like(local)
    foot[:, 0] = along
    tangent = np.zeros_like(local)
    tangent[:, 0] = 1.0
    curvature = np.zeros(len(points))
    inward = np.zeros_like(local)
    inward[:, 1] = 1.0
    if is_arc.any():
        phi = _arc_angle(local[is_arc], chain.angles[element[is_arc] // 2])
        sine, cosine = np.sin(phi), np.cos(phi)
        foot[is_arc, 0], foot[is_arc, 1] = chain.radius * sine, -chain.radius * cosine
        tangent[is_arc, 0], tangent[is_arc, 1] = cosine, sine
        inward[is_arc, 0], inward[is_arc, 1] = -sine, cosine
        along[is_arc] = phi
        curvature[is_arc] = 1 / chain.radius
        beyond[is_arc] = 0.0
    turned = np.swapaxes(frame, 1, 2)
    off = np.matmul((local - foot)[:, None, :], turned)[:, 0, :]
    return Feet(
        element,
        points - off,
        np.matmul(tangent[:, None, :], turned)[:, 0, :],
        along,
        off,
        beyond,
        curvature,
        np.matmul(inward[:, None, :], turned)[:, 0, :],
    )


def _arc_angle(local: FloatArray, angle: FloatArray) -> FloatArray:
    """Angle (m,) along arcs of ``angle`` (m,), nearest to places (m, 3) local to the arc's centre, within it.

    Measured from the arc's middle, so that the cut of atan2 lies opposite to it.
    """
    half = angle / 2
    sine, cosine = np.sin(half), np.cos(half)
    x, y = local[:, 0], -local[:, 1]
    return np.clip(half + np.arctan2(x * cosine - y * sine, y * cosine + x * sine), 0.0, angle)


def _nearest_element(chain: Chain, points: FloatArray, allowed: Allowed | None) -> IntArray:
    """(m,) the element whose nearest place is nearest; of equals the first.

    The end straights count as far as they run: prolonged they may pass through the rest of the tube, and would take
    points from it.
    """
    if chain.bends == 0:
        return np.zeros(len(points), dtype=np.int64)
    squares = squares_from_elements(chain, points)
    if allowed is not None:
        squares[~allowed] = np.inf
    nearest: IntArray = np.argmin(squares, axis=1).astype(np.int64)
    return nearest


def squares_from_elements(chain: Chain, points: FloatArray, *, prolonged: bool = False) -> FloatArray:
    """(m, 2n + 1) mm^2: squares of the distances of ``points`` (m, 3) mm from the elements as far as they run, or the
    end straights ``prolonged`` beyond the ends."""
    r = chain.radius
    apart = points[:, None, :] - chain.origins
    local = np.einsum("mej,ejk->mek", apart, chain.frames)
    squares = np.empty(local.shape[:2])
    straight = local[:, ::2]
    first, last = np.zeros(chain.bends + 1), np.maximum(chain.straights, 0.0)
    if prolonged:
        first[0], last[-1] = -np.inf, np.inf
    over = straight[:, :, 0] - np.clip(straight[:, :, 0], first, last)
    squares[:, ::2] = over**2 + straight[:, :, 1] ** 2 + straight[:, :, 2] ** 2
    arc = local[:, 1::2]
    half = chain.angles / 2
    sine, cosine = np.sin(half), np.cos(half)
    # turned so that the arc's middle lies at angle 0
    x = arc[:, :, 0] * cosine + arc[:, :, 1] * sine
    y = arc[:, :, 0] * sine - arc[:, :, 1] * cosine
    phi = np.clip(np.arctan2(x, y), -half, half)
    squares[:, 1::2] = (x - r * np.sin(phi)) ** 2 + (y - r * np.cos(phi)) ** 2 + arc[:, :, 2] ** 2
    return squares
