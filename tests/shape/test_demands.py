"""What a tube must meet, keep clear of or be: derivatives, and that the fit keeps it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.frames import FloatArray, unit
from plumbend.shape.certainty import certainty_of
from plumbend.shape.chain import Chain
from plumbend.shape.demands import (
    BendExactly,
    Demand,
    EqualAngles,
    LegAlong,
    LegLevel,
    LegsParallel,
    Symmetric,
)
from plumbend.shape.evidence import Evidence
from plumbend.shape.fit import Fit, FormingLimits, fit_from, fit_kept
from plumbend.shape.held import HeldEvidence, wrong_sides
from plumbend.shape.kinds import OutsidePoints
from plumbend.shape.measured import Measured
from plumbend.shape.points import AT_IT, Point, Standoff
from plumbend.shape.program import Program
from plumbend.shape.structure import fit_counting_bends, fit_measured
from support.limited import limited_tube, nearby
from support.tubes import OD, RADIUS, leg_points, random_tube

LIMITS = FormingLimits(RADIUS)
UP = np.array([0.0, 0.0, 1.0])


def demands_of(bends: int, rng: np.random.Generator, sd: float | None = None) -> list[Demand]:
    """One of each kind that a tube of two bends or more can have."""
    legs = [int(leg) for leg in rng.permutation(bends + 1)[:2] + 1]
    return [
        LegLevel(legs[0], sd),
        LegAlong(legs[1], unit(rng.normal(size=3)), "along something", sd),
        LegsParallel(legs[0], legs[1], sd),
        BendExactly(bends, 1.0, sd),
        EqualAngles(tuple(range(1, bends + 1)), sd),
        Symmetric(bends, None if sd is None else 100 * sd, sd, sd),
    ]


@settings(max_examples=10, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), bends=st.integers(2, 6))
def test_derivatives_of_demands_are_those_of_differences(seed: int, bends: int) -> None:
    rng = np.random.default_rng(seed)
    tube = random_tube(rng, bends)
    for demand in demands_of(bends, rng, 0.1):
        _, rows = demand.rows(tube, tube.motion(np.zeros(3)))

        def moved(size: FloatArray, demand: Demand = demand) -> FloatArray:
            there = tube.moved(size, np.zeros(3))
            # a direction square to a leg turns with it: differences are taken along those of the tube itself
            return demand.rows(there, there.motion(np.zeros(3)))[0]

        differences = [(moved(way) - moved(-way)) / 2e-6 for way in 1e-6 * np.eye(tube.parameters().size)]
        np.testing.assert_allclose(rows, np.array(differences).T, atol=1e-7)
        assert demand.sds is not None
        assert demand.sds.shape == (len(rows),)
        assert demand.bends <= bends


@settings(max_examples=8, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_derivatives_of_limits_are_those_of_differences(seed: int) -> None:
    rng = np.random.default_rng(seed)
    limited = limited_tube(rng)
    held, tube = HeldEvidence(limited.evidence), limited.start
    rows = held.demanded(tube).jacobian
    for i in range(rows.shape[1]):
        step = np.zeros(rows.shape[1])
        step[i] = 1e-5
        sides = [held.demanded(held.move(tube, way * step)).values for way in (1, -1)]
        # a foot that passes from a straight to a bend has no second derivative
        np.testing.assert_allclose(rows[:, i], (sides[0] - sides[1]) / 2e-5, rtol=1e-4, atol=1e-4)


def fitted(tube: Chain, points: list[Point], *demands: Demand, limits: FormingLimits = LIMITS) -> Fit:
    return fit_from(tube, Evidence(points, tube.bends, OD, demands=demands), limits)


S_BEND = Program(np.full(4, 400.0), np.array([0.0, np.pi, 1.2]), np.array([0.9, 0.9, 0.8]))
HOOP = Program(np.array([400.0, 300.0, 300.0, 400.0]), np.array([0.0, 2.0, -2.0]), np.array([0.9, 1.2, 0.9]))


@pytest.mark.parametrize(
    ("program", "demand"),
    [
        (S_BEND, lambda sd: LegLevel(2, sd)),
        (S_BEND, lambda sd: LegAlong(1, np.array([1.0, 0.0, 0.0]), "forward", sd)),
        (S_BEND, lambda sd: LegsParallel(1, 3, sd)),
        (S_BEND, lambda sd: BendExactly(2, 0.905, sd)),
        (S_BEND, lambda sd: EqualAngles((1, 2), sd)),
        (HOOP, lambda sd: Symmetric(3, sd and 100 * sd, sd, sd)),
    ],
)
def test_the_fit_keeps_what_is_demanded_and_its_doubt_has_no_part_in_it(
    program: Program, demand: Callable[[float | None], Demand]
) -> None:
    tube = Chain.from_program(program, RADIUS)  # leg 1 forward, leg 2 level
    points = leg_points(tube, 4, np.random.default_rng(3), 1.6)
    plain, kept = fitted(tube, points), fitted(tube, points, demand(None))
    off, rows = demand(None).rows(kept.chain, kept.chain.motion(kept.evidence.reference))
    np.testing.assert_allclose(off, 0, atol=1e-6)
    assert kept.demands_met
    assert kept.converged
    assert plain.chi2 < kept.chi2 < plain.chi2 + 20
    assert kept.dof == plain.dof + np.linalg.matrix_rank(rows)
    of_demand = [np.trace(rows @ fit.doubt.covariance @ rows.T) for fit in (kept, plain)]
    assert of_demand[0] < 1e-9 * of_demand[1]
    # as the same demand weighed, ever more so
    weighed = fitted(tube, points, demand(1e-4))
    assert weighed.chi2 == pytest.approx(kept.chi2, rel=1e-2)
    known, almost = certainty_of(kept), certainty_of(weighed)
    np.testing.assert_allclose(known.straights, almost.straights, rtol=1e-2)


def test_a_bend_told_exactly_is_held_and_has_no_doubt() -> None:
    rng = np.random.default_rng(5)
    tube = random_tube(rng, 2)
    tube.angles[1] = np.pi / 2
    known = certainty_of(fitted(tube, leg_points(tube, 4, rng, 1.6), BendExactly(2, np.pi / 2)))
    assert np.isnan(known.angles).tolist() == [False, True]
    assert known.held == {"bend-2"}
    assert np.isnan(known.covariance).all(axis=0).tolist() == [False] * 5 + [True]


def test_a_symmetric_tube_is_its_own_mirror_image_run_backwards() -> None:
    """Straights, angles and turns of the tube named from its far end are those of its mirror image."""
    rng = np.random.default_rng(8)
    for bends in (2, 3, 4, 5):
        tube = random_tube(rng, bends)
        half = bends // 2
        tube.straights[bends + 1 - (bends + 1) // 2 :] = tube.straights[: (bends + 1) // 2][::-1]
        tube.angles[bends - half :] = tube.angles[:half][::-1]
        turns = tube.rotations[1:]
        if bends % 2 == 0:
            turns[half - 1] = np.pi
        turns[bends - 1 - (bends - 1) // 2 :] = -turns[: (bends - 1) // 2][::-1]
        off, _ = Symmetric(bends).rows(tube, tube.motion(np.zeros(3)))
        np.testing.assert_allclose(off, 0, atol=1e-12)
        corners = tube.corners()
        # a reflection brings the corners, last first, onto themselves: all distances agree, and so does the hand
        back = corners[::-1]
        np.testing.assert_allclose(
            np.linalg.norm(corners[:, None] - corners, axis=2), np.linalg.norm(back[:, None] - back, axis=2), atol=1e-8
        )
        volume = np.linalg.det(corners[1:4] - corners[0]) if bends > 1 else 0.0
        assert np.linalg.det(back[1:4] - back[0]) == pytest.approx(-volume, abs=1e-3)


def rail(standoff: Standoff = AT_IT) -> tuple[Chain, Point]:
    """A straight tube forward, 1 m long, and a place to touch or keep clear of just under its middle."""
    tube = Chain.from_program(Program(np.array([1000.0]), np.zeros(0), np.zeros(0)), RADIUS)
    return tube, Point("f", "touch", np.array([500.0, 0.0, -OD / 2 - 2.0]), np.eye(3), standoff=standoff)


def measured_rail(rng: np.random.Generator, tube: Chain) -> list[Point]:
    return leg_points(tube, 6, rng, 1.0)


def miss_of(fit: Fit) -> float:
    """mm by which the tube's outside is farther than the gap from the place; the last point but one."""
    group = OutsidePoints(fit.evidence.points, [len(fit.evidence.points) - 2], fit.chain.bends, OD)
    return float(group.rows(fit.chain, fit.chain.motion(np.zeros(3)), None).residuals[0, 0])


