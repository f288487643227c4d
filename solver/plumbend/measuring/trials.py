"""Adjustments of a job's readings with some of them left out, each made once."""

from __future__ import annotations

import math
from collections.abc import Container, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from plumbend.estimate.chances import SELDOM, log_chance
from plumbend.frames import FloatArray, IntArray
from plumbend.measuring.adjustment import Adjusted, adjust_network
from plumbend.measuring.network import FAR_BEHIND, Network
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.snooping import Snooping, log_level_each

Out = frozenset[int]
"""Indices of readings that are left out."""


@dataclass(frozen=True, eq=False)
class Trial:
    """An adjustment without some readings.

    Attributes:
        adjusted: of the rest.
        indices: (n,) of the rest, in its order, among all readings.
        kept: (n,) True for those of the rest that are never left out.
    """

    adjusted: Adjusted
    indices: IntArray
    kept: npt.NDArray[np.bool_]

    @cached_property
    def snooping(self) -> Snooping:
        """How each of the rest stands to the others."""
        network = self.adjusted.network
        return Snooping(self.adjusted.residuals / network.sd, self.adjusted.checks, network.owner)

    @property
    def candidates(self) -> frozenset[int]:
        """Indices, among all, of those that may be left out as well."""
        return frozenset(map(int, self.indices[~self.kept]))

    @property
    def log_chances(self) -> FloatArray:
        """(n,) logarithm of the chance that each is as far off as it is; 0 for those kept."""
        # rounded, so that of readings that stand alike the first as typed is taken, not the one that rounding favours
        return np.where(self.kept, 0.0, self.snooping.log_chances).round(6)

    def worst(self, most: int, limit: float) -> list[int]:
        """Indices, among all, of at most ``most`` whose log chance is below ``limit``, the least first."""
        chances = self.log_chances
        return [int(self.indices[k]) for k in np.argsort(chances, kind="stable")[:most] if chances[k] < limit]


class Trials:
    """Adjustments, each begun afresh.

    Attributes:
        readings: all of them; what is given with a doubt comes last.
        level: chance that one is called wrong where none is.
        limit: logarithm of the same for each.
    """

    def __init__(
        self,
        places: Sequence[Place],
        readings: Sequence[Reading],
        planes: Sequence[CentrePlane],
        keep: Container[str | int],
        level: float,
    ) -> None:
        self._all = Network(places, readings, planes)
        self.readings = self._all.readings
        self._kept = np.array(
            [i in keep or one.title in keep or (one.typed or one.title) in keep for i, one in enumerate(self.readings)],
            dtype=bool,
        )
        self._made: dict[tuple[Out, bool], Trial] = {}
        self.level = level
        self.limit = log_level_each(level, len(self.readings))

    def without(self, out: Out, *, thorough: bool = False) -> Trial:
        """The adjustment without ``out``, from first guesses of its own; a thorough one looks further for the best."""
        quick = self._made.get((out, False))
        key = out, thorough and not (quick and quick.adjusted.agrees)
        if key not in self._made:
            adjusted = adjust_network(self._all.without(out), thorough=thorough)
            indices = np.array([i for i in range(len(self.readings)) if i not in out], dtype=int)
            self._made[key] = Trial(adjusted, indices, self._kept[indices])
        return self._made[key]

    def settled(self, out: Out) -> Adjusted:
        """The adjustment without ``out`` to its last digit, hopeless or not."""
        adjusted = self.without(out).adjusted
        if adjusted.converged or adjusted.chi2 <= adjusted.network.hopeless:
            return adjusted
        return Adjusted(adjusted.network, adjusted.network.settle(adjusted.state), adjusted.mirrors)

    def going_on(self, out: Out, found: Adjusted) -> Adjusted:
        """The adjustment without ``out`` that goes on from places found before, instead of a first guess.

        One that stays far behind what was found there is not followed to its last digit.
        """
        network = self._all.without(out)
        return Adjusted(network, network.settle(found.state, found.chi2 + FAR_BEHIND), ())

    def clean(self, trial: Trial) -> bool:
        """Whether all readings agree, and each one that may be left out with the others."""
        return widening(trial.adjusted) == 1 and not (trial.log_chances < self.limit).any()


def widening(adjusted: Adjusted, *, wary: bool = False) -> float:
    """What every doubt is to be multiplied by: 1 where the readings agree, else what makes them; never less than 1.

    A ``wary`` one counts what scatter there is, though chance allows it.
    """
    agrees = log_chance(adjusted.chi2, adjusted.dof) >= math.log(SELDOM)
    return 1.0 if adjusted.dof <= 0 or (agrees and not wary) else max(adjusted.scatter, 1.0)
