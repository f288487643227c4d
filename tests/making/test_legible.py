"""Numbers that tape and dial can show: on their grid, the best there is, within limits, and true to demands."""

from __future__ import annotations

from dataclasses import replace
from typing import get_args

import numpy as np
import pytest

from plumbend.estimate.minimise import minimise
from plumbend.frames import FloatArray
from plumbend.making.buildable import Bench
from plumbend.making.habit import Begins, Habit, Marks, MeasuredFrom
from plumbend.making.legible import Legible, legible_program
from plumbend.making.setting import Setting, setting_for
from plumbend.making.steps import making_of
from plumbend.making.to_set import numbers_to_set
from plumbend.shape.chain import POSE, Chain
from plumbend.shape.demands import BendExactly, Demand, EqualAngles, LegsParallel, Symmetric
from plumbend.shape.fit import Fit, FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.program import Program
from plumbend.shape.structure import fit_measured
from plumbend.shop import Bender, Die, Springback
from plumbend.tubing import Tubing
from plumbend.units import MM_PER_INCH, Units
from support.tubes import OD, RADIUS, clear_of_itself, corner_points, leg_points, random_tube

LIMITS = FormingLimits(RADIUS, 90.0)
BARE = Die("d", RADIUS, grip=90.0)
KNOWN = replace(BARE, reference_offset=12.0, springback=Springback(np.radians(1.0), 0.03), stock_per_radian=137.0)


def fitted(tube: Chain, sd: float = 1.6, seed: int = 0, demands: tuple[Demand, ...] = (), planar: bool = False) -> Fit:
    points = leg_points(tube, 4, np.random.default_rng(seed), sd, told=True)
    fit = fit_measured(Measured(OD, tuple(points), planar=planar, demands=demands), tube.bends, LIMITS)
    assert fit is not None
    return fit


def flat_tube(straights: list[float], degrees: list[float], turns: list[float]) -> Chain:
    return Chain(np.zeros(3), np.eye(3), np.array(straights), np.radians(turns), np.radians(degrees), RADIUS)


def legible_of(fit: Fit, die: Die = BARE, units: Units = "mm", bender: Bender | None = None) -> Legible:
    found = legible_program(fit, setting_for(die, bender or Bender(), units, fit.chain.bends), LIMITS, die.max_wrap)
    assert found is not None
    return found[0]


def said_of(fit: Fit, die: Die = BARE) -> list[str]:
    return [notice.text for notice in numbers_to_set(fit, Bench(Tubing(OD), die, "mm"))[1]]


def on_grid(values: FloatArray, step: float) -> bool:
    return bool(np.abs(values / step - np.round(values / step)).max(initial=0.0) < 1e-7)


def tubes(count: int, bends: tuple[int, ...]) -> list[tuple[Chain, int]]:
    rng = np.random.default_rng(12)
    found: list[tuple[Chain, int]] = []
    while len(found) < count:
        tube = random_tube(rng, bends[len(found) % len(bends)])
        if clear_of_itself(tube):
            found.append((tube, len(found)))
    return found


def quadratic(fit: Fit, setting: Setting) -> tuple[FloatArray, FloatArray]:
    """What numbers set cost, the pose minimised out, straight from the covariance; and the exact ones in steps."""
    covariance = setting.matrix @ fit.doubt.covariance[POSE:, POSE:] @ setting.matrix.T
    return np.linalg.inv(covariance), setting.set_for(fit.chain.parameters()[POSE:])


def cheapest(metric: FloatArray, centre: FloatArray, cost: float) -> float:
    """The least that whole numbers cost, all within ``cost`` being gone through, one number after the other."""
    upper = np.linalg.cholesky(metric[::-1, ::-1])[::-1, ::-1]
    chosen, costs = np.zeros((1, 0)), np.zeros(1)
    for k in range(len(centre)):
        stiff = upper[k, k]
        middle = centre[k] - (chosen - centre[:k]) @ upper[:k, k] / stiff
        half = np.sqrt(np.maximum(cost - costs, 0.0)) / stiff
        low = np.ceil(middle - half)
        counts = np.maximum(np.floor(middle + half) - low + 1, 0).astype(int)
        rows = np.repeat(np.arange(counts.size), counts)
        value = low[rows] + np.arange(counts.sum()) - np.repeat(np.cumsum(counts) - counts, counts)
        costs = costs[rows] + (stiff * (value - middle[rows])) ** 2
        chosen = np.column_stack([chosen[rows], value])
    return float(costs.min())


