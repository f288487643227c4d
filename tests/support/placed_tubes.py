"""Tubes measured from the bases of a vehicle, and the fit of readings and tube in one problem."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from scipy.optimize import least_squares

from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import Adjusted, adjust
from plumbend.measuring.places import Place
from plumbend.measuring.readings import Reading
from plumbend.shape.chain import Chain, layout
from plumbend.shape.fit import Fit, FormingLimits
from plumbend.shape.known_together import PlacedBy
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point, PointKind
from plumbend.shape.structure import fit_measured
from plumbend.shape.tube_readings import BendAngle, LegSlope, TubeReading
from support.frames import PLACES, TRUE, drop, height, read, tape, tapes
from support.tubes import OD, RADIUS, clear_of_itself, random_tube

Named = tuple[str, PointKind, int | None]
"""Name, kind and leg of a point."""

LIMITS = FormingLimits(RADIUS)
BASES = tuple(place.name for place in PLACES[:4])


@dataclass(frozen=True, slots=True, eq=False)
class PlacedTube:
    """A measured tube: places, readings as read, its points (name, what, leg), and what came of them."""

    places: tuple[Place, ...]
    readings: tuple[Reading, ...]
    points: tuple[Named, ...]
    of_tube: tuple[TubeReading, ...]
    adjusted: Adjusted
    fit: Fit

    @property
    def placed_by(self) -> PlacedBy:
        """The readings that place its points: all of them."""
        return PlacedBy(self.adjusted, frozenset(name for name, _, _ in self.points))

    def with_reading(self, reading: Reading) -> PlacedTube:
        """The same with a reading of the vehicle more, adjusted and fitted again."""
        return solved(self.places, (*self.readings, reading), self.points, self.of_tube, self.fit.chain.bends)

    def with_tube_reading(self, reading: TubeReading) -> PlacedTube:
        """The same with a reading of the tube itself more, fitted again."""
        return solved(self.places, self.readings, self.points, (*self.of_tube, reading), self.fit.chain.bends)


def solved(
    places: tuple[Place, ...],
    readings: tuple[Reading, ...],
    points: tuple[Named, ...],
    of_tube: tuple[TubeReading, ...],
    bends: int,
) -> PlacedTube:
    """The whole way, in two stages: places by the readings, then the tube through its points."""
    adjusted = adjust(places, readings)
    assert adjusted.converged
    assert not adjusted.mirrors
    at, joint = adjusted.joint([name for name, _, _ in points])
    placed = tuple(
        Point(name, what, at[i], joint[3 * i : 3 * i + 3, 3 * i : 3 * i + 3], leg)
        for i, (name, what, leg) in enumerate(points)
    )
    fit = fit_measured(Measured(OD, placed, of_tube, joint), bends, LIMITS)
    assert fit is not None
    assert fit.converged
    return PlacedTube(places, readings, points, of_tube, adjusted, fit)


def placed_tube(rng: np.random.Generator, bends: int) -> PlacedTube:
    """A random tube over four bases, two or three places on each leg, three or four readings of each place."""
    tube = _over_the_floor(rng, bends)
    true = {name: TRUE[name] for name in BASES}
    points: list[Named] = []
    for k, (start, stop) in enumerate(tube.tangents()):
        parts = [0.2, 0.8] if rng.random() < 0.6 else [0.1, 0.5, 0.9]
        for j, part in enumerate(parts):
            end = (k == 0 and j == 0) or (k == tube.bends and j == len(parts) - 1)
            name = f"P{len(points)}"
            true[name] = start + (round(part) if end else part) * (stop - start)
            points.append((name, "end" if end else "centre", None if end else k + 1))
    readings = [*tapes("B2-B1 B3-B2 B4-B3 B4-B1 B3-B1 B4-B2", true), *(height(name, true) for name in BASES[1:])]
    for name, _, _ in points:
        bases = rng.permutation(BASES).tolist()
        own = [drop(name, true), height(name, true)] if rng.random() < 0.7 else [height(name, true)]
        readings += [*own, *(tape(name, base, true) for base in bases[: 4 - len(own)])]
    readings = [read(reading, rng) for reading in readings]
    of_tube = (
        BendAngle(1, float(tube.angles[0]), 0.012),
        LegSlope(1, float(np.arctan2(tube.frame[2, 0], np.hypot(*tube.frame[:2, 0]))), 0.012),
    )
    places = (*PLACES[:4], *(Place(name, hints=("above",)) for name, _, _ in points))
    return solved(places, tuple(readings), tuple(points), of_tube if rng.random() < 0.5 else (), bends)


def _over_the_floor(rng: np.random.Generator, bends: int) -> Chain:
    """A tube that does not run into itself, over the bases, within three metres of their middle."""
    while True:
        tube = random_tube(rng, bends, angles=(20.0, 80.0), straights=(200.0, 500.0))
        places, _ = tube.polyline(1.0)
        tube = replace(tube, origin=tube.origin + np.array([750.0, 600.0, 900.0]) - places.mean(axis=0))
        places, _ = tube.polyline(1.0)
        if places[:, 2].min() > 150 and abs(tube.frame[2, 0]) < 0.8 and clear_of_itself(tube):
            return tube


class OneStage:
    """Readings and tube in one problem, whose unknowns are the tube, the bases, and how far along it each point lies.

    Attributes:
        at: (u,) the unknowns where the two stages ended or, once settled, at the least sum of squares.
        information: (u, u) there; its inverse is their covariance.
    """

    def __init__(self, tube: PlacedTube) -> None:
        self.tube, self._fit = tube, tube.fit
        self._names = [place.name for place in tube.places]
        self._size = layout(self._fit.chain.bends).size
        self._free = [c for c in tube.adjusted.network.free if c < 12]  # the bases come first
        self._on_leg = [(name, leg - 1) for name, _, leg in tube.points if leg is not None]
        chain = self._fit.chain
        along = [
            (tube.adjusted.place(name) - chain.origins[2 * k]) @ chain.frames[2 * k, :, 0] for name, k in self._on_leg
        ]
        self._go_to(np.concatenate([np.zeros(self._size), tube.adjusted.state[self._free], along]))

    def settle(self) -> None:
        """Go to the least sum of squares, by scipy's routine."""
        self._go_to(least_squares(self.misses, self.at, jac=self.rows, x_scale="jac", xtol=1e-12).x)

    def _go_to(self, at: FloatArray) -> None:
        self.at = at
        rows = self.rows(at)
        self.information: FloatArray = rows.T @ rows

    def chain(self, unknowns: FloatArray) -> Chain:
        """The tube."""
        return self._fit.chain.moved(unknowns[: self._size], self._fit.evidence.reference)

    def places(self, unknowns: FloatArray) -> FloatArray:
        """(m, 3) mm, of bases and points in their order."""
        chain = self.chain(unknowns)
        bases = np.array([[part or 0.0 for part in place.at] for place in self.tube.places[:4]])
        bases.ravel()[self._free] = unknowns[self._size : self._size + len(self._free)]
        on_legs = [
            chain.origins[2 * k] + along * chain.frames[2 * k, :, 0]
            for (_, k), along in zip(self._on_leg, unknowns[self._size + len(self._free) :], strict=True)
        ]
        return np.array([*bases, chain.origin, *on_legs, chain.far_end])

    def named(self, unknowns: FloatArray) -> dict[str, FloatArray]:
        """The places by name."""
        return dict(zip(self._names, self.places(unknowns), strict=True))

    def misses(self, unknowns: FloatArray) -> FloatArray:
        """Of all readings, less what they should be, over their accuracies."""
        at = self.named(unknowns)
        of_vehicle = [-reading.residual(at, {}) / reading.doubt for reading in self.tube.readings]
        return np.concatenate([*of_vehicle, self._of_tube(unknowns)])

    def _of_tube(self, unknowns: FloatArray) -> FloatArray:
        chain = self.chain(unknowns)
        motion = chain.motion(self._fit.evidence.reference)
        return np.array([-reading.residual(chain, motion)[0] / reading.sd for reading in self.tube.of_tube])

    def rows(self, unknowns: FloatArray) -> FloatArray:
        """Derivatives of the misses by the unknowns: of the places by differences."""
        of_places = differences(lambda x: self.places(x).ravel(), unknowns).reshape(-1, 3, unknowns.size)
        of_vehicle = [
            self.row(reading, of_places, self.named(unknowns)) / reading.doubt for reading in self.tube.readings
        ]
        of_tube = differences(self._of_tube, unknowns).reshape(-1, unknowns.size)
        return np.concatenate([*of_vehicle, of_tube])

    def row(self, reading: Reading, of_places: FloatArray, at: dict[str, FloatArray]) -> FloatArray:
        """(c, u) derivatives of a reading, taken or not, from those of the places (m, 3, u)."""
        by_place = reading.computed(at, {}).by_place[0]
        own = of_places[[self._names.index(name) for name in reading.places]]
        row: FloatArray = np.einsum("ckx,kxu->cu", by_place, own)
        return row

    def slopes(self, numbers: Callable[[FloatArray], FloatArray]) -> FloatArray:
        """Derivatives (k, u) of numbers worked out from the unknowns."""
        return differences(numbers, self.at)


def differences(function: Callable[[FloatArray], FloatArray], at: FloatArray, step: float = 1e-4) -> FloatArray:
    """Derivatives by central differences."""
    steps = step * np.eye(at.size)
    slopes: FloatArray = np.array([(function(at + by) - function(at - by)) / (2 * step) for by in steps]).T
    return slopes
