"""Correlated inputs carried through the least-squares engine, against the guide to uncertainty.

JCGM 100:2008, example H.2: a resistance R, a reactance X and an impedance Z from a voltage, a current and a phase
angle measured together: V = I Z, Z = |(R, X)|, phi the angle of (R, X). As a fit of R, X and I to the three correlated
observations it is exact, and the covariance of what is found is that of the guide's law of propagation.
"""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from plumbend.estimate.doubt import doubt_of
from plumbend.estimate.minimise import minimise
from plumbend.estimate.normal import Normal
from plumbend.frames import FloatArray
from support.plain_numbers import WeighedAlike


def printed(figures: str) -> Any:
    """The figures, each to half a unit of its last printed digit."""
    words = figures.split()
    decimals = max(len(word.partition(".")[2]) for word in words)
    return pytest.approx(np.array(words, dtype=float), abs=0.5 * 10.0**-decimals * (1 + 1e-9), rel=0)


class Impedance(WeighedAlike):
    """R, X and I from V, I and phi with their covariance (3, 3)."""

    def __init__(self, observed: FloatArray, covariance: FloatArray) -> None:
        self.observed = observed
        self.whiten = np.linalg.inv(np.linalg.cholesky(covariance))

    def normal(self, state: FloatArray, weights: None) -> Normal:
        r, x, i = state
        z = np.hypot(r, x)
        computed = np.array([i * z, i, np.arctan2(x, r)])
        rows = np.array([[i * r / z, i * x / z, z], [0.0, 0.0, 1.0], [-x / z**2, r / z**2, 0.0]])
        return Normal.from_rows(self.whiten @ (computed - self.observed), self.whiten @ rows)


def impedance(observed: FloatArray, covariance: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """R, X, Z, their standard deviations, and their correlations RX, RZ, XZ."""
    start = np.array([100.0, 100.0, observed[1]])
    free = np.full(3, np.inf)
    found = minimise(Impedance(observed, covariance), start, -free, free)
    assert found.converged
    r, x, _ = found.state
    z = np.hypot(r, x)
    to_three = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [r / z, x / z, 0.0]])
    joint = to_three @ doubt_of(found.normal, np.zeros(3, dtype=bool)).covariance @ to_three.T
    sd = np.sqrt(np.diagonal(joint))
    correlations = joint / sd[:, None] / sd
    return np.array([r, x, z]), sd, correlations[[0, 0, 1], [1, 2, 2]]


def test_rounded_inputs() -> None:
    """Read in a transcription: means, standard uncertainties and correlations as the guide rounds them."""
    sd = np.array([0.0032, 0.0095e-3, 0.00075])
    correlations = np.array([[1.0, -0.36, 0.86], [-0.36, 1.0, -0.65], [0.86, -0.65, 1.0]])
    found, doubts, related = impedance(np.array([4.9990, 19.6610e-3, 1.04446]), correlations * sd[:, None] * sd)
    assert found == printed("127.732 219.847 254.260")
    assert doubts == printed("0.070 0.296 0.237")
    assert related == printed("-0.591 -0.491 0.993")


def test_five_sets_of_readings() -> None:
    """From memory: tables H.2 to H.4. The guide prints 0.295 for X, where its readings give 0.2956."""
    readings = np.array(
        [
            [5.007, 4.994, 5.005, 4.990, 4.999],
            [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
            [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
        ]
    )
    found, doubts, related = impedance(readings.mean(axis=1), np.cov(readings) / 5)
    assert found == printed("127.732 219.847 254.260")
    assert doubts == printed("0.071 0.296 0.236")
    assert related == printed("-0.588 -0.485 0.993")