@pytest.mark.parametrize("die", [BARE, KNOWN], ids=["straights", "marks"])
@pytest.mark.parametrize("units", ["mm", "in"])
def test_no_other_numbers_on_the_grid_fit_better(die: Die, units: Units) -> None:
    for tube, seed in tubes(4, (1, 2, 3, 4)):
        fit = fitted(tube, seed=seed)
        setting = setting_for(die, Bender(), units, tube.bends)
        legible = legible_of(fit, die, units)
        metric, centre = quadratic(fit, setting)
        program = legible.program
        numbers = setting.set_for(_unwrapped(fit, program))
        off = numbers - centre
        assert on_grid(numbers, 1.0)
        assert legible.proven
        least = cheapest(metric, centre, float(off @ metric @ off) * (1 + 1e-6) + 1e-9)
        # of those that are nearly the least the one is taken that really misses least
        assert least * (1 - 1e-6) <= off @ metric @ off <= 1.05 * least + 1e-9
        assert legible.chi2_added == pytest.approx(off @ metric @ off, rel=0.1, abs=0.01)
        assert legible.chi2_added <= legible.plain_added + 1e-6


@pytest.mark.parametrize("begins", ["start", "far", "middle"])
@pytest.mark.parametrize("measured", ["end", "last bend"])
def test_every_habit_has_its_own_marks_on_the_tape(measured: MeasuredFrom, begins: Begins) -> None:
    for units, step in (("mm", 1.0), ("in", MM_PER_INCH / 16)):
        tube, seed = tubes(1, (3,))[0]
        fit = fitted(tube, seed=seed)
        setting = setting_for(KNOWN, Bender(), units, tube.bends, Habit("start", measured, begins))
        metric, centre = quadratic(fit, setting)
        for marks in get_args(Marks):
            bench = Bench(Tubing(OD), replace(KNOWN, tail=260.3), units, habit=Habit(marks, measured, begins))
            legible, _ = numbers_to_set(fit, bench)
            assert legible is not None
            assert legible.proven
            making = making_of(Chain.from_program(legible.program, RADIUS), bench, ("A", "F"))
            drawn = [made.marks[0] for made in making.steps]
            assert on_grid(np.array([mark.at for mark in drawn]), step)
            assert on_grid(np.array([mark.behind for mark in drawn]), step)
            # what is shown of the habit's marks is what is told to be drawn, but for the trim
            shown = np.array([legible.marks[made.bend - 1] for made in making.steps])
            trim = [making.trims[begins == "far"] if mark.end else 0.0 for mark in drawn]
            toward_tail = [
                -1.0 if mark.end == made.tail else 1.0 for mark, made in zip(drawn, making.steps, strict=True)
            ]
            lines = np.array([mark.at - way * mark.behind for mark, way in zip(drawn, toward_tail, strict=True)])
            assert lines == pytest.approx(shown + trim)
        numbers = setting.set_for(_unwrapped(fit, legible.program))
        off = numbers - centre
        least = cheapest(metric, centre, float(off @ metric @ off) * (1 + 1e-6) + 1e-9)
        assert least * (1 - 1e-6) <= off @ metric @ off <= 1.05 * least + 1e-9


def _unwrapped(fit: Fit, program: Program) -> FloatArray:
    """A program (q,) with its rotations as the fit counts them."""
    rotations = np.unwrap(np.stack([fit.chain.rotations, program.rotations]), axis=0)[1]
    return np.concatenate([program.straights, rotations[1:], program.angles])


def test_what_the_numbers_cost_is_what_a_fit_with_them_held_misses() -> None:
    for tube, seed in tubes(3, (2, 3)):
        fit = fitted(tube, seed=seed)
        legible = legible_of(fit)
        held = replace(fit.chain, straights=legible.program.straights, angles=legible.program.angles)
        held = replace(held, rotations=legible.program.rotations)
        free = np.repeat([np.inf, 0.0], [POSE, fit.evidence.size - POSE])
        values = held.parameters()
        minimum = minimise(fit.evidence, held, values - free, values + free)
        assert minimum.converged
        assert legible.chi2_added == pytest.approx(minimum.normal.chi2 - fit.chi2, rel=1e-5)
        assert legible.corners == pytest.approx(minimum.state.corners(), abs=2e-3)


def test_marks_and_stops_are_those_that_make_the_program() -> None:
    tube, _ = tubes(1, (3,))[0]
    bender = Bender(dial_step=np.radians(0.5), tape_step=MM_PER_INCH / 32)
    legible = legible_of(fitted(tube), KNOWN, "in", bender)
    straights, angles = legible.program.straights, legible.program.angles
    assert legible.marks is not None
    assert legible.stops is not None
    assert legible.marks[0] == pytest.approx(straights[0] - 12.0)
    assert legible.marks[1] == pytest.approx(straights[:2].sum() + 137.0 * angles[0] - 12.0)
    assert legible.marks[2] == pytest.approx(straights[:3].sum() + 137.0 * angles[:2].sum() - 12.0)
    assert legible.far_end == pytest.approx(straights.sum() + 137.0 * angles.sum())
    assert legible.stops == pytest.approx(angles * 1.03 + np.radians(1.0))
    assert on_grid(np.append(legible.marks, legible.far_end), MM_PER_INCH / 32)
    assert on_grid(np.degrees(legible.stops), 0.5)
    assert on_grid(np.degrees(legible.program.rotations), 1.0)


