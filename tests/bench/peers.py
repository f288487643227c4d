"""The fit beside general-purpose solvers on the same residuals from the same start, in one run.

    python tests/bench/peers.py

Prints ratios and asserts nothing but that no peer ended lower. scipy's least_squares and, where they are installed,
lmfit and gtsam (a solver of factor graphs) take their derivatives by differences, as anyone would who only had the
misses; gtsam is given them forward, one number at a time, as scipy takes them. Run it on a quiet machine.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from functools import partial
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from scipy.optimize import least_squares

sys.path.insert(0, str(Path(__file__).parents[1]))

from plumbend.frames import FloatArray
from plumbend.shape.chain import Chain
from plumbend.shape.evidence import Evidence
from plumbend.shape.fit import FormingLimits, fit_from
from plumbend.shape.scan import Scan, ScanRows
from support.tubes import OD, RADIUS, clear_of_itself, random_tube, scan_places

LIMITS = FormingLimits(RADIUS)
SD = 0.5
TUBES = 5
STEP = 1.5e-8
"""Of the forward differences, in parts of a number of size 1: the square root of the rounding."""

Residuals = Callable[[FloatArray], FloatArray]


def started(rng: np.random.Generator, bends: int, count: int) -> tuple[Chain, Evidence]:
    """A start some mm and degrees off a scanned tube, and its scan."""
    while True:
        tube = random_tube(rng, bends)
        if clear_of_itself(tube):
            break
    evidence = Evidence([], bends, OD, scan=Scan(scan_places(tube, count, rng, SD), SD))
    step = rng.normal(size=evidence.size) * 0.02
    step[:3] *= 100
    step[6 : 6 + bends + 1] *= 200
    return tube.moved(step, evidence.reference), evidence


def residuals_of(start: Chain, evidence: Evidence) -> Residuals:
    """Every place's miss over its doubt, for a step (p,) from the start."""
    assert evidence.scan is not None
    rows: ScanRows = evidence.scan
    return lambda x: rows.misses(start.moved(x, evidence.reference)) / SD


def by_scipy(residuals: Residuals, size: int) -> float:
    return 2 * float(least_squares(residuals, np.zeros(size), x_scale="jac", method="trf").cost)


def by_lmfit(residuals: Residuals, size: int) -> float:
    lmfit: Any = import_module("lmfit")
    parameters = lmfit.Parameters()
    for i in range(size):
        parameters.add(f"p{i}", value=0.0)

    def of_values(values: Any) -> FloatArray:
        return residuals(np.array([values[f"p{i}"].value for i in range(size)]))

    return float(lmfit.minimize(of_values, parameters, method="leastsq").chisqr)


def by_gtsam(residuals: Residuals, size: int) -> float:
    gtsam: Any = import_module("gtsam")
    count = len(residuals(np.zeros(size)))

    def error(factor: Any, values: Any, jacobians: Any) -> FloatArray:
        x = values.atVector(factor.keys()[0])
        here = residuals(x)
        if jacobians is not None:
            jacobians[0] = np.column_stack([(residuals(x + STEP * axis) - here) / STEP for axis in np.eye(size)])
        return here

    graph, start = gtsam.NonlinearFactorGraph(), gtsam.Values()
    graph.add(gtsam.CustomFactor(gtsam.noiseModel.Unit.Create(count), [0], error))
    start.insert(0, np.zeros(size))
    return 2 * float(graph.error(gtsam.LevenbergMarquardtOptimizer(graph, start).optimize()))


PEERS: dict[str, Callable[[Residuals, int], float]] = {"scipy": by_scipy, "lmfit": by_lmfit, "gtsam": by_gtsam}


def _ours(start: Chain, evidence: Evidence) -> float:
    return fit_from(start, evidence, LIMITS).chi2


def timed(work: Callable[[], float], runs: int) -> tuple[float, float]:
    """Seconds of the fastest of some runs, and what the work ended with."""
    best, ended = np.inf, np.inf
    for _ in range(runs):
        begin = time.perf_counter()
        ended = work()
        best = min(best, time.perf_counter() - begin)
    return best, ended


def side_by_side(bends: int, count: int) -> None:
    """One line for each peer: how many times as long as ours it took, and how often it ended as low."""
    rng = np.random.default_rng(count + bends)
    ours: list[float] = []
    ratios: dict[str, list[float]] = {name: [] for name in PEERS if find_spec(name)}
    as_low = dict.fromkeys(ratios, 0)
    for _ in range(TUBES):
        start, evidence = started(rng, bends, count)
        took, chi2 = timed(partial(_ours, start, evidence), 3)
        ours.append(took)
        for name in ratios:
            theirs, ended = timed(partial(PEERS[name], residuals_of(start, evidence), evidence.size), 1)
            assert ended >= chi2 * (1 - 1e-6), f"{name} ended lower: {ended} below {chi2}"
            as_low[name] += ended <= chi2 * (1 + 1e-4)
            ratios[name].append(theirs / took)
    print(f"{bends} bends, {count:,} places: {np.median(ours) * 1e3:.1f} ms")
    for name, times in ratios.items():
        print(f"  {name:<6} {np.median(times):6.1f} times as long; ended as low on {as_low[name]} of {TUBES} tubes")


if __name__ == "__main__":
    for missing in (name for name in PEERS if not find_spec(name)):
        print(f"{missing} is not installed and is left out")
    for bends, count in ((2, 200), (4, 2000), (6, 2000)):
        side_by_side(bends, count)
