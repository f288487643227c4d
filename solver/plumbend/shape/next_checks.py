"""Which readings would check what nothing checks yet.

A reading that no other checks has the redundancy 0: a slip in it moves the places and leaves no miss. With one reading
more, of rows b and accuracy N, its redundancy becomes a C b^T (N + b C b^T)^-1 b C a^T for its own row a over its
accuracy and the covariance C of what was found (Baarda, A Testing Procedure for Use in Geodetic Networks, 1968; the
update as in :mod:`plumbend.shape.known_together`). So it is for a tube's points and the chain that is fitted to them.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import UNCHECKED, Adjusted
from plumbend.measuring.further import Instruments, further_readings, rows_of_all
from plumbend.measuring.readings import Reading
from plumbend.records import record
from plumbend.shape.fit import Fit
from plumbend.shape.further import further_of_tube
from plumbend.shape.points import Point
from plumbend.shape.tube_readings import TubeReading

_CHECKED = 0.1
"""Redundancy from which on a reading counts as checked: a slip of 13 of its doubts, 5/8 inch by tape, then shows."""


@record(eq=False)
class NextCheck:
    """A measurement that would check others.

    Attributes:
        words: what it is.
        checks: the readings as typed, or names of points, that nothing checks without it.
        measurement: itself, as it would show were everything where it is taken to be.
    """

    words: str
    checks: tuple[str, ...]
    measurement: Reading | TubeReading | Point


def checks_of_readings(adjusted: Adjusted, instruments: Instruments | None = None, most: int = 3) -> list[NextCheck]:
    """Readings that would check those that no other checks, by :meth:`Adjusted.unchecked`; the most useful first."""
    unchecked = adjusted.unchecked()
    offered = further_readings(adjusted, instruments or Instruments.as_used(adjusted.network.readings))
    redundancies = _redundancies(
        adjusted.full_covariance,
        [rows / one.doubt for one, rows in zip(unchecked, rows_of_all(adjusted, unchecked), strict=True)],
        [
            (rows, np.eye(len(rows)) * one.doubt**2)
            for one, rows in zip(offered, rows_of_all(adjusted, offered), strict=True)
        ],
    )
    names = [one.typed or one.words for one in unchecked]
    chosen = _fewest(redundancies, most)
    return [NextCheck(offered[i].words, tuple(names[k] for k in checked), offered[i]) for i, checked in chosen]


def checks_of_points(
    fit: Fit,
    placed: frozenset[str] = frozenset(),
    *,
    ends: tuple[str, str] = ("start", "far"),
    at_hand: bool | None = None,
    most: int = 3,
) -> list[NextCheck]:
    """Measurements of a tube that would check those of its points that nothing checks; the most useful first.

    Args:
        fit: the tube.
        placed: names of points that readings of the vehicle place: these are checked as readings.
        ends: what the ends are called, start and far.
        at_hand: whether there is a tube to put a finder or a tape to; see
            :func:`plumbend.shape.next_reading.next_readings`.
        most: how many to give.
    """
    covariance = fit.doubt.covariance
    names, unchecked = [], []
    for name, rows in _own_rows(fit):
        if name not in placed and len(rows) - np.trace(rows @ covariance @ rows.T) < UNCHECKED:
            names.append(name)
            unchecked.append(rows)
    offered = further_of_tube(fit, placed, ends, at_hand)
    redundancies = _redundancies(covariance, unchecked, [(one.rows, one.own) for one in offered])
    chosen = _fewest(redundancies, most)
    return [
        NextCheck(offered[i].words, tuple(names[k] for k in checked), offered[i].measurement) for i, checked in chosen
    ]


def _own_rows(fit: Fit) -> list[tuple[str, FloatArray]]:
    """Name and rows (c, p) of every point, over its own accuracy."""
    evidence, found = fit.evidence, []
    for group, rows in zip(
        evidence.groups, evidence.rows(fit.chain, fit.chain.motion(evidence.reference)), strict=True
    ):
        for member, basis, jacobian in zip(group.members, rows.directions, rows.jacobian, strict=True):
            point = evidence.points[member]
            found.append((point.name, np.linalg.solve(np.linalg.cholesky(basis @ point.cov @ basis.T), jacobian)))
    return found


def _redundancies(
    covariance: FloatArray, unchecked: Sequence[FloatArray], offered: Sequence[tuple[FloatArray, FloatArray]]
) -> FloatArray:
    """(m, k) redundancy, of each number on average, that each offered measurement would give each unchecked one."""
    redundancies = np.zeros((len(offered), len(unchecked)))
    for i, (rows, own) in enumerate(offered):
        reach = rows @ covariance
        weight = np.linalg.inv(own + reach @ rows.T)
        for k, of in enumerate(unchecked):
            shared = reach @ of.T
            redundancies[i, k] = np.sum(shared * (weight @ shared)) / len(of)
    return redundancies


def _fewest(redundancies: FloatArray, most: int) -> list[tuple[int, list[int]]]:
    """At most so many measurements that check as many as they can, with those that each is the first to check."""
    left = redundancies.copy()
    chosen: list[tuple[int, list[int]]] = []
    while len(chosen) < most and (left >= _CHECKED).any():
        checked = left >= _CHECKED
        best = int(np.lexsort((-left.sum(axis=1), -checked.sum(axis=1)))[0])
        chosen.append((best, np.flatnonzero(checked[best]).tolist()))
        left[:, checked[best]] = 0.0
    return chosen
