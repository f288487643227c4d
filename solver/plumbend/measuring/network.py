"""The network: all readings between all places as one problem of weighted least squares.

Its state is one row of numbers: three coordinates of each place in their order, then offset and heading of each
plane. Some are held as given; the *free* ones are what :func:`plumbend.estimate.minimise.minimise` moves.
"""

from __future__ import annotations

import copy
from collections.abc import Container, Hashable, Sequence
from dataclasses import replace
from typing import Any, Self

import numpy as np
import numpy.typing as npt

from plumbend.errors import BadValue
from plumbend.estimate.minimise import Minimum, minimise
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray, IntArray
from plumbend.measuring.intersect import Answer
from plumbend.measuring.places import AXES, CentrePlane, Place
from plumbend.measuring.readings import Curved, Linear, Reading
from plumbend.measuring.relations import Coordinate
from plumbend.records import record
from plumbend.units import Axis

_MOST_ITERATIONS = 40
"""Readings that fit settle within ten; what takes longer is a hollow that wrong ones made."""

FAR_BEHIND = 100.0
"""A sum of squares larger than another by this is far behind it, whatever is compared."""


@record(eq=False)
class _Group:
    """Readings of the class of ``kind``.

    Rows (m, c), columns of places (m, k, 3) and of planes (m, 2), touched offsets (m, k, 3).
    """

    kind: Curved
    rows: IntArray
    place_columns: IntArray
    plane_columns: IntArray | None
    offsets: FloatArray

    def only(self, left: npt.NDArray[np.bool_], row_now: IntArray) -> _Group:
        """Those of the readings that are ``left`` (m,), where the rows are now."""
        return _Group(
            self.kind,
            row_now[self.rows[left]],
            self.place_columns[left],
            None if self.plane_columns is None else self.plane_columns[left],
            self.offsets[left],
        )