def test_the_mark_of_the_test_bend_is_where_the_shop_puts_it() -> None:
    # common practice: the bend starts at 412.0, the offset is +12.0, so the mark lies at 400.0
    setting = setting_for(replace(BARE, reference_offset=12.0), Bender(), "mm", 1)
    assert setting.set_for(np.array([412.0, 300.0, np.radians(90.0)]))[0] == pytest.approx(400.0, abs=0.1)


def test_a_limit_is_kept_to_by_the_last_step_within_it() -> None:
    die = replace(KNOWN, max_wrap=np.radians(95.0))
    limits = FormingLimits(RADIUS, 150.3, np.radians(90.5))
    tube = flat_tube([300.0, 149.0, 300.0], [60.0, 92.0], [0.0, 50.0])
    points = corner_points(tube)
    fit = fit_measured(Measured(OD, tuple(points)), 2, limits)
    assert fit is not None
    for marked in (False, True):
        setting = setting_for(die if marked else BARE, Bender(), "mm", 2)
        found = legible_program(fit, setting, limits, die.max_wrap if marked else None)
        assert found is not None
        program = found[0].program
        assert 150.3 - 1e-6 <= program.straights[1] <= (153.0 if marked else 151.0 + 1e-6)
        assert np.degrees(program.angles[1]) <= 90.5
        assert found[0].stops is None or np.degrees(found[0].stops).max() <= 95.0


def test_a_flat_tube_stays_flat() -> None:
    tube = flat_tube([300.0, 250.4, 310.3, 290.0], [45.3, 60.6, 30.2], [0.0, 180.0, 180.0])
    legible = legible_of(fitted(tube, planar=True))
    assert np.degrees(np.abs(legible.program.rotations)) == pytest.approx([0.0, 180.0, 180.0], abs=1e-12)


def test_an_end_that_nothing_fixes_takes_the_nearest_step_and_costs_nothing() -> None:
    tube = flat_tube([300.3, 250.4, 310.0], [45.0, 60.0], [0.0, 40.0])
    points = [replace(point, what="centre") for point in leg_points(tube, 4, np.random.default_rng(0), 1e-3)]
    points = [replace(point, cov=np.eye(3)) for point in points]
    fit = fit_measured(Measured(OD, tuple(points)), 2, LIMITS)
    assert fit is not None
    legible = legible_of(fit)
    assert abs(legible.program.straights[0] - fit.chain.straights[0]) <= 0.5
    assert abs(legible.program.straights[2] - fit.chain.straights[2]) <= 0.5
    other = legible_of(
        replace(fit, chain=replace(fit.chain, straights=fit.chain.straights + np.array([0.0, 0.0, 0.4])))
    )
    assert other.chi2_added == pytest.approx(legible.chi2_added, abs=1e-6)


def hoop(demands: tuple[Demand, ...], straights: tuple[float, float, float] = (300.3, 400.2, 301.4)) -> Fit:
    return fitted(flat_tube(list(straights), [89.4, 90.2], [0.0, 0.3]), demands=demands)


def test_an_exact_bend_stays_exact() -> None:
    fit = hoop((BendExactly(1, np.radians(90.0)),))
    assert np.degrees(legible_of(fit).program.angles[0]) == pytest.approx(90.0, abs=1e-12)
    assert said_of(fit) == []


def test_an_exact_bend_that_the_dial_cannot_stop_at_is_told() -> None:
    # 90 degrees ask for a stop of 93.7
    assert said_of(hoop((BendExactly(1, np.radians(90.0)),)), KNOWN) == [
        "The steps of tape and dial do not allow bend 1 of 90 degrees: it is 0.3 degrees off."
    ]


def test_equal_angles_stay_equal() -> None:
    for die in (BARE, KNOWN):
        fit = hoop((EqualAngles((1, 2)),))
        angles = legible_of(fit, die).program.angles
        assert angles[0] == pytest.approx(angles[1], abs=1e-12)
        assert said_of(fit, die) == []


def test_a_symmetric_tube_stays_symmetric() -> None:
    rng = np.random.default_rng(3)
    half = rng.uniform(200, 400, 2)
    tube = flat_tube([*half, *half[::-1]], [44.4, 61.7, 44.4], [0.0, 35.2, -35.2])
    fit = fitted(tube, demands=(Symmetric(3),))
    program = legible_of(fit).program
    assert program.straights == pytest.approx(program.straights[::-1], abs=1e-9)
    assert program.angles == pytest.approx(program.angles[::-1], abs=1e-12)
    assert program.rotations[1] == pytest.approx(-program.rotations[2], abs=1e-12)
    assert on_grid(program.straights, 1.0)
    assert said_of(fit) == []


def test_parallel_legs_stay_parallel_where_the_dial_allows_it() -> None:
    fit = hoop((LegsParallel(1, 3),))
    program = legible_of(fit).program
    assert np.degrees(program.angles).sum() == pytest.approx(180.0, abs=1e-9)
    assert np.degrees(program.rotations[1]) == pytest.approx(0.0, abs=1e-9)
    assert said_of(fit) == []
