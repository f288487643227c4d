"""Program and corners, both ways."""

from __future__ import annotations

import math

from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.shape.chain import Chain
from plumbend.shape.corners import chain_from_corners
from plumbend.shape.program import Program


def program_from_corners(corners: FloatArray, radius: float) -> Program:
    """The bend program of a tube through corners (n + 2, 3) mm, on a die of centreline ``radius`` mm.

    Straights come out negative where the corners leave no room for the bends.

    Raises:
        BadValue: fewer than two corners, two neighbours in one place, a leg that folds straight back, or no radius.
    """
    _check_radius(radius)
    return chain_from_corners(corners, radius).program


def corners_from_program(program: Program, radius: float) -> FloatArray:
    """Corners (n + 2, 3) mm of a program laid out from (0, 0, 0): first leg forward, first bend to the left.

    ``radius`` is that of the bends' centreline, mm. A row is NaN where the corner lies farther than 100 radii from its
    bend, as a U-bend's does.

    Raises:
        BadValue: no radius.
    """
    _check_radius(radius)
    return Chain.from_program(program, radius).corners()


def _check_radius(radius: float) -> None:
    if not 0 < radius < math.inf:
        raise BadValue(f"A bend's centreline radius is more than 0 mm, not {radius:g}.")
