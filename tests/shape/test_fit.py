"""The fit gives a tube back from its points, within the die's limits."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.shape.certainty import certainty_of
from plumbend.shape.chain import Chain
from plumbend.shape.evidence import Evidence
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.measured import Measured
from plumbend.shape.points import Point
from plumbend.shape.program import Program
from plumbend.shape.structure import fit_measured
from support.tubes import (
    OD,
    RADIUS,
    assert_same_program,
    clear_of_itself,
    corner_points,
    leg_points,
    outside_points,
    random_tube,
)

LIMITS = FormingLimits(RADIUS)


def fitted(points: list[Point], bends: int, limits: FormingLimits = LIMITS) -> Fit | None:
    """A fit to points alone."""
    return fit_measured(Measured(OD, tuple(points)), bends, limits)


@settings(max_examples=60)
@given(seed=st.integers(0, 2**32 - 1), bends=st.integers(1, 8))
def test_corners_give_the_program_back(seed: int, bends: int) -> None:
    tube = random_tube(np.random.default_rng(seed), bends, angles=(0.5, 150.0), straights=(80.0, 700.0))
    fit = fitted(corner_points(tube), bends)
    assert fit is not None
    assert fit.converged
    assert_same_program(fit.chain, tube, 1e-7, 1e-7)


@settings(max_examples=60)
@given(seed=st.integers(0, 2**32 - 1), bends=st.integers(0, 6), told=st.booleans())
def test_exact_points_on_the_legs_give_the_program_back(seed: int, bends: int, told: bool) -> None:
    rng = np.random.default_rng(seed)
    tube = random_tube(rng, bends)
    fit = fitted(leg_points(tube, 4, rng, 0.0, told=told), bends)
    assert fit is not None
    assert_same_program(fit.chain, tube, 1e-6, 1e-6)


@pytest.mark.parametrize("degrees", [165.0, 175.0, 179.99, 180.0])
@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_u_bend_comes_back_from_points_on_its_legs_and_its_round(degrees: float, place: int) -> None:
    rng = np.random.default_rng(place)
    tube = random_tube(rng, 3)
    tube.angles[place] = np.radians(degrees)
    points = leg_points(tube, 4, rng, 0.0)
    local = RADIUS * np.array([np.sin(1.3), -np.cos(1.3), 0.0])
    top = tube.origins[2 * place + 1] + tube.frames[2 * place + 1] @ local
    points.insert(4 * (place + 1), Point("top", "centre", top, np.eye(3)))
    fit = fitted(points, 3)
    assert fit is not None
    assert_same_program(fit.chain, tube, 1e-5, 1e-5)


def test_points_on_parallel_legs_do_not_say_how_far_out_the_u_bend_lies() -> None:
    rng = np.random.default_rng(6)
    tube = random_tube(rng, 1)
    tube.angles[0] = np.pi
    fit = fitted(leg_points(tube, 4, rng, 0.0), 1)
    assert fit is not None
    assert fit.doubt.loose[6:].tolist() == [True, True, False]


def test_noise_moves_the_program_as_much_as_its_doubt_says() -> None:
    rng = np.random.default_rng(21)
    squares = []
    for _ in range(200):
        bends = int(rng.integers(1, 5))
        tube = random_tube(rng, bends)
        fit = fitted(leg_points(tube, 4, rng, 1.6), bends)
        assert fit is not None
        off = (fit.chain.parameters() - tube.parameters())[6:]
        off[bends + 1 : 2 * bends] = np.angle(np.exp(1j * off[bends + 1 : 2 * bends]))
        squares.append(off**2 / np.diagonal(fit.doubt.covariance)[6:])
    mean = np.concatenate(squares).mean()
    assert 0.9 < mean < 1.15  # 200 tubes: one standard error is about 0.03


def test_the_fit_is_as_good_as_one_begun_from_the_truth() -> None:
    rng = np.random.default_rng(4)
    for _ in range(60):
        bends = int(rng.integers(1, 7))
        tube = random_tube(rng, bends)
        points = leg_points(tube, 4, rng, 1.6)
        fit = fitted(points, bends)
        assert fit is not None
        assert fit.chi2 <= fit_from(tube, Evidence(points, bends, OD), LIMITS).chi2 + 0.01


def test_limits_hold_and_are_named() -> None:
    tube = random_tube(np.random.default_rng(9), 3, angles=(40.0, 90.0), straights=(150.0, 200.0))
    limits = FormingLimits(RADIUS, least_straight=250.0, largest_angle=float(tube.angles.max()) - 0.1)
    fit = fitted(corner_points(tube), 3, limits)
    assert fit is not None
    assert fit.chain.straights[1:3].min() >= 250.0 - 1e-9
    assert fit.chain.angles.max() <= limits.largest_angle + 1e-12
    assert fit.minimum.held.sum() >= 2
    # at the constrained optimum a step along what is free changes nothing to first order
    scaled = fit.minimum.normal.gradient / np.sqrt(np.diagonal(fit.minimum.normal.hessian))
    np.testing.assert_allclose(scaled[~fit.minimum.held], 0, atol=1e-4)
    held = fit.minimum.held
    assert (fit.doubt.covariance[held] == 0).all()


def test_without_end_points_the_end_straights_are_loose_and_the_rest_is_not() -> None:
    rng = np.random.default_rng(2)
    tube = random_tube(rng, 2)
    points = [p for p in leg_points(tube, 5, rng, 0.0) if p.what == "centre"]
    fit = fitted(points, 2)
    assert fit is not None
    assert fit.doubt.loose[6:].tolist() == [True, False, True, False, False, False]
    np.testing.assert_allclose(fit.chain.angles, tube.angles, atol=1e-8)
    assert fit.chain.straights[1] == pytest.approx(tube.straights[1], abs=1e-6)


def test_a_leg_with_one_point_is_not_enough() -> None:
    rng = np.random.default_rng(2)
    points = leg_points(random_tube(rng, 2), 4, rng, 0.0)
    assert fitted(points[:9], 4) is None
    one = Point("a", "end", np.zeros(3), np.eye(3))
    assert fitted([one], 0) is None


def test_corners_and_misses_are_as_good_as_their_doubts_say() -> None:
    """300 tubes of two bends, 8 outside places a leg: squares over doubts average to 1, good to a few hundredths."""
    rng = np.random.default_rng(19)
    corners, misses = [], []
    while len(corners) < 300:
        tube = random_tube(rng, 2)
        if not clear_of_itself(tube):
            continue
        measured = Measured(OD, tuple(outside_points(tube, 8, rng, 1.6)))
        fit = fit_measured(measured, 2, LIMITS)
        assert fit is not None
        corners.append((fit.chain.corners() - tube.corners()) / certainty_of(fit).corners)
        misses.append([miss.size / miss.doubt for miss in fit.misses()[1:-1]])
    assert np.mean(np.square(corners)) == pytest.approx(1.0, abs=0.06)
    np.testing.assert_allclose(np.mean(np.square(corners), axis=(0, 2)), 1.0, atol=0.2)
    assert np.mean(np.square(misses)) == pytest.approx(1.0, abs=0.04)


def test_a_planar_tube_bends_to_the_other_side_of_a_wrong_first_guess() -> None:
    """25 November 2026: a bend that changed its side was spun about its leg by the bound on its turn."""
    tube = Chain.from_program(Program(np.full(3, 400.0), np.radians([0, 180]), np.radians([40.0, 10])), RADIUS)
    points = leg_points(tube, 4, np.random.default_rng(3), 0.0)
    evidence = Measured(OD, tuple(points), planar=True).compiled(2)
    wrong = Chain.from_program(Program(np.full(3, 400.0), np.zeros(2), np.radians([40.0, 5])), RADIUS)
    fit = fit_from(wrong, evidence, LIMITS, planar=True)
    assert fit.chi2 < 1e-9
    assert abs(fit.chain.program.rotations[1]) == pytest.approx(np.pi)
    assert fit.chain.angles[1] == pytest.approx(np.radians(10))
