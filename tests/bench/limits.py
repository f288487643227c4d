"""Tubes held by what they must touch and keep clear of, and by the grip, beside a general-purpose optimiser.

    python tests/bench/limits.py [problems [starts [seed]]]

Prints figures and asserts nothing. The other is scipy's SLSQP with exact gradients and variables scaled to unit
diagonal, begun at several places beside the truth; of its ends those count that keep the demands and pass every place
on the same side. Its tolerance is its own, 1e-6: from there it ends within 1e-9 of the sum of squares, mostly after one
or two steps less than at 1e-10. Times are of the processor: the fit, begun at the first of these
places, and the mean of the first starts, each the best of some rounds in turn.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np
from scipy.optimize import minimize

sys.path.insert(0, str(Path(__file__).parents[1]))

from plumbend.frames import FloatArray
from plumbend.shape.chain import Chain, layout
from plumbend.shape.fit import Fit, bounds, fit_from
from plumbend.shape.held import HeldEvidence, passed_on
from support.limited import Limited, limited_tube, nearby, turning_rate

TIMED = 3
"""Starts that are timed,"""
ROUNDS = 3
"""and how often they are, and the fit."""
FEASIBLE = 1e-6
"""mm by which an end may miss a demand."""


@dataclass
class General:
    """A problem for SLSQP: everything at one place is worked out once, and kept until it asks for another."""

    limited: Limited
    start: Chain
    scale: FloatArray

    def __post_init__(self) -> None:
        self.held = HeldEvidence(self.limited.evidence)
        self.values = self.start.parameters()
        self._at: FloatArray | None = None

    def _work_out(self, x: FloatArray) -> None:
        if self._at is not None and np.array_equal(self._at, x):
            return
        step = x * self.scale
        chain = self.start.moved(step, self.limited.evidence.reference)
        normal = self.held.normal(chain, None)
        demanded = self.held.demanded(chain)
        self._at, self.chain, self.chi2 = x.copy(), chain, normal.chi2
        self.slope = self._by_variables(2 * normal.gradient[None], step)[0]
        self.demands, self.equal = demanded.values, demanded.equal
        self.slopes = self._by_variables(demanded.jacobian, step)

    def _by_variables(self, rows: FloatArray, step: FloatArray) -> FloatArray:
        """Derivatives by the pose's own change turned into those by its rotation vector and shift, and scaled."""
        rows = rows.copy()
        rows[:, 3:6] = (rows[:, 3:6] - np.cross(step[:3], rows[:, :3])) @ turning_rate(step[3:6])
        scaled: FloatArray = rows * self.scale
        return scaled

    def run(self) -> tuple[float, float, Chain]:
        """Least sum of squares that one start finds, by how much it misses the demands, and its tube."""

        def at(name: str, which: FloatArray | None = None):
            def work_out(x: FloatArray) -> FloatArray:
                self._work_out(x)
                found = getattr(self, name)
                return found if which is None else found[which]

            return work_out

        self._work_out(np.zeros(self.values.size))
        equal = self.equal
        demands = [
            {"type": kind, "fun": at("demands", which), "jac": at("slopes", which)}
            for kind, which in (("eq", equal), ("ineq", ~equal))
            if which.any()
        ]
        lower, upper = bounds(self.start.bends, self.limited.limits)
        lower[layout(self.start.bends).angles] = 1e-3  # SLSQP's variables cannot bend to the other side
        low, high = ((bound - self.values) / self.scale for bound in (lower, upper))
        begin = np.clip(np.zeros(low.size), low, high)
        found = minimize(
            at("chi2"),
            begin,
            jac=at("slope"),
            method="SLSQP",
            bounds=list(zip(low, high, strict=True)),
            constraints=demands,
            options={"maxiter": 300},
        )
        self._work_out(np.clip(found.x, low, high))
        short = np.where(equal, np.abs(self.demands), -self.demands)
        return self.chi2, float(short.max(initial=0.0)), self.chain


def timed(fit: Callable[[], object], others: list[Callable[[], object]]) -> tuple[float, float]:
    """Seconds of the fit, and the mean of those of the others, each the best of rounds in which all take turns."""
    best = np.full(1 + len(others), np.inf)
    for _ in range(ROUNDS):
        for i, work in enumerate([fit, *others]):
            begin = time.process_time()
            work()
            best[i] = min(best[i], time.process_time() - begin)
    return float(best[0]), float(best[1:].mean())


def same_sides(fit: Fit, chain: Chain) -> bool:
    """Whether a tube passes every place on the body on the side on which the fit does."""
    evidence = fit.evidence
    members = [i for i, point in enumerate(evidence.points) if point.limits]
    ours, theirs = (passed_on(tube, evidence, members) for tube in (fit.chain, chain))
    return bool((np.einsum("mi,mi->m", ours, theirs) > 0).all())


def main(problems: int = 200, starts: int = 20, seed: int = 2000) -> None:
    """Print how the fits compare."""
    rng = np.random.default_rng(seed)
    ratios, iterations, kkt, above, other_side, unmet, none = [], [], [], [], 0, 0, 0
    fit_from(*_first(limited_tube(np.random.default_rng(1))))  # loads what is loaded late
    for number in range(problems):
        limited = limited_tube(rng)
        fit = fit_from(*_first(limited))
        assert fit.held is not None
        hessian = np.diagonal(fit.minimum.normal.hessian)
        scale = 1 / np.sqrt(np.where(hessian > 0, hessian, 1.0))
        begun = [limited.start, *(nearby(limited.start, rng) for _ in range(starts - 1))]
        others = [General(limited, start, scale) for start in begun]
        ours, took = timed(partial(fit_from, *_first(limited)), [other.run for other in others[:TIMED]])
        ends = [other.run() for other in others]
        feasible = [(chi2, chain) for chi2, short, chain in ends if short <= FEASIBLE]
        here = [chi2 for chi2, chain in feasible if same_sides(fit, chain)]
        if not fit.demands_met:
            unmet += 1
            print(f"problem {number}: demands not met; {len(feasible)} of {starts} starts meet them")
            continue
        ratios.append(ours / took)
        iterations.append(fit.held.iterations)
        kkt.append(max(fit.held.stationary, fit.held.missed, fit.held.slack))
        if not here:
            none += 1
            continue
        above.append(fit.chi2 / min(here) - 1)
        other_side += min(chi2 for chi2, _ in feasible) < 0.999 * min(here)
        if above[-1] > 1e-3:
            print(f"problem {number}: {fit.chi2:.6f} beside {min(here):.6f}")
    print(f"{problems} problems, {starts} starts of SLSQP each, seed {seed}")
    print(f"demands not met by the fit: {unmet}; no start of SLSQP met them on the same sides: {none}")
    print(f"largest KKT measure {max(kkt):.1e}, iterations median {np.median(iterations):.0f}, most {max(iterations)}")
    print(f"value over the best start's: worst {max(above):+.2e}, above 0.1 %: {sum(a > 1e-3 for a in above)}")
    print(f"another side would do better in {other_side}")
    print(f"time of a fit over that of one start: median {np.median(ratios):.2f}, 95 % {np.quantile(ratios, 0.95):.2f}")
    print(f"  more than half in {sum(ratio > 0.5 for ratio in ratios)}, most {max(ratios):.2f}")


def _first(limited: Limited) -> tuple:
    return limited.start, limited.evidence, limited.limits


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
