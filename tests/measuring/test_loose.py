"""What nothing fixes, which reading would, and what is known badly: in words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plumbend.measuring.adjustment import Adjusted, adjust
from plumbend.measuring.loose import loose_of
from plumbend.measuring.places import Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Coordinate
from plumbend.measuring.remarks import remarks_on
from support.frames import CENTRE, PLACES, TRUE, drop, height, readings_of_frame, tape, tapes

BASES = [replace(place, at=tuple(TRUE[place.name])) for place in PLACES[:4]]
FREE_BASES = [Place(name, base=True) for name in ("B1", "B2", "B3", "B4")]
TIES = tapes("B2-B1 B3-B2 B4-B3 B4-B1 B3-B1 B4-B2")


def said(found: Adjusted, code: str = "not-fixed") -> list[str]:
    return [notice.text for notice in remarks_on(found, "mm") if notice.code == code]


@pytest.mark.parametrize(
    ("readings", "text"),
    [
        (
            [drop("A")],
            "Nothing fixes how far up A is. Any one of these would: the height of A, a tape from B1 to A or a tape "
            "from B3 to A.",
        ),
        (
            [height("A")],
            "Nothing fixes how far forward and how far left A is. Any one of these would: a plumb drop of A.",
        ),
        (
            [],
            "Nothing fixes how far forward, how far left and how far up A is, and one reading more is not enough. "
            "Measure it from more places.",
        ),
    ],
    ids=["a drop", "a height", "nothing"],
)
def test_a_point_that_one_reading_more_would_fix(readings: list[Reading], text: str) -> None:
    assert said(adjust([*BASES, Place("A")], readings)) == [text]


def test_the_reading_named_does_fix_it() -> None:
    readings = [height("A"), tape("A", "B1")]
    found = adjust([*BASES, Place("A")], readings)
    (place,) = loose_of(found).places
    assert place.name == "A"
    assert place.together
    assert place.mends
    for mend in place.mends:
        mended = adjust([*BASES, Place("A")], [*readings, mend])
        assert not mended.loose.any()
        assert loose_of(mended).places == ()


def test_of_readings_offered_only_those_that_fix_it_are_named() -> None:
    found = adjust([*BASES, Place("A")], [drop("A")])
    offered = [Coordinate("A", "left", 0.0, sd=1.5), height("A")]
    (place,) = loose_of(found, offered).places
    assert place.mends == (offered[1],)
    assert place.axes == ("up",)


def test_two_points_that_move_together_are_both_named() -> None:
    found = adjust([*BASES, Place("A"), Place("B")], [height("A"), drop("A"), height("B"), tape("B", "A")])
    assert [place.name for place in loose_of(found).places] == ["B"]
    found = adjust([*BASES, Place("A"), Place("B")], [height("A"), tape("A", "B1"), height("B"), tape("B", "A")])
    assert [place.name for place in loose_of(found).places] == ["A", "B"]


def test_a_frame_that_hangs_on_nothing() -> None:
    found = adjust(FREE_BASES, TIES)
    assert loose_of(found).frame == ("move and turn every way",)
    assert said(found) == [
        "All places together can still move and turn every way: nothing ties the readings to the vehicle. Give a base "
        "its place, or measure from one that has it."
    ]


def test_a_frame_that_only_heights_hold() -> None:
    found = adjust(FREE_BASES, [*TIES, *(height(base.name) for base in FREE_BASES)])
    assert said(found) == [
        "All places together can still turn on the floor, shift forward or aft or shift left or right: nothing ties "
        "the readings to the vehicle. Give a base its place, or measure from one that has it."
    ]


def test_a_frame_that_can_turn_about_its_one_given_base() -> None:
    bases = [Place("B1", (0.0, 0.0, 0.0), base=True), *FREE_BASES[1:]]
    found = adjust(bases, [*TIES, *(height(base.name) for base in bases[1:])])
    assert loose_of(found).frame == ("turn on the floor",)


def test_a_whole_frame_has_nothing_loose() -> None:
    found = adjust(PLACES, readings_of_frame(), [CENTRE])
    assert loose_of(found).frame == ()
    assert loose_of(found).places == ()
    assert said(found) == []


def test_a_low_point_over_the_bases_is_weak_in_height() -> None:
    true = {**TRUE, "L": np.array([700.0, 600.0, 60.0])}
    swing_arms = tapes("L-B1 L-B2 L-B3 L-B4", true)
    found = adjust([*BASES, Place("L", hints=("above",))], swing_arms)
    assert said(found, "weak-place") == [
        "L is good to 20 mm up or down, but to 2 mm the other ways: all that was read of it runs nearly square to "
        "that. Measure the height of L as well."
    ]
    mended = adjust([*BASES, Place("L")], [*swing_arms, height("L", true)])
    assert said(mended, "weak-place") == []


def test_a_high_point_over_the_bases_is_not_weak() -> None:
    swing_arms = tapes("B-B1 B-B2 B-B3 B-B4")
    assert said(adjust([*BASES, Place("B")], swing_arms), "weak-place") == []


def test_readings_that_no_other_checks_are_listed() -> None:
    found = adjust([*BASES, Place("A")], [replace(drop("A"), typed="A drop 4-3/4 L 12-5/8"), height("A")])
    assert said(found, "unchecked") == [
        "No other reading checks A drop 4-3/4 L 12-5/8 and the height of A. A slip there would not be seen."
    ]
    assert found.unchecked() == found.network.readings
    assert np.isnan(found.scatter)
    repeated = adjust([*BASES, Place("A")], [drop("A"), height("A"), height("A")])
    assert repeated.unchecked() == (drop("A"),)
    assert said(repeated, "not-told-apart") == [
        "These are checked only together, so a slip in one of them would be seen, but not in which: the height of A "
        "and the height of A. One reading more of another kind would tell."
    ]
