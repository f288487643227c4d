"""Where the places are, roughly, from the readings alone.

One place after another is put where its readings to places already found meet, the surest first. Where two answers
meet them about as well, a hint decides, else one is taken and the place is *undecided*. What hangs on tapes alone,
with too few of them to places already found, is laid out by the tapes in a few attitudes, each a start of its own.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.intersect import Answer, Bounds, meet, nearest_within
from plumbend.measuring.layout import attitudes, plane_through
from plumbend.measuring.lengths import Tape
from plumbend.measuring.network import Network
from plumbend.measuring.places import WAY_OF_HINT, Place
from plumbend.measuring.readings import Linear, Reading
from plumbend.measuring.relations import SymmetricPair
from plumbend.records import record

_AS_GIVEN = 1e-3
"""mm; a given coordinate counts for more than any reading."""


@record(eq=False)
class Guess:
    """Where to start.

    Attributes:
        state: (p,) of the network.
        undecided: places for which a mirror answer met their readings about as well, without a hint.
    """

    state: FloatArray
    undecided: tuple[str, ...]


@record
class Manner:
    """How a first guess is made.

    Attributes:
        turned: undecided places that are put at their mirror answers.
        without: readings, by index, that are not used.
        hinted: whether hints count.
        wary: whether a reading may be wrong by an inch or more, so that it must not choose between mirror answers.
    """

    turned: frozenset[str] = frozenset()
    without: frozenset[int] = frozenset()
    hinted: bool = True
    wary: bool = False

    def alike(self, answers: list[Answer]) -> bool:
        """Whether two answers, the better first, fit about as well: places are not settled yet."""
        better, worse = answers
        return worse.chi2 < (25 * better.chi2 + 1000 if self.wary else 4 * better.chi2 + 100)


PLAIN = Manner()


def first_guesses(network: Network, manner: Manner = PLAIN) -> list[Guess]:
    """Starts for the network, one or several."""
    growth = _Growth(network, manner)
    growth.grow()
    if growth.stuck:
        laid_out = attitudes(network, growth.at)
        if laid_out:
            return [_Growth(network, manner, {**growth.at, **places}).finished() for places in laid_out]
    return [growth.finished()]


class _Growth:
    """Places found so far: ``at`` by name, and ``plane_at`` of planes."""

    def __init__(self, network: Network, manner: Manner, found: Mapping[str, FloatArray] | None = None) -> None:
        self.network, self.manner = network, manner
        self.at = {p.name: np.array(p.at, dtype=float) for p in network.places if None not in p.at} | dict(found or {})
        self.plane_at = {
            plane.name: np.array([plane.offset, plane.heading], dtype=float)
            for plane in network.planes
            if plane.offset is not None and plane.heading is not None
        }
        self.missing = [place for place in network.places if place.name not in self.at]
        self.undecided: list[str] = []
        self.of_place: dict[str, list[Reading]] = {place.name: [] for place in network.places}
        self.tape_of_pair: dict[frozenset[str], float] = {}
        for i, reading in enumerate(network.readings):
            if i in manner.without:
                continue
            for name in reading.places:
                self.of_place[name].append(reading)
            if isinstance(reading, Tape):
                self.tape_of_pair[frozenset(reading.places)] = reading.measured()[0]

    @property
    def stuck(self) -> bool:
        """Whether places are left that the readings to found ones do not fix."""
        return bool(self.missing)

    def grow(self) -> None:
        """Put every place that the readings to found ones fix."""
        usable = {place.name: self._usable(place) for place in self.missing}
        tried: dict[str, list[Answer] | None] = {}
        while self.missing:
            surest: tuple[Place, list[Answer]] | None = None
            for place in sorted(self.missing, key=lambda place: -usable[place.name][1]):
                readings, count = usable[place.name]
                if count < 3:
                    break
                if place.name not in tried:
                    tried[place.name] = self._meet(place, readings)
                answers = tried[place.name]
                if answers is None:
                    continue
                if len(answers) == 1 or not self.manner.alike(answers) or self._hinted(place, answers):
                    surest = place, answers
                    break
                surest = surest or (place, answers)
            if surest is None:
                if not self._find_planes():
                    return
                touched = {place.name for place in self.missing}
            else:
                self._put(*surest)
                touched = {name for reading in self.of_place[surest[0].name] for name in reading.places}
            for place in self.missing:
                if place.name in touched:
                    usable[place.name] = self._usable(place)
                    tried.pop(place.name, None)

    def finished(self) -> Guess:
        """The state, with whatever nothing fixes put somewhere in reach."""
        self.grow()
        while self.missing:
            place = max(self.missing, key=lambda place: self._usable(place)[1])
            self._put(place, [Answer(self._somewhere(place), 0.0)])
            self.grow()
        self._find_planes(last=True)
        state = self.network.given.copy()
        for name, at in self.at.items():
            column = self.network.column[name]
            state[column : column + 3] = at
        for name, at in self.plane_at.items():
            column = self.network.plane_column[name]
            state[column : column + 2] = at
        state[self.network.held] = self.network.given[self.network.held]
        return Guess(state, tuple(self.undecided))

    def _put(self, place: Place, answers: list[Answer]) -> None:
        chosen = answers[0]
        if len(answers) > 1:
            chosen = self._hinted(place, answers) or (
                self._choose(place, answers) if self.manner.alike(answers) else chosen
            )
        self.at[place.name] = chosen.at
        self.missing.remove(place)

    def _hinted(self, place: Place, answers: list[Answer]) -> Answer | None:
        """The answer that a hint of the place means; None without one that tells them apart."""
        if not self.manner.hinted:
            return None
        one, other = answers
        between = one.at - other.at
        for hint in place.hints:
            axis, way = WAY_OF_HINT[hint]
            if abs(between[axis]) > 0.1 * float(np.linalg.norm(between)):
                return one if between[axis] * way > 0 else other
        return None

    def _choose(self, place: Place, answers: list[Answer]) -> Answer:
        """The answer further up, left or forward, whichever way they lie apart; the other one where it is turned."""
        one, other = answers
        between = one.at - other.at
        self.undecided.append(place.name)
        plain = one if between[np.argmax(np.abs(between))] > 0 else other
        if place.name in self.manner.turned:
            return other if plain is one else one
        return plain

    def _usable(self, place: Place) -> tuple[list[Reading], int]:
        """Readings of the place to found ones, and how many numbers they and what is given fix at most."""
        usable = [
            reading
            for reading in self.of_place[place.name]
            if (reading.plane is None or reading.plane in self.plane_at)
            and all(name == place.name or name in self.at for name in reading.places)
            and (reading.places[0] == place.name or isinstance(reading, (Linear, Tape, SymmetricPair)))
        ]
        given = sum(part is not None for part in place.at)
        return usable, given + sum(reading.components for reading in usable) + len(self._half_pairs(place))

    def _half_pairs(self, place: Place) -> list[tuple[SymmetricPair, float]]:
        """Pairs, on a known plane, of the place with one not found yet at the other end of a tape: its offset."""
        return [
            (reading, self.tape_of_pair[frozenset(reading.places)] * (0.5 if reading.left == place.name else -0.5))
            for reading in self.of_place[place.name]
            if isinstance(reading, SymmetricPair)
            and reading.plane in self.plane_at
            and frozenset(reading.places) in self.tape_of_pair
            and not any(name in self.at for name in reading.places)
        ]

    def _meet(self, place: Place, readings: list[Reading]) -> list[Answer] | None:
        """The one or two answers that meet the readings; None where they leave more."""
        half_pairs = self._half_pairs(place)
        others = {name: self.at[name].tobytes() for reading in readings for name in reading.places if name in self.at}
        planes = {
            reading.plane: self.plane_at[reading.plane].tobytes()
            for reading in (*readings, *(pair for pair, _ in half_pairs))
            if reading.plane is not None
        }
        key = place, *readings, *half_pairs, *others.items(), *planes.items()
        met = self.network.met
        if key not in met:
            met[key] = meet(self._bounds(place, readings))
        return met[key]

    def _bounds(self, place: Place, readings: list[Reading]) -> Bounds:
        rows, says, row_sd = [], [], []
        centres, radii, radius_sd = [], [], []
        at = {**self.at, place.name: np.zeros(3)}
        for axis, part in enumerate(place.at):
            if part is not None:
                rows.append(np.eye(3)[axis])
                says.append(part)
                row_sd.append(max(place.sd[axis], _AS_GIVEN))
        for pair, offset in self._half_pairs(place):
            shift, heading = self.plane_at[pair.centre_plane]
            rows.append(np.array([-np.sin(heading), np.cos(heading), 0.0]))
            says.append(offset + shift * np.cos(heading))
            row_sd.append(pair.doubt)
        for reading in readings:
            if isinstance(reading, Tape):
                own = reading.places.index(place.name)
                touched = reading.touched_at(at)
                centres.append(touched[1 - own] - touched[own])
                radii.append(reading.measured()[0])
                radius_sd.append(reading.doubt)
                continue
            computed = reading.computed(at, self.plane_at)
            rows.extend(computed.by_place[0, :, reading.places.index(place.name)])
            says.extend(np.array(reading.measured()) - computed.values[0])
            row_sd.extend([reading.doubt] * reading.components)
        return Bounds(
            np.array(rows).reshape(-1, 3),
            np.array(says),
            np.array(row_sd),
            np.array(centres).reshape(-1, 3),
            np.array(radii),
            np.array(radius_sd),
        )

    def _somewhere(self, place: Place) -> FloatArray:
        """A place that nothing fixes: as far as planes and a sphere go by them, else near the middle of the rest."""
        bounds = self._bounds(place, self._usable(place)[0])
        middle = np.mean(list(self.at.values()), axis=0) if self.at else np.zeros(3)
        reach = float(bounds.radii.mean()) if bounds.radii.size else 100.0
        return nearest_within(bounds, middle + reach * np.array([0.36, 0.48, 0.8]))

    def _find_planes(self, *, last: bool = False) -> bool:
        """Put planes through the pairs found so far; at the ``last`` all, whatever is known. Whether any was put."""
        put = False
        for plane in self.network.planes:
            if plane.name not in self.plane_at:
                at = plane_through(plane, self.network.readings, self.at)
                if at is not None or last:
                    self.plane_at[plane.name] = np.zeros(2) if at is None else at
                    put = True
        return put
