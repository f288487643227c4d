"""Bends are found, in order or not, and the fit is as good as one begun from the truth.

Of 1000 such tubes (`tests/bench/structure.py`), half of them in any order, 999 had the right number of bends, one had
a bend bought by its noise, and no fit lay above the one begun from the truth; three had a runner-up.
"""

from __future__ import annotations

import pytest

from support.unknown import unknown_tube


@pytest.mark.parametrize("seed", [*range(10), 85])
def test_bends_of_unknown_tubes(seed: int) -> None:
    """The first ten, and one whose end, prolonged, took points from the rest of it."""
    unknown = unknown_tube(seed)
    fit = unknown.found()
    assert fit.chain.bends == unknown.tube.bends
    assert fit.chi2 <= 1.001 * unknown.begun_from_the_truth().chi2 + 0.01


def test_an_invented_bend_is_not_kept_quiet() -> None:
    """The one of 1000 whose noise buys a bend: it gains 18.2, and costs 17.0."""
    fit = unknown_tube(956).found()
    assert fit.chain.bends == 2
    assert fit.runner_up is not None
    assert fit.runner_up.chain.bends == unknown_tube(956).tube.bends == 1