class Network:
    """Readings compiled over places and planes.

    Attributes:
        places, planes, readings: as handed over; a coordinate that is given with a doubt is a reading more.
        owner: (M,) index of the reading that each row belongs to.
        measured, sd: (M,) mm.
        given: (p,) the state with what is given, zeros elsewhere.
        held: (p,) True for what stays as given.
        free: indices in the state of what is to be found.
        met: answers that readings of one place met, by what they were met from; a network ``without`` some readings
            shares them, for most places are where they were.
    """

    def __init__(
        self, places: Sequence[Place], readings: Sequence[Reading], planes: Sequence[CentrePlane] = ()
    ) -> None:
        self.places, self.planes = tuple(places), tuple(planes)
        self.readings: tuple[Reading, ...] = (*readings, *_as_given(places))
        self._read = len(readings)
        self.met: dict[Hashable, list[Answer] | None] = {}
        self.column = {place.name: 3 * i for i, place in enumerate(self.places)}
        self.plane_column = {plane.name: 3 * len(self.places) + 2 * i for i, plane in enumerate(self.planes)}
        _check_names(self)
        size = 3 * len(self.places) + 2 * len(self.planes)
        self.given = np.zeros(size)
        self.held = held = np.zeros(size, dtype=bool)
        for place in self.places:
            at = self.column[place.name]
            self.given[at : at + 3] = [0.0 if part is None else part for part in place.at]
            held[at : at + 3] = place.held
        for plane in self.planes:
            at = self.plane_column[plane.name]
            self.given[at : at + 2] = plane.offset or 0.0, plane.heading or 0.0
            held[at : at + 2] = plane.offset is not None, plane.heading is not None
        self.free: IntArray = np.flatnonzero(~held)
        components = [reading.components for reading in self.readings]
        starts = np.cumsum([0, *components])
        self.owner: IntArray = np.repeat(np.arange(len(components)), components)
        self.measured = np.array([number for reading in self.readings for number in reading.measured()], dtype=float)
        self.sd = np.repeat(np.array([reading.doubt for reading in self.readings], dtype=float), components)
        self._fixed_rows = np.zeros((self.measured.size, size))
        self._fixed_part = np.zeros(self.measured.size)
        curved: dict[type[Curved], list[int]] = {}
        for i, reading in enumerate(self.readings):
            if isinstance(reading, Linear):
                coefficients = reading.coefficients()
                rows = slice(starts[i], starts[i + 1])
                for k, name in enumerate(reading.places):
                    at = self.column[name]
                    self._fixed_rows[rows, at : at + 3] = coefficients[:, k]
                self._fixed_part[rows] = np.einsum("ckx,kx->c", coefficients, reading.offsets())
            elif isinstance(reading, Curved):
                curved.setdefault(type(reading), []).append(i)
        self._groups = [self._group(members, starts) for members in curved.values()]

    def _group(self, members: list[int], starts: IntArray) -> _Group:
        readings = [reading for reading in (self.readings[i] for i in members) if isinstance(reading, Curved)]
        first = np.array([[self.column[name] for name in reading.places] for reading in readings])
        planes = [self.plane_column[reading.plane] for reading in readings if reading.plane is not None]
        return _Group(
            readings[0],
            starts[members][:, None] + np.arange(readings[0].components),
            first[..., None] + np.arange(3),
            np.array(planes)[:, None] + np.arange(2) if planes else None,
            np.array([reading.offsets() for reading in readings]),
        )

    def without(self, out: Container[int]) -> Self:
        """The network without some readings, by index; a coordinate given with a doubt is then to be found."""
        left = np.array([i not in out for i in range(len(self.readings))], dtype=bool)
        if left.all():
            return self
        rest = copy.copy(self)
        rest.readings = tuple(reading for reading, stays in zip(self.readings, left, strict=True) if stays)
        dropped = {
            (reading.point, reading.axis)
            for reading, stays in zip(self.readings[self._read :], left[self._read :], strict=True)
            if isinstance(reading, Coordinate) and not stays
        }
        rest.places = tuple(_without_given(place, dropped) for place in self.places)
        rest._read = int(left[: self._read].sum())
        rows = left[self.owner]
        rest.owner = (np.cumsum(left) - 1)[self.owner[rows]]
        rest.measured, rest.sd = self.measured[rows], self.sd[rows]
        rest._fixed_rows, rest._fixed_part = self._fixed_rows[rows], self._fixed_part[rows]
        row_now = np.cumsum(rows) - 1
        groups = (group.only(rows[group.rows[:, 0]], row_now) for group in self._groups)
        rest._groups = [group for group in groups if len(group.rows)]
        return rest

    def rows(self, state: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Computed numbers (M,) in mm and their derivatives (M, p) by the whole state (p,)."""
        values = self._fixed_rows @ state + self._fixed_part
        derivatives = self._fixed_rows.copy()
        for group in self._groups:
            at = state[group.place_columns] + group.offsets
            no_plane = np.zeros((len(at), 2))
            computed = group.kind.formula(at, no_plane if group.plane_columns is None else state[group.plane_columns])
            values[group.rows] = computed.values
            derivatives[group.rows[:, :, None, None], group.place_columns[:, None]] = computed.by_place
            if group.plane_columns is not None:
                derivatives[group.rows[:, :, None], group.plane_columns[:, None]] = computed.by_plane
        return values, derivatives

    def whole(self, free: FloatArray) -> FloatArray:
        """The whole state (p,) with ``free`` numbers in their places."""
        state = self.given.copy()
        state[self.free] = free
        return state

    @property
    def hopeless(self) -> float:
        """A sum of squares so large that no readings as good as they are said to be could leave it."""
        return FAR_BEHIND + 3 * self.measured.size

    def settle(self, start: FloatArray, hopeless: float = np.inf) -> Minimum[FloatArray]:
        """The least sum of squares near a whole state (p,); its own state has the free numbers only.

        What stays above ``hopeless`` is not followed to the end.
        """
        unbounded = np.full(self.free.size, np.inf)
        return minimise(
            _Free(self),
            start[self.free],
            -unbounded,
            unbounded,
            most_iterations=_MOST_ITERATIONS,
            hopeless=hopeless,
        )


class _Free:
    """The network as a problem in its free numbers."""

    def __init__(self, network: Network) -> None:
        self.network = network

    def values(self, state: FloatArray) -> FloatArray:
        """The free numbers are their own coordinates."""
        return state

    def move(self, state: FloatArray, step: FloatArray) -> FloatArray:
        """A plain sum."""
        return state + step

    def weigh(self, state: FloatArray) -> None:
        """Accuracies are the same everywhere."""

    def normal(self, state: FloatArray, weights: None) -> Normal:
        """Normal equations of all readings, each weighed by its accuracy."""
        net = self.network
        values, derivatives = net.rows(net.whole(state))
        return Normal.from_rows((values - net.measured) / net.sd, derivatives[:, net.free] / net.sd[:, None])


def _as_given(places: Sequence[Place]) -> list[Reading]:
    """Coordinates that are given with a doubt, as readings."""
    return [
        Coordinate(place.name, axis, at, sd=sd, typed=f"{place.name} as given, {axis}")
        for place in places
        for axis, at, sd in zip(AXES, place.at, place.sd, strict=True)
        if at is not None and sd > 0
    ]


def _without_given(place: Place, dropped: Container[tuple[str, Axis]]) -> Place:
    """The place without those of its given coordinates that are ``dropped``, by name and axis."""
    stays = [(place.name, axis) not in dropped for axis in AXES]
    if all(stays):
        return place
    at: Any = tuple(part if one else None for part, one in zip(place.at, stays, strict=True))
    sd: Any = tuple(part if one else 0.0 for part, one in zip(place.sd, stays, strict=True))
    return replace(place, at=at, sd=sd)


def _check_names(network: Network) -> None:
    if len(network.column) < len(network.places):
        names = [place.name for place in network.places]
        twice = next(name for name in names if names.count(name) > 1)
        raise BadValue(f"Two places are called {twice}. Give each its own name.")
    for reading in network.readings:
        for name in reading.places:
            if name not in network.column:
                raise BadValue(f"{reading.title} names {name}, which is neither a base nor a point.")
        if reading.plane is not None and reading.plane not in network.plane_column:
            raise BadValue(f"{reading.title} needs the {reading.plane}, which the job does not have.")
