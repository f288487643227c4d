"""What a man could still measure of a tube: places on its legs and ends, and readings of the tube itself."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import combinations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.accuracies import ANGLE_BY_FINDER, ROTATION_BY_FINDER, TAPED_LENGTH, TYPED_POINT
from plumbend.measuring.further import Instruments, further_readings, rows_of_all
from plumbend.measuring.readings import Reading
from plumbend.records import record
from plumbend.shape.chain import Chain
from plumbend.shape.evidence import Evidence
from plumbend.shape.feet import allowed_elements, feet
from plumbend.shape.fit import Fit
from plumbend.shape.kinds import CentrePoints, end_moves
from plumbend.shape.known_together import PlacedBy
from plumbend.shape.points import Point
from plumbend.shape.tube_readings import BendAngle, BendRotation, CornersApart, LegSlope, TubeReading

STEEP = math.radians(70.0)
"""No slope is read of a leg that is steeper."""

_TAPED_APART = 50.0
"""mm; corners nearer to each other than this are not taped."""

_STANDS = ((0.1, "near its start"), (0.5, "in its middle"), (0.9, "near its far end"))
"""Parts of a straight where another place could be measured."""


@record(eq=False)
class Further:
    """One measurement that could be taken.

    Attributes:
        words: what it is, as in "the angle of bend 2".
        of: what it is of; of several measurements of one thing, such as places on one leg, one is enough.
        rows: (c, p) derivatives by the tube's numbers, or (c, p + q) by the state of the vehicle's places as well.
        own: (c, c) its own covariance.
        measurement: itself, as it would show were everything where it is taken to be.
    """

    words: str
    of: str
    rows: FloatArray
    own: FloatArray
    measurement: Reading | TubeReading | Point


def point_sd(evidence: Evidence) -> float:
    """One standard deviation in mm of one more point: as good as those measured so far, else as is usual."""
    if not evidence.points:
        return TYPED_POINT
    return math.sqrt(float(np.mean([np.trace(point.cov) / 3 for point in evidence.points])))


def further_of_tube(
    fit: Fit, placed: frozenset[str], ends: tuple[str, str], at_hand: bool | None = None
) -> list[Further]:
    """What could still be measured of a tube itself; arguments as of :func:`plumbend.shape.next_reading.next_readings`.

    Points ``placed`` by readings of the vehicle are left to these.
    """
    if at_hand is None:
        at_hand = bool(fit.evidence.readings) or fit.evidence.scan is not None or not placed
    points = further_points(fit, point_sd(fit.evidence), placed, ends) if fit.evidence.points else []
    return [*points, *(readings_of_tube(fit, placed, ends) if at_hand else [])]


def further_points(fit: Fit, sd: float, placed: frozenset[str], ends: tuple[str, str]) -> list[Further]:
    """Another place on every leg, and the ends, but for those that readings of the vehicle place.

    Args:
        fit: the tube.
        sd: one standard deviation of every point, mm.
        placed: names of the points that readings of the vehicle place.
        ends: what the ends are called, start and far.
    """
    chain, motion = fit.chain, fit.chain.motion(fit.evidence.reference)
    own = np.eye(3) * sd**2
    stands = [(k, part, where) for k in range(chain.bends + 1) for part, where in _stands(chain.straights[k], fit)]
    starts, along = chain.tangents()[:, 0], chain.frames[::2, :, 0]
    points = [
        Point("", "centre", starts[k] + part * chain.straights[k] * along[k], own, leg=k + 1) for k, part, _ in stands
    ]
    jacobian = CentrePoints(points, list(range(len(points))), chain.bends).rows(chain, motion, None).jacobian
    found = [
        Further(f"another place on leg {k + 1}, {where}", f"leg {k + 1}", rows, own[:2, :2], point)
        for (k, _, where), rows, point in zip(stands, jacobian, points, strict=True)
    ]
    for far, name in enumerate(ends):
        typed = _end_point(fit.evidence, far=bool(far))
        if typed is None or typed.name not in placed:
            at, rows = end_moves(chain, motion, far=bool(far))
            words = f"where the {name} end is" if typed is None else f"where the {name} end is, once more"
            found.append(Further(words, words, rows, own, Point("", "end", at, own)))
    return found


def _stands(straight: float, fit: Fit) -> tuple[tuple[float, str], ...]:
    """Parts of a straight where a place could be measured; of a short one its middle alone."""
    return _STANDS if straight > 3 * fit.evidence.od else _STANDS[1:2]


def _end_point(evidence: Evidence, *, far: bool) -> Point | None:
    """The point that says where an end is: the far one, unless it comes first."""
    ends = [point for i, point in enumerate(evidence.points) if point.what == "end" and (i > 0) == far]
    return ends[0] if ends else None


def readings_of_tube(fit: Fit, placed: frozenset[str], ends: tuple[str, str]) -> list[Further]:
    """Angles, turns, slopes and tapes from corner to corner that were not read yet of a tube that is at hand.

    A tape from end to end is one of the vehicle where these are ``placed`` by its readings.
    """
    chain, motion = fit.chain, fit.chain.motion(fit.evidence.reference)
    taken = {_subject(reading) for reading in fit.evidence.readings}
    end_points = [_end_point(fit.evidence, far=far) for far in (False, True)]
    if all(point is not None and point.name in placed for point in end_points):
        taken.add((CornersApart, frozenset((0, chain.bends + 1))))
    found = []
    for words, reading in _of_tube(chain, ends, in_place=bool(fit.evidence.points)):
        if _subject(reading) not in taken:
            _, row = reading.residual(chain, motion)
            found.append(Further(words, words, row[None], np.eye(1) * reading.sd**2, reading))
    return found


def _of_tube(chain: Chain, ends: tuple[str, str], *, in_place: bool) -> Iterator[tuple[str, TubeReading]]:
    """Every reading in words; slopes only of a tube that is ``in_place``."""
    for k, angle in enumerate(chain.angles.tolist()):
        yield f"the angle of bend {k + 1}", BendAngle(k + 1, angle, ANGLE_BY_FINDER)
    for k, turn in enumerate(chain.rotations.tolist()[1:]):
        yield f"the turn from bend {k + 1} to bend {k + 2}", BendRotation(k + 2, turn, ROTATION_BY_FINDER)
    for k, u in enumerate(chain.frames[::2, :, 0].tolist() if in_place else []):
        slope = math.atan2(u[2], math.hypot(u[0], u[1]))
        if abs(slope) < STEEP:
            yield f"the slope of leg {k + 1}", LegSlope(k + 1, slope, ANGLE_BY_FINDER)
    names = [f"the {ends[0]} end", *(f"the corner of bend {k + 1}" for k in range(chain.bends)), f"the {ends[1]} end"]
    corners = chain.corners()
    for i, j in combinations(range(len(corners)), 2):
        apart = float(np.linalg.norm(corners[j] - corners[i]))
        if apart > _TAPED_APART:  # not a corner that is too far off either: it has no place
            yield f"a tape from {names[i]} to {names[j]}", CornersApart(i, j, apart, TAPED_LENGTH)


def _subject(reading: TubeReading) -> tuple[type[TubeReading], frozenset[int]]:
    """What a reading is of: its kind and its bends, legs or corners."""
    numbers = (getattr(reading, name, None) for name in ("bend", "leg", "first", "second"))
    return type(reading), frozenset(number for number in numbers if number is not None)


def further_between(fit: Fit, placed_by: PlacedBy, instruments: Instruments) -> list[Further]:
    """Readings between places of the vehicle; levels between two points of the tube on one leg."""
    readings = further_readings(placed_by.adjusted, instruments, _on_one_leg(fit, placed_by.points))
    before = fit.evidence.size
    return [
        Further(
            reading.words,
            reading.words,
            np.concatenate([np.zeros((len(rows), before)), rows], axis=1),
            np.eye(len(rows)) * (reading.doubt * placed_by.scale) ** 2,
            reading,
        )
        for reading, rows in zip(readings, rows_of_all(placed_by.adjusted, readings), strict=True)
    ]


def _on_one_leg(fit: Fit, placed: frozenset[str]) -> set[frozenset[str]]:
    """Pairs of points, by name, that lie on one straight."""
    points = [point for point in fit.evidence.points if point.name in placed and point.what != "corner"]
    if not points:
        return set()
    at = np.array([point.at for point in points])
    elements = feet(fit.chain, at, allowed_elements([point.leg for point in points], fit.chain.bends)).element
    return {
        frozenset((points[i].name, points[j].name))
        for i, j in combinations(range(len(points)), 2)
        if elements[i] == elements[j] and elements[i] % 2 == 0
    }
