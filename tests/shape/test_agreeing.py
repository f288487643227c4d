"""Legs that most places of theirs agree on."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plumbend.shape.agreeing import AgreedLegs
from plumbend.shape.segments import Segmentation
from support.tubes import leg_points, random_tube

SD = 2.0
MOST = 16.0


def test_places_off_their_leg_neither_bend_it_nor_count_to_it() -> None:
    rng = np.random.default_rng(2)
    tube = random_tube(rng, 3, angles=(30, 90), straights=(400, 700))
    places = leg_points(tube, 12, rng, SD)
    right = Segmentation(places).legs(3)
    # a run of places that lead away from the tube and back, and one by itself in every leg
    off = [3, 15, 16, 17, 18, 28, 41]
    for i in off:
        aside = tube.frames[2 * (i // 12), :, 1 + i % 2]
        places[i] = replace(places[i], at=places[i].at + (60.0 + 10 * i) * aside)
    cuts = AgreedLegs(places, MOST)
    legs = cuts.legs(3)
    assert legs == right
    assert cuts.agreed(legs) == [None if i in off else leg for i, leg in enumerate(legs)]
    assert Segmentation(places).legs(3) != right


def test_a_leg_costs_the_squares_of_what_most_agree_on_and_no_place_more_than_the_most() -> None:
    rng = np.random.default_rng(3)
    places = leg_points(random_tube(rng, 0), 10, rng, 0.0)
    places = [replace(place, cov=np.eye(3) * SD**2) for place in places]
    assert AgreedLegs(places, MOST).costs[0, 9] == pytest.approx(0.0, abs=1e-6)
    places[4] = replace(places[4], at=places[4].at + 500.0 * rng.normal(size=3))
    cuts = AgreedLegs(places, MOST)
    assert cuts.costs[0, 9] == pytest.approx(MOST)
    # any two agree on a line: that is worth no more than one place
    assert cuts.costs[3, 4] == pytest.approx(MOST)
    assert cuts.cost(0) == pytest.approx(MOST)
    assert cuts.agreed([1] * 10) == [None if i == 4 else 1 for i in range(10)]
