"""Bends of tubes of which nothing but places is known, half of them in any order, beside fits begun from the truth.

    python tests/bench/structure.py [first [last]]

Prints figures and asserts nothing. Seeds whose bends are counted wrong, or whose fit lies above the one begun from the
truth by more than 0.1 % and 0.01 in the sum of squares, are listed.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from support.unknown import unknown_tube


def main(first: int = 0, last: int = 1000) -> None:
    counts: dict[tuple[str, bool], Counter[str]] = {}
    for seed in range(first, last):
        unknown = unknown_tube(seed)
        begun = time.perf_counter()
        fit = unknown.found()
        taken = time.perf_counter() - begun
        truth = unknown.begun_from_the_truth()
        right = fit.chain.bends == unknown.tube.bends
        above = right and fit.chi2 > 1.001 * truth.chi2 + 0.01
        counted = counts.setdefault((unknown.kind, unknown.ordered), Counter())
        counted.update(tubes=1, right=right, above=above, runner_up=fit.runner_up is not None, ms=round(1e3 * taken))
        if not right or above:
            print(
                f"{seed}: {unknown.tube.bends} bends, {fit.chain.bends} found, {fit.chi2:.2f} beside {truth.chi2:.2f}",
                flush=True,
            )
    for (kind, ordered), counted in counts.items():
        print(
            f"{kind:8} {'in order ' if ordered else 'any order'}: {counted['tubes']} tubes, {counted['right']} right, "
            f"{counted['above']} above the truth's, {counted['runner_up']} with a runner-up, "
            f"{counted['ms'] / counted['tubes']:.0f} ms each"
        )


if __name__ == "__main__":
    main(*map(int, sys.argv[1:]))