@pytest.mark.parametrize(
    ("standoff", "wanted"),
    [
        (Standoff(10.0, exact=True), 0.0),
        (Standoff(10.0, within=3.0), -3.0),
        (Standoff(0.0, within=1.0), 1.0),
        (Standoff(0.0, exact=True), 0.0),
    ],
)
def test_a_touch_is_met_exactly_or_within_so_much(standoff: Standoff, wanted: float) -> None:
    tube, place = rail(standoff)
    points = measured_rail(np.random.default_rng(1), tube)
    fit = fitted(tube, [*points[:-1], place, points[-1]])
    assert fit.demands_met
    assert miss_of(fit) == pytest.approx(wanted, abs=1e-5)


def test_what_is_kept_clear_of_pushes_only_a_tube_that_comes_too_near() -> None:
    tube, place = rail()
    points = measured_rail(np.random.default_rng(1), tube)
    plain = fitted(tube, points)
    far = fitted(tube, [*points[:-1], replace(place, what="clear"), points[-1]])
    near = fitted(tube, [*points[:-1], replace(place, what="clear", standoff=Standoff(6.0)), points[-1]])
    assert far.chi2 == pytest.approx(plain.chi2, abs=1e-9)
    assert far.dof == plain.dof
    assert miss_of(far) > 0.5
    assert miss_of(near) == pytest.approx(0, abs=1e-5)
    assert near.chain.origin[2] + near.chain.far_end[2] > plain.chain.origin[2] + plain.chain.far_end[2]
    assert near.dof == plain.dof + 1


