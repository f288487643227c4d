"""What each kind of reading says of places: figures, touched sides, habits, derivatives, and what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from typing import cast

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.measuring.lengths import Along, Datum, Down, Gap, Height, Off, OffPlane, Tape
from plumbend.measuring.places import Hint, Place
from plumbend.measuring.readings import Amount, Reading
from plumbend.measuring.relations import Below, Coordinate, Drop, InLine, Level, SymmetricPair
from plumbend.measuring.tapes import TAPES, TapeHabits
from plumbend.measuring.touched import Side, Touched

FLOOR = Datum("floor", -20.0, rise_forward=-0.012, rise_left=0.007)
TUBE = 44.45
OF_EVERY_KIND: tuple[Reading, ...] = (
    Tape("A", "B", value=900.0, sd=1.2, touched=Touched("top", TUBE), start_touched=Touched("left", 60.0)),
    Height("A", FLOOR, value=900.0, sd=1.0),
    Down("A", Datum("string", 1500.0), value=900.0, sd=1.0, touched=Touched("top", TUBE)),
    Drop("A", 100.0, 200.0, sd=1.5),
    Coordinate("A", "left", 200.0, sd=2.5),
    Along("A", "B", "C", value=300.0, sd=1.2),
    Off("A", "B", "C", value=-300.0, sd=1.2, touched=Touched("front", TUBE)),
    OffPlane("A", value=300.0, sd=1.5),
    Gap("A", "B", (0.6, 0.0, -0.8), value=40.0, sd=1.0),
    Level("A", "B", 10.0, sd=1.0),
    Below("A", "B", sd=1.5),
    InLine("A", "B", "C", sd=1.5),
    SymmetricPair("A", "B", sd=2.0),
)

coordinates = st.floats(-2000, 2000)
places = st.tuples(coordinates, coordinates, coordinates).map(np.array)


def kind(reading: Reading) -> str:
    return type(reading).__name__


def computed(reading: Reading, numbers: FloatArray) -> FloatArray:
    """Computed numbers of a reading with its places A, B, C and then its plane in one row of eleven."""
    at = dict(zip("ABC", numbers[:9].reshape(3, 3), strict=True))
    values: FloatArray = reading.computed(at, {"centre plane": numbers[9:]}).values[0]
    return values


@pytest.mark.parametrize("reading", OF_EVERY_KIND, ids=kind)
@settings(max_examples=30, deadline=None, derandomize=True)
@given(a=places, b=places, c=places, offset=coordinates, heading=st.floats(-1.2, 1.2))
def test_derivatives_are_exact(
    reading: Reading, a: FloatArray, b: FloatArray, c: FloatArray, offset: float, heading: float
) -> None:
    apart = [float(np.linalg.norm(p - q)) for p, q in ((a, b), (b, c), (a, c))]
    plan = float(np.linalg.norm((c - b)[:2]))
    if min(*apart, plan) < 100:  # two places as good as one have no direction, and a plumb string no left
        return
    sizes = np.sort(np.abs(c - b))
    if sizes[1] - sizes[0] < 1:  # where two axes are as far from the line either serves
        return
    numbers = np.concatenate([a, b, c, [offset, heading]])
    at = {"A": a, "B": b, "C": c}
    exact = reading.computed(at, {"centre plane": numbers[9:]})
    whole = np.zeros((reading.components, 11))
    for k, name in enumerate(reading.places):
        column = 3 * "ABC".index(name)
        whole[:, column : column + 3] = exact.by_place[0, :, k]
    whole[:, 9:] = exact.by_plane[0]
    for i in range(11):
        step = 1e-4 if i == 10 else 1e-1
        ahead, behind, far_ahead, far_behind = (
            computed(reading, numbers + times * step * np.eye(11)[i]) for times in (1, -1, 2, -2)
        )
        # central differences of the fourth order
        difference = (8 * (ahead - behind) - (far_ahead - far_behind)) / (12 * step)
        scale = max(1.0, float(np.abs(whole[:, i]).max()))
        assert np.abs(difference - whole[:, i]).max() < 1e-6 * scale


AT = {"A": np.array([300.0, 400.0, 500.0]), "B": np.array([0.0, 100.0, 100.0]), "C": np.array([1000.0, 100.0, 100.0])}
MIDDLE = {"centre plane": np.array([100.0, 0.0])}
TURNED = {"centre plane": np.array([0.0, math.atan2(3, 4)])}


@pytest.mark.parametrize(
    ("reading", "planes", "figures"),
    [
        (Tape("A", "B", value=1.0, sd=1.0), MIDDLE, [math.sqrt(300**2 + 300**2 + 400**2)]),
        (Height("A", value=1.0, sd=1.0), MIDDLE, [500.0]),
        (Drop("A", 1.0, 1.0, sd=1.0), MIDDLE, [300.0, 400.0]),
        (Coordinate("A", "left", 1.0, sd=1.0), MIDDLE, [400.0]),
        (Along("A", "B", "C", value=1.0, sd=1.0), MIDDLE, [300.0]),
        (Off("A", "B", "C", value=1.0, sd=1.0), MIDDLE, [300.0]),  # to the left, looking forward
        (Off("A", "C", "B", value=1.0, sd=1.0), MIDDLE, [-300.0]),
        (OffPlane("A", value=1.0, sd=1.0), MIDDLE, [300.0]),
        (OffPlane("A", value=1.0, sd=1.0), TURNED, [400 * 0.8 - 300 * 0.6]),
        (Gap("A", "B", (0.6, 0.0, -0.8), value=1.0, sd=1.0), MIDDLE, [300 * 0.6 - 400 * 0.8]),
        (Level("A", "B", sd=1.0), MIDDLE, [400.0]),
        (Below("A", "B", sd=1.0), MIDDLE, [300.0, 300.0]),
        (SymmetricPair("A", "B", sd=1.0), MIDDLE, [300.0, 300.0, 400.0]),
    ],
    ids=lambda value: kind(value) if isinstance(value, Reading) else "",
)
def test_what_a_reading_should_show(reading: Reading, planes: dict[str, FloatArray], figures: list[float]) -> None:
    assert reading.computed(AT, planes).values[0] == pytest.approx(figures)
    assert reading.residual(AT, planes) == pytest.approx(np.array(reading.measured()) - figures)


def test_off_the_line_is_the_distance_from_it() -> None:
    off = InLine("A", "B", "C", sd=1.0).computed(AT, {}).values[0]
    assert float(np.hypot(*off)) == pytest.approx(500.0)


def test_a_height_over_a_floor_that_falls() -> None:
    """300 forward the floor is 3.6 lower, 400 left it is 2.8 higher, and 20 below the job's zero to begin with."""
    shows = 500.0 - (-20.0 - 3.6 + 2.8)
    assert Height("A", FLOOR, value=shows, sd=1.0).residual(AT, {}) == pytest.approx([0.0])


