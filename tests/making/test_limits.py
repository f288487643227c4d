"""The nearest tube that can be bent lies where the tube asked for does."""

from __future__ import annotations

import numpy as np

from plumbend.making.limits import nearest_buildable
from plumbend.shape.chain import Chain
from plumbend.shape.fit import FormingLimits
from plumbend.shape.program import Program
from support.tubes import RADIUS, random_frame


def test_a_tube_with_a_u_bend_keeps_its_place_while_its_short_straight_grows() -> None:
    rng = np.random.default_rng(6)
    origin, frame = rng.uniform(-1000, 1000, 3), random_frame(rng)
    asked = Chain.from_program(
        Program(np.array([300.0, 20.0, 300.0]), np.radians([0, 40]), np.radians([180.0, 50])), RADIUS, origin, frame
    )
    assert np.isnan(asked.corners()).any()  # a U-bend has no corner to hold it by
    found = nearest_buildable(asked, FormingLimits(RADIUS, least_straight=60.0))
    np.testing.assert_allclose(found.straights, [300, 60, 300])
    np.testing.assert_allclose(found.angles, asked.angles)
    np.testing.assert_allclose(found.rotations, asked.rotations)
    np.testing.assert_allclose(found.origin, origin)
    np.testing.assert_allclose(found.frame, frame, atol=1e-12)


def test_a_bend_beyond_the_most_that_the_die_reaches_is_brought_back_to_it() -> None:
    asked = Chain.from_program(Program(np.array([300.0, 300.0]), np.zeros(1), np.radians([180.0])), RADIUS)
    found = nearest_buildable(asked, FormingLimits(RADIUS, largest_angle=np.radians(120.0)))
    np.testing.assert_allclose(np.degrees(found.angles), [120])