@pytest.mark.parametrize("exact", [False, True])
@pytest.mark.parametrize("side", [UP, -UP])
def test_the_tube_is_on_the_side_told_however_it_began(side: FloatArray, exact: bool) -> None:
    """Points so loose that they leave the side open, and a start on either one."""
    for below in (-60.0, 60.0):
        tube = Chain.from_program(
            Program(np.array([1000.0]), np.zeros(0), np.zeros(0)), RADIUS, np.array([0.0, 0.0, below])
        )
        points = [
            Point("A", "end", np.zeros(3), np.diag([1.0, 1.0, 1600.0])),
            Point("f", "touch", np.array([400.0, 0.0, 0.0]), np.eye(3), standoff=Standoff(5.0, exact, None, side)),
            Point("g", "touch", np.array([700.0, 0.0, 0.0]), np.eye(3), standoff=Standoff(5.0, exact, None, side)),
            Point("F", "end", np.array([1000.0, 0.0, 0.0]), np.diag([1.0, 1.0, 1600.0])),
        ]
        fit = fitted(tube, points)
        assert not wrong_sides(fit.chain, fit.evidence)
        assert fit.chain.origin[2] * side[2] == pytest.approx(OD / 2 + 5.0, abs=2.5)


def test_demands_that_exclude_each_other_are_told() -> None:
    rng = np.random.default_rng(3)
    tube = random_tube(rng, 2)
    fit = fitted(tube, leg_points(tube, 4, rng, 1.6), BendExactly(1, 0.5), BendExactly(1, 0.6))
    assert not fit.demands_met