def test_a_length_down_from_a_string() -> None:
    assert Down("A", Datum("string", 1500.0), value=1000.0, sd=1.0).residual(AT, {}) == pytest.approx([0.0])


SIDES: dict[Side, tuple[float, float, float]] = {
    "top": (0, 0, 30),
    "bottom": (0, 0, -30),
    "front": (30, 0, 0),
    "back": (-30, 0, 0),
    "left": (0, 30, 0),
    "right": (0, -30, 0),
}


@pytest.mark.parametrize("side", SIDES)
def test_a_tape_to_a_side_of_a_post(side: Side) -> None:
    shows = float(np.linalg.norm(AT["A"] + SIDES[side] - AT["B"]))
    read = Tape("A", "B", value=shows, sd=1.0, touched=Touched(side, 60.0))
    assert read.residual(AT, {}) == pytest.approx([0.0])
    turned = Tape("B", "A", value=shows, sd=1.0, start_touched=Touched(side, 60.0))
    assert turned.residual(AT, {}) == pytest.approx([0.0])


@pytest.mark.parametrize(("side", "shows"), [("near side", 270.0), ("far side", 330.0)])
@pytest.mark.parametrize("way", [1.0, -1.0], ids=["left", "right"])
def test_a_near_or_far_side_either_way(side: Side, shows: float, way: float) -> None:
    start, end = ("B", "C") if way > 0 else ("C", "B")
    read = Off("A", start, end, value=way * shows, sd=1.0, touched=Touched(side, 60.0))
    assert read.residual(AT, {}) == pytest.approx([0.0])


