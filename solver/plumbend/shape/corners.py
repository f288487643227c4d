"""From corners to a chain: where neighbouring straights meet, and what must be bent between them."""

from __future__ import annotations

import numpy as np

from plumbend.errors import BadValue
from plumbend.frames import FloatArray, angle_between, cross, frame_along
from plumbend.shape.chain import Chain

NO_BEND = 1e-12
"""A turn smaller than this, radians, has no plane; its rotation is taken as 0."""


def chain_from_corners(corners: FloatArray, radius: float) -> Chain:
    """The chain through corners (n + 2, 3) mm: start end, the corner of each bend, far end.

    Straights may come out negative where the corners leave no room for the bends; whether that can be made
    is not judged here. A rotation is the torsion of four successive corners, clockwise positive looking from
    start to far end (IUPAC Basic Terminology of Stereochemistry, Pure Appl. Chem. 68 (1996) 2193), by atan2.

    Raises:
        BadValue: corners that are not finite, two neighbours in one place, or a leg that folds straight back.
    """
    corners = np.asarray(corners, dtype=np.float64)
    if corners.ndim != 2 or corners.shape[0] < 2 or corners.shape[1] != 3 or not np.isfinite(corners).all():
        raise BadValue("A tube is given by at least two corners, each with three coordinates.")
    legs = np.diff(corners, axis=0)
    lengths = np.linalg.norm(legs, axis=1)
    if not lengths.all():
        k = int(np.argmin(lengths))
        raise BadValue(f"Corners {k + 1} and {k + 2} lie in one place: leave one of them out.")
    u = legs / lengths[:, None]
    n = len(u) - 1
    angles = np.array([angle_between(u[k], u[k + 1]) for k in range(n)])
    if n and angles.max() > np.pi - 1e-6:
        k = int(np.argmax(angles))
        raise BadValue(f"The tube folds straight back at corner {k + 2}: a U-bend has no corner.")
    setback = radius * np.tan(angles / 2)
    straights = lengths.copy()
    straights[:-1] -= setback
    straights[1:] -= setback
    rotations = np.zeros(n)
    plane: FloatArray | None = None
    for k in range(n):
        if angles[k] < NO_BEND:
            continue
        normal = cross(u[k], u[k + 1])
        if plane is not None:
            across = normal - (normal @ u[k]) * u[k]
            rotations[k] = np.arctan2(cross(plane, across) @ u[k], plane @ across)
        # carried through the bend, the plane's normal stays what it is
        plane = normal
    bending = np.flatnonzero(angles >= NO_BEND)
    towards = u[bending[0] + 1] if bending.size else np.zeros(3)
    return Chain(corners[0], frame_along(u[0], towards), straights, rotations, angles, radius)