def test_limits_hold_as_they_must_at_a_least_sum_of_squares() -> None:
    """Twelve tubes: nothing left to gain to 1e-6 doubts (Karush, Kuhn & Tucker), and no better end from elsewhere."""
    rng = np.random.default_rng(11)
    active = 0
    for _ in range(12):
        limited = limited_tube(rng)
        fit = fit_from(limited.start, limited.evidence, limited.limits)
        assert fit.held is not None
        assert fit.demands_met
        assert max(fit.held.stationary, fit.held.missed, fit.held.slack) <= 1e-6
        assert (fit.held.multipliers[~fit.held.demanded.equal] >= 0).all()
        active += int(fit.held.active.sum())
        other = fit_from(nearby(limited.start, rng), limited.evidence, limited.limits)
        if other.demands_met and other.chi2 < 2 * fit.chi2:
            assert fit.chi2 <= other.chi2 * (1 + 1e-3)
    assert active > 12


@pytest.mark.parametrize(("within", "bends"), [(3.0, 2), (15.0, 2), (80.0, 0)])
def test_a_body_line_is_followed_with_the_fewest_bends_that_keep_within(within: float, bends: int) -> None:
    """Eleven places under a tube of two bends, up to 0.3 of what is left open off it: that buys no bend."""
    program = Program(np.array([400.0, 350.0, 400.0]), np.array([0.0, np.pi]), np.radians([25.0, 30.0]))
    upright = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    tube = Chain.from_program(program, RADIUS, frame=upright)
    places, stations = tube.polyline(0.01)
    rng = np.random.default_rng(0)
    line = [np.array([np.interp(s, stations, axis) for axis in places.T]) for s in np.linspace(0, stations[-1], 13)]
    standoff = Standoff(within=within, tube_is=UP)
    points = [
        Point(
            f"t{i}",
            "touch",
            at + (rng.uniform(-0.3, 0.3) * within - OD / 2) * UP,
            np.eye(3) * within**2,
            standoff=standoff,
        )
        for i, at in enumerate(line[1:-1])
    ]
    ends = [Point(name, "end", at, np.eye(3)) for name, at in (("A", tube.origin), ("F", tube.far_end))]
    counted = fit_counting_bends(Measured(OD, (ends[0], *points, ends[1])), FormingLimits(RADIUS, 30.0))
    assert counted is not None
    assert counted.demands_met
    assert counted.chain.bends == bends
    assert max(abs(miss.size) for miss in counted.misses()[1:-1]) <= within + 1e-4


@pytest.mark.parametrize("seed", [1, 13, 16, 24, 34])
def test_demands_that_say_the_same_lead_no_tube_off(seed: int) -> None:
    """26 November 2026: of 40 such tubes 21 ended far off, or did not settle.

    Legs 1 and 3 are parallel wherever bends 1 and 2 are alike and half a turn lies between them. On the way there the
    two demands differ by the square of what is missed.
    """
    rng = np.random.default_rng(seed)
    tube = random_tube(rng, 2, angles=(25.0, 100.0), straights=(150.0, 500.0))
    tube = replace(tube, rotations=np.array([0, np.pi]), angles=np.full(2, tube.angles[0]))
    points = [replace(point, cov=np.eye(3) * 1.6**2) for point in leg_points(tube, 2, rng, 1.6)]
    measured = Measured(OD, tuple(points), demands=(LegsParallel(1, 3), EqualAngles((1, 2))))
    fit = fit_measured(measured, 2, LIMITS)
    assert fit is not None
    assert fit.demands_met
    assert fit.converged
    assert fit.chi2 <= 1.001 * fit_kept(tube, measured.compiled(2), LIMITS).chi2 + 0.01
