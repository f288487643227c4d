"""What the notcher can hold and reach."""

import math

import pytest

from plumbend.ends.notching import NotcherCheck, check_notcher, when_to_cut
from plumbend.shop import Notcher


def test_notcher_is_checked_only_by_what_the_shop_says() -> None:
    notcher = Notcher(most_off_square=math.radians(50), cup=40.0)
    assert check_notcher(notcher, math.radians(45), 62.9) == NotcherCheck(angle=True, depth=False)
    assert check_notcher(notcher, math.radians(60), 38.0) == NotcherCheck(angle=False, depth=True)
    assert check_notcher(Notcher(), 0.0, 38.0) == NotcherCheck(angle=None, depth=None)


def test_the_end_of_the_scale_and_the_bottom_of_the_cup_are_reached() -> None:
    notcher = Notcher(most_off_square=math.radians(45), cup=41.275)
    assert check_notcher(notcher, math.radians(45.04), 41.9) == NotcherCheck(angle=True, depth=True)
    assert check_notcher(notcher, math.radians(45.6), 42.9) == NotcherCheck(angle=False, depth=False)


@pytest.mark.parametrize(("short_point", "when"), [(150.0, "either"), (90.0, "after"), (60.0, "neither")])
def test_cut_waits_where_the_bender_needs_the_straight(short_point: float, when: str) -> None:
    assert when_to_cut(short_point, grip=100.0, clamp=80.0) == when


def test_cut_goes_first_where_the_notcher_could_not_hold_the_bent_tube() -> None:
    assert when_to_cut(90.0, grip=80.0, clamp=100.0) == "before"
    assert when_to_cut(90.0, grip=None, clamp=100.0) is None
