"""First guess of a tube from readings of the tube itself, wherever it lies."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbend.shape.chain import Chain
from plumbend.shape.program import Program
from plumbend.shape.tube_readings import (
    BendAngle,
    BendRotation,
    CornersApart,
    LegsApart,
    LegSlope,
    OutsideToEnd,
    TubeReading,
)

USUAL_ANGLE = np.pi / 2
"""A bend whose angle was not read starts from a right angle."""


def chain_from_readings(readings: Sequence[TubeReading], bends: int, radius: float, od: float) -> Chain:
    """A chain laid out from the numbers that were read, with usual ones in the gaps, all in mm and radians.

    Angles and rotations are taken as read; a distance gives the straight that it mostly measures.
    """
    angles = np.full(bends, USUAL_ANGLE)
    rotations = np.zeros(bends)
    for reading in readings:
        if isinstance(reading, BendAngle):
            angles[reading.bend - 1] = reading.angle
        elif isinstance(reading, BendRotation):
            rotations[reading.bend - 1] = reading.rotation
    setbacks = np.concatenate([[0.0], radius * np.tan(np.minimum(angles, 2.8) / 2), [0.0]])
    straights = np.full(bends + 1, 3 * radius)
    for reading in readings:
        if isinstance(reading, CornersApart) and abs(reading.second - reading.first) == 1:
            leg = min(reading.first, reading.second)
            straights[leg] = reading.distance - setbacks[leg] - setbacks[leg + 1]
        elif isinstance(reading, LegsApart) and abs(reading.second - reading.first) == 2:
            between = min(reading.first, reading.second)
            straights[between] = reading.distance - reading.extra - setbacks[between] - setbacks[between + 1]
        elif isinstance(reading, OutsideToEnd):
            end = bends if reading.far else 0
            beside = setbacks[bends] if reading.far else setbacks[1]
            straights[end] = reading.distance - od / 2 - beside
    straights = np.maximum(straights, 1.0)
    return Chain.from_program(Program(straights, rotations, angles), radius)


def bends_of_readings(readings: Sequence[TubeReading]) -> int:
    """Fewest bends of a tube that has all the bends, legs and corners that were read."""
    bends = 0
    for reading in readings:
        if isinstance(reading, BendAngle | BendRotation):
            bends = max(bends, reading.bend)
        elif isinstance(reading, CornersApart | LegsApart):
            bends = max(bends, reading.first - 1, reading.second - 1)
        elif isinstance(reading, LegSlope | OutsideToEnd):
            bends = max(bends, reading.leg - 1)
    return bends
