"""How long the numbers to set take: the search for the best whole numbers, and all of it with the tubes laid anew.

Run ``python tests/bench/legible.py``; processor time, median and worst of 30 tubes for each count of bends. It prints
times and asserts nothing: a clock on a busy machine is no test.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from plumbend.making.leaning import Leaning
from plumbend.making.legible import COMPARED, Grid, legible_program
from plumbend.making.setting import setting_for
from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.structure import fit_measured
from plumbend.shop import Bender, Die
from support.tubes import OD, RADIUS, clear_of_itself, leg_points, random_tube

LIMITS = FormingLimits(RADIUS, 90.0)
TUBES, RUNS = 30, 3


def best_ms(run: Callable[[], object]) -> float:
    """The best of a few runs, in milliseconds of processor time."""
    times = []
    for _ in range(RUNS):
        begin = time.process_time()
        run()
        times.append(time.process_time() - begin)
    return 1e3 * min(times)


def main() -> None:
    """Tubes of 1 to 6 bends, four points on each straight, steps of 1 mm and 1 degree."""
    rng = np.random.default_rng(6)
    for bends in range(1, 7):
        one, several, whole = [], [], []
        while len(one) < TUBES:
            tube = random_tube(rng, bends)
            if not clear_of_itself(tube):
                continue
            points = tuple(leg_points(tube, 4, rng, 1.6, told=True))
            fit = fit_measured(Measured(OD, points), bends, LIMITS)
            assert fit is not None
            setting = setting_for(Die("d", RADIUS), Bender(), "mm", bends)
            leaning = Leaning(fit, setting.steps.length)
            grid = Grid(fit, setting, LIMITS, None, leaning)
            one.append(best_ms(lambda g=grid: g.candidates(1)))
            several.append(best_ms(lambda g=grid: g.candidates(COMPARED)))
            whole.append(best_ms(lambda f=fit, s=setting: legible_program(f, s, LIMITS)))
        print(
            f"{bends} bends, ms, median and worst: the best {np.median(one):.1f} {max(one):.1f}, "
            f"the best {COMPARED} {np.median(several):.1f} {max(several):.1f}, "
            f"all of it {np.median(whole):.1f} {max(whole):.1f}"
        )


if __name__ == "__main__":
    main()
