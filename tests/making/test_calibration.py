"""Test bends to the figures of a die."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from plumbend.making import calibration as c

OD, CLR = 44.45, 152.4
OFFSET, STOCK, CONSTANT, PART = 12.0, 150.5, math.radians(1.1), 0.022


def reach(own: float, other: float, radius: float, angle: float) -> float:
    """Farthest place along a leg, found from the outline itself rather than by a formula of the angle."""
    along = np.linspace(0, angle, 4001)
    arc = own + (radius + OD / 2) * np.sin(along)
    end = own + (radius + OD / 2) * math.sin(angle) + other * math.cos(angle)
    return float(max(arc.max(), end))


def bent(degrees: float, radius: float = CLR, rng: np.random.Generator | None = None, batch: str = "") -> c.TriedBend:
    """A test bend read without error, or with the errors that are counted on."""
    angle = math.radians(degrees)
    start, mark, sawn = 400 + OFFSET, 400.0, 1100.0
    rest = sawn - start - STOCK * angle
    width = (radius + OD / 2) * (1 - math.cos(angle)) if angle >= c.WIDE else None

    def sd(size: float) -> float:
        return 0.0 if rng is None else float(rng.normal(0, size))

    return c.TriedBend(
        sawn + sd(c.SAWN),
        mark + sd(c.SCRIBED),
        angle + sd(c.READ_TRUE),
        CONSTANT + (1 + PART) * angle + sd(c.READ_POINTER),
        reach(start, rest, radius, angle) + sd(c.SQUARED),
        reach(rest, start, radius, angle) + sd(c.SQUARED),
        None if width is None else width + sd(c.SQUARED),
        batch,
    )


def test_the_worked_test_bend() -> None:
    """A 90 worked by hand: legs 586.6 and 526.2 to the outside give the start at 412.0, the offset + 12.0 and so the
    mark at 400.0; 236.4 mm went into it."""
    worked = c.TriedBend(1000.0, 400.0, math.pi / 2, clamp_leg=586.6, tail_leg=526.2)
    told = c.calibrated([worked], OD, CLR)
    assert told.reference_offset is not None
    assert told.stock_per_radian is not None
    assert 412.0 - told.reference_offset.value == pytest.approx(400.0, abs=0.1)
    assert told.stock_per_radian.value * math.pi / 2 == pytest.approx(236.4, abs=0.1)
    assert (told.bent_clr, told.constant, told.part) == (None, None, None)


def test_exact_readings_give_exact_figures() -> None:
    told = c.calibrated([bent(180, 154.0), bent(95, 154.0), bent(30, 154.0)], OD, CLR)
    figures = (told.reference_offset, told.stock_per_radian, told.bent_clr, told.constant, told.part)
    assert [f.value for f in figures if f] == pytest.approx([OFFSET, STOCK, 154.0, CONSTANT, PART], abs=1e-5)


def test_a_new_batch_takes_the_slope_of_the_others() -> None:
    new = bent(90, batch="new")
    assert new.pointer is not None
    new = replace(new, pointer=new.pointer + math.radians(1.3))
    told = c.calibrated([bent(90), bent(30), new], OD, CLR)
    assert told.constant is not None
    assert told.part is not None
    assert told.constant.value == pytest.approx(CONSTANT + math.radians(1.3))
    assert told.part.value == pytest.approx(PART)


def test_nothing_is_told_that_was_not_read() -> None:
    bare = replace(bent(90), tail_leg=None, pointer=None)
    told = c.calibrated([bare], OD, CLR)
    assert told.reference_offset is not None
    assert (told.stock_per_radian, told.springback) == (None, None)


@pytest.mark.parametrize("slip", ["clamp_leg", "tail_leg", "width", "pointer", "mark"])
def test_one_misread_test_bend_is_found_and_left_out(slip: str) -> None:
    rng = np.random.default_rng(5)
    bends = [bent(degrees, rng=rng) for degrees in (180, 90, 180, 45, 90)]
    wrong = 2
    by = math.radians(10) if slip == "pointer" else 25.4
    spoilt = replace(bends[wrong], **{slip: getattr(bends[wrong], slip) + by})
    told = c.calibrated([*bends[:wrong], spoilt, *bends[wrong + 1 :]], OD, CLR)
    assert told.wrong == wrong
    assert told == replace(c.calibrated([*bends[:wrong], *bends[wrong + 1 :]], OD, CLR), wrong=wrong)


def test_two_test_bends_that_differ_accuse_neither() -> None:
    slip = replace(bent(90), clamp_leg=500.0)
    told = c.calibrated([bent(90), slip], OD, CLR)
    assert told.wrong is None
    assert told.widened > 10


def test_next_test_bend() -> None:
    assert c.next_angle([bent(90), bent(30)], OD, CLR, math.pi) == pytest.approx(math.pi)
    assert c.next_angle([bent(180), bent(180)], OD, CLR, math.pi) == pytest.approx(math.radians(30))
    assert c.next_angle([bent(degrees) for degrees in (180, 180, 90, 90, 30, 30, 30)], OD, CLR, math.pi) is None


def test_doubts_are_what_the_errors_are() -> None:
    """240 sets with the errors that are counted on: the mean square of error over doubt is near one for each figure,
    within 4.5 of its own standard errors, sqrt(2/240)."""
    rng = np.random.default_rng(11)
    squares = []
    for _ in range(240):
        radius = CLR * (1 + rng.normal(0, c.STAMP))
        told = c.calibrated([bent(degrees, radius, rng) for degrees in (180, 90, 30, 30)], OD, CLR)
        found = (told.reference_offset, told.stock_per_radian, told.bent_clr, told.constant, told.part)
        true = (OFFSET, STOCK, radius, CONSTANT, PART)
        squares.append([((f.value - at) / f.sd) ** 2 for f, at in zip(found, true, strict=True) if f])
    assert np.mean(squares, axis=0) == pytest.approx(np.ones(5), abs=0.41)