def test_a_plumb_line_over_the_left_side() -> None:
    read = Drop("A", 300.0, 430.0, sd=1.0, touched=Touched("left", 60.0))
    assert read.residual(AT, {}) == pytest.approx([0.0, 0.0])


def test_levels_to_the_tops_of_two_tubes() -> None:
    tops = Level(
        "A", "B", 400.0 + 30.0 - 20.0, sd=1.0, touched=Touched("top", 60.0), other_touched=Touched("top", 40.0)
    )
    assert tops.residual(AT, {}) == pytest.approx([0.0])


def test_habits_of_a_tape() -> None:
    assert TapeHabits(read_from=25.4).length(1025.4) == pytest.approx(1000.0)
    assert TapeHabits(hook_worn=1.6).length(1000.0) == pytest.approx(1001.6)
    assert TapeHabits(read_from=100.0, hook_worn=1.6).length(1100.0) == pytest.approx(1000.0)
    short = Tape("A", "B", value=600.0, sd=1.0, habits=TapeHabits(read_from=25.4, hook_worn=1.6))
    assert list(short.measured()) == pytest.approx([574.6])


def test_what_adds_to_the_doubt_of_a_tape() -> None:
    read = Tape("A", "B", value=1900.0, sd=0.8, habits=TapeHabits(division=1.0, limits=TAPES["II"]))
    assert read.doubt == pytest.approx(math.sqrt(0.8**2 + 1 / 12 + 0.9**2 / 3))


@pytest.mark.parametrize("reading", OF_EVERY_KIND, ids=kind)
def test_every_kind_says_what_is_read(reading: Reading) -> None:
    assert all(name in reading.words for name in reading.places)
    assert reading.title == reading.words[0].upper() + reading.words[1:]
    assert replace(reading, typed="A tape B 41-3/8").title == '"A tape B 41-3/8"'


def refused(make: Callable[[], object]) -> str:
    with pytest.raises(BadValue) as error:
        make()
    return str(error.value)


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (
            lambda: Tape("A", "A", value=1.0, sd=1.0),
            "A tape from A to A goes from a place to itself. Name two different places.",
        ),
        (
            lambda: Height("A", value=1.0, sd=0.0),
            "The height of A has no accuracy. Say what it is good to, more than nothing.",
        ),
        (
            lambda: Height("A", value=math.nan, sd=1.0, typed="A height ?"),
            '"A height ?" has a figure that cannot be measured.',
        ),
        (
            lambda: Tape("A", "B", value=20.0, sd=1.0, habits=TapeHabits(read_from=25.4)),
            "A tape from B to A leaves no length between the two places. Read it again.",
        ),
        (
            lambda: Drop("A", 1.0, 1.0, sd=1.0, touched=Touched("near side", 40.0)),
            "A plumb drop of A has no near or far side. Write top, bottom, front, back, left or right.",
        ),
        (
            lambda: OffPlane("A", value=0.0, sd=1.0, touched=Touched("far side", 40.0)),
            "How far A is off the centre plane is nothing, to a near or far side. Name the side touched otherwise.",
        ),
        (
            lambda: Gap("A", "S", (1.0, 1.0, 0.0), value=1.0, sd=1.0),
            "The gap from S to A has a direction whose length is not 1.",
        ),
        (lambda: Touched("top", 0.0), "What was touched has an OD of 0.0 mm. It must be more than nothing."),
        (
            lambda: Place("A", (1.0, None, None), sd=(-1.0, 0.0, 0.0)),
            "A has an accuracy that is no length. Give one in mm, or leave it out.",
        ),
    ],
)
def test_what_cannot_be_is_refused(make: Callable[[], object], message: str) -> None:
    assert refused(make) == message


def test_sides_and_hints_that_are_not_known_are_refused() -> None:
    side = cast(Side, "inside")  # what a careless caller may do
    assert refused(lambda: Touched(side, 40.0)) == (
        'A side "inside" is not known. Write near side, far side, top, bottom, front, back, left, right.'
    )
    hint = cast(Hint, "over")
    assert refused(lambda: Place("A", hints=(hint,))) == (
        "A has a hint that is not known. Write forward, aft, left, right, above, below."
    )


def test_amounts_alone_have_near_and_far_sides() -> None:
    assert all(reading.has_sides == isinstance(reading, Amount) for reading in OF_EVERY_KIND)
