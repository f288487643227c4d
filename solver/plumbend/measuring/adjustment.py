"""The adjustment: places that fit all readings best, how well each is known, and how each reading stands.

Weighted least squares with the accuracies as given. Redundancy numbers and standardised misses after Baarda, A
Testing Procedure for Use in Geodetic Networks (1968): with whitened rows A and covariance C of what was found, the
whitened misses have covariance R = I - A C A^T, whose diagonal says how far other readings check each one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from plumbend.errors import BadValue
from plumbend.estimate.chances import beyond_chance
from plumbend.estimate.doubt import Doubt, doubt_of
from plumbend.estimate.minimise import Minimum
from plumbend.frames import FloatArray
from plumbend.measuring.first_guess import PLAIN, Guess, Manner, first_guesses
from plumbend.measuring.network import FAR_BEHIND, Network
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.readings import Reading
from plumbend.records import record

UNCHECKED = 1e-6
"""A reading with less redundancy than this is checked by no other."""

ALIKE = 0.9
"""Two readings whose standardised misses go together by more than this cannot be told apart."""

_TRIED_WITHOUT = 5
"""Readings left out of the first guess in turn, where they disagree."""

_SAME_AGAIN = 3
"""Starts that end in the best place found settle that it is the best."""


@record(eq=False)
class Mirror:
    """Another answer that fits the readings about as well.

    Attributes:
        at: (3,) mm by name, of the places that lie elsewhere in it.
        asked: the place whose side decides between the answers.
    """

    asked: str
    at: dict[str, FloatArray]


class Adjusted:
    """What the readings say of places and planes.

    Attributes:
        network: what was adjusted; rows below are in its order.
        state: (p,) the whole state found.
        converged: the search settled.
        mirrors: other answers that no hint and no reading rules out.
        residuals: (M,) mm, measured less computed.
        chi2: sum of squares of misses over accuracies.
        dof: readings' numbers beyond those needed.
    """

    def __init__(self, network: Network, minimum: Minimum[FloatArray], mirrors: tuple[Mirror, ...]) -> None:
        self.network, self.mirrors = network, mirrors
        self.state = network.whole(minimum.state)
        self.converged = minimum.converged
        self.chi2 = minimum.normal.chi2
        values, rows = network.rows(self.state)
        self.residuals: FloatArray = network.measured - values
        self.rows: FloatArray = rows[:, network.free] / network.sd[:, None]
        self.doubt: Doubt = doubt_of(minimum.normal, np.zeros(network.free.size, dtype=bool))
        self.dof = network.measured.size - (network.free.size - len(self.doubt.flat))

    @property
    def places(self) -> tuple[Place, ...]:
        """In the order of ``at``."""
        return self.network.places

    @property
    def at(self) -> FloatArray:
        """(m, 3) mm, forward, left, up."""
        return self.state[: 3 * len(self.places)].reshape(-1, 3)

    @property
    def planes(self) -> FloatArray:
        """(q, 2) offset in mm and heading in radians of each plane."""
        return self.state[3 * len(self.places) :].reshape(-1, 2)

    @cached_property
    def full_covariance(self) -> FloatArray:
        """(p, p) of the whole state; rows of what is held as given are 0, those of ``loose`` must not be used."""
        covariance = np.zeros((self.state.size, self.state.size))
        covariance[np.ix_(self.network.free, self.network.free)] = self.doubt.covariance
        return covariance

    @property
    def covariance(self) -> FloatArray:
        """(3m, 3m) mm^2 of all places together."""
        size = 3 * len(self.places)
        return self.full_covariance[:size, :size]

    @cached_property
    def loose(self) -> npt.NDArray[np.bool_]:
        """(m, 3) True for coordinates that nothing fixes."""
        loose = np.zeros(self.state.size, dtype=bool)
        loose[self.network.free] = self.doubt.loose
        of_places: npt.NDArray[np.bool_] = loose[: 3 * len(self.places)].reshape(-1, 3)
        return of_places

    @cached_property
    def doubts(self) -> FloatArray:
        """(m, 3) mm, one standard deviation of each coordinate; nan where nothing fixes it."""
        doubts: FloatArray = np.sqrt(np.diagonal(self.covariance)).reshape(-1, 3)
        doubts[self.loose] = np.nan
        return doubts

    def place(self, name: str) -> FloatArray:
        """(3,) mm where a place is."""
        at: FloatArray = self.at[self._index(name)]
        return at

    def joint(self, names: Sequence[str]) -> tuple[FloatArray, FloatArray]:
        """Places (k, 3) in mm and their covariance (3k, 3k) in mm^2 together. Raises BadValue for a loose one."""
        picks = [self._index(name) for name in names]
        for name, pick in zip(names, picks, strict=True):
            if self.loose[pick].any():
                raise BadValue(f"The readings do not fix {name}. Measure it further.")
        columns = np.concatenate([np.arange(3 * pick, 3 * pick + 3) for pick in picks])
        return self.at[picks], self.covariance[np.ix_(columns, columns)]

    def _index(self, name: str) -> int:
        return self.network.column[name] // 3

    @cached_property
    def checks(self) -> FloatArray:
        """(M, M) covariance of the misses over their accuracies: I - A C A^T."""
        reach = self.rows @ self.doubt.covariance @ self.rows.T
        return np.eye(len(reach)) - reach

    @cached_property
    def redundancy(self) -> FloatArray:
        """(M,) how far the others check each number: 0 not at all, 1 wholly. They add up to ``dof``."""
        return np.clip(np.diagonal(self.checks), 0.0, 1.0)

    @cached_property
    def standardised(self) -> FloatArray:
        """(M,) misses over their own standard deviations; 0 where no other reading checks the number."""
        checked = self.redundancy > UNCHECKED
        spread = np.sqrt(np.where(checked, self.redundancy, 1.0)) * self.network.sd
        return np.where(checked, self.residuals / spread, 0.0)

    @property
    def scatter(self) -> float:
        """How much larger the misses are than their accuracies say, about 1 where these are right; nan unchecked."""
        return float(np.sqrt(self.chi2 / self.dof)) if self.dof > 0 else np.nan

    @property
    def agrees(self) -> bool:
        """Whether the misses are within what chance allows."""
        return not beyond_chance(self.chi2, self.dof)

    def unchecked(self) -> tuple[Reading, ...]:
        """Readings that no other checks, in any of their numbers."""
        return tuple(
            reading
            for i, reading in enumerate(self.network.readings)
            if (self.redundancy[self.network.owner == i] <= UNCHECKED).all()
        )

    @cached_property
    def correlations(self) -> FloatArray:
        """(M, M) of the standardised misses with each other; 0 for unchecked numbers."""
        checked = self.redundancy > UNCHECKED
        scale = np.where(checked, 1 / np.sqrt(np.where(checked, self.redundancy, 1.0)), 0.0)
        correlations: FloatArray = self.checks * scale[:, None] * scale
        return correlations

    def not_told_apart(self, alike: float = ALIKE) -> list[tuple[Reading, ...]]:
        """Readings one of which, wrong, could be taken for another: groups of two or more.

        Numbers of two readings whose standardised misses are correlated by ``alike`` or more put both in one group.
        """
        readings = self.network.readings
        near = [{i} for i in range(len(readings))]
        for row, column in np.argwhere(np.triu(np.abs(self.correlations) >= alike, 1)):
            one, other = near[self.network.owner[row]], near[self.network.owner[column]]
            if one is not other:
                one |= other
                for i in other:
                    near[i] = one
        groups = {min(group): group for group in near if len(group) > 1}
        return [tuple(readings[i] for i in sorted(groups[first])) for first in sorted(groups)]


def adjust(
    places: Sequence[Place],
    readings: Sequence[Reading],
    planes: Sequence[CentrePlane] = (),
) -> Adjusted:
    """Places and planes that fit the readings best, from first guesses of its own.

    Args:
        places: bases and points, given, partly given or to be found.
        readings: of any kinds, in any order; repeats are readings of their own.
        planes: those that readings name.

    Raises BadValue where a reading names what is not there, or two places share a name.
    """
    return adjust_network(Network(places, readings, planes))


def adjust_network(network: Network, *, thorough: bool = True) -> Adjusted:
    """The same for readings compiled already.

    ``thorough`` says whether readings that disagree are worth several first guesses, and to be followed to the last
    digit; where they agree it is all one.
    """
    hopeless = np.inf if thorough else network.hopeless
    best, undecided, manner = _lowest(network, hopeless, thorough=thorough)
    others: list[tuple[str, Minimum[FloatArray]]] = []
    for name in undecided:
        starts = first_guesses(network, replace(manner, turned=frozenset({name})))
        other, _ = _best(network, starts, min(best.normal.chi2 + FAR_BEHIND, hopeless))
        others.append((name, other))
        if beyond_chance(best.normal.chi2 - other.normal.chi2, 1):
            best = other
    mirrors = [
        _mirror(network, name, best, other)
        for name, other in others
        if not beyond_chance(other.normal.chi2 - best.normal.chi2, 1)
    ]
    return Adjusted(network, best, tuple(mirror for mirror in mirrors if mirror.asked in mirror.at))


def _lowest(
    network: Network, hopeless: float, *, thorough: bool
) -> tuple[Minimum[FloatArray], tuple[str, ...], Manner]:
    """The least of the minima, and what was undecided in its first guess and how that was made.

    One wrong reading, or a wrong hint, can lead the first guess astray: where the readings disagree, those that stand
    out have no part in it in turn, and then the hints.
    """
    best, undecided = _best(network, first_guesses(network), hopeless)
    found = best, undecided, PLAIN
    if _agrees(network, best):
        return found
    same = 0
    for i in _standing_out(Adjusted(network, best, ())) if thorough else ():
        manner = Manner(without=frozenset({i}), wary=True)
        other, undecided = _best(network, first_guesses(network, manner), hopeless)
        same += abs(other.normal.chi2 - best.normal.chi2) < 1e-3 * best.normal.chi2
        if other.normal.chi2 < best.normal.chi2:
            best = other
            found = best, undecided, manner
        if _agrees(network, best):
            return found
        if same == _SAME_AGAIN:
            break
    if any(place.hints for place in network.places):
        manner = Manner(hinted=False, wary=True)
        other, undecided = _best(network, first_guesses(network, manner), hopeless)
        if beyond_chance(best.normal.chi2 - other.normal.chi2, 1):
            found = other, undecided, manner
    return found


def _agrees(network: Network, minimum: Minimum[FloatArray]) -> bool:
    """Whether the misses are within chance, were every number found needed."""
    return not beyond_chance(minimum.normal.chi2, max(network.measured.size - network.free.size, 1))


def _standing_out(spoilt: Adjusted) -> list[int]:
    """Indices of the readings with the largest misses for what checks them, the largest first."""
    largest = np.zeros(len(spoilt.network.readings))
    np.maximum.at(largest, spoilt.network.owner, np.abs(spoilt.standardised))
    return [int(i) for i in np.argsort(-largest)[:_TRIED_WITHOUT] if largest[i] > 0]


def _best(network: Network, starts: Sequence[Guess], hopeless: float) -> tuple[Minimum[FloatArray], tuple[str, ...]]:
    """The least of the minima from several starts, and what was undecided in its start."""
    ends = [(network.settle(guess.state, hopeless), guess.undecided) for guess in starts]
    return min(ends, key=lambda end: end[0].normal.chi2)


def _mirror(network: Network, name: str, best: Minimum[FloatArray], other: Minimum[FloatArray]) -> Mirror:
    """The places of the other answer that lie further off than their accuracies could bring them."""
    here, there = (network.whole(minimum.state)[: 3 * len(network.places)].reshape(-1, 3) for minimum in (best, other))
    tolerance = 3 * float(network.sd.max())
    apart = np.linalg.norm(there - here, axis=1) > tolerance
    return Mirror(name, {place.name: there[i] for i, place in enumerate(network.places) if apart[i]})
