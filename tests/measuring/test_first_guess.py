"""Places without any guess by the user: mirror answers, tapes alone, and what hints and other readings settle."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from plumbend.measuring.adjustment import Adjusted, adjust, adjust_network
from plumbend.measuring.first_guess import first_guesses
from plumbend.measuring.intersect import Bounds, meet
from plumbend.measuring.network import Network
from plumbend.measuring.places import Hint, Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.remarks import remarks_on
from support.frames import CENTRE, PLACES, TRUE, height, readings_of_frame, tape

BASES = [replace(place, at=tuple(TRUE[place.name])) for place in PLACES[:4]]
SWING_ARMS: list[Reading] = [tape("A", "B1"), tape("A", "B2"), tape("A", "B4")]


def said(found: Adjusted, code: str) -> list[str]:
    return [notice.text for notice in remarks_on(found, "mm") if notice.code == code]


def test_first_guesses_of_exact_readings_are_near() -> None:
    (guess,) = first_guesses(Network(PLACES, readings_of_frame(), [CENTRE]))
    assert guess.state[:33].reshape(11, 3) == pytest.approx(np.array([TRUE[p.name] for p in PLACES]), abs=1.0)


def test_swing_arms_alone_have_a_mirror_answer_below_the_bases() -> None:
    found = adjust([*BASES, Place("A")], SWING_ARMS)
    assert found.place("A") == pytest.approx(TRUE["A"], abs=1e-6)
    (mirror,) = found.mirrors
    assert mirror.asked == "A"
    below = mirror.at["A"]
    assert below[2] < -800
    for base in ("B1", "B2", "B4"):
        assert np.linalg.norm(below - TRUE[base]) == pytest.approx(np.linalg.norm(TRUE["A"] - TRUE[base]))
    assert said(found, "mirror-answer") == [
        "A is either at 120, L 320, 880, or at 134, L 328, -875: the readings fit both. Say which is meant, the upper "
        "or the lower one."
    ]


@pytest.mark.parametrize(("hint", "up"), [("above", 1), ("below", -1)])
def test_a_hint_settles_it(hint: Hint, up: int) -> None:
    found = adjust([*BASES, Place("A", hints=(hint,))], SWING_ARMS)
    assert found.mirrors == ()
    assert found.place("A")[2] * up > 800


@pytest.mark.parametrize(
    "further", [height("A"), tape("A", "P", {**TRUE, "P": np.array([0.0, 0.0, 900.0])})], ids=["a height", "a tape"]
)
def test_another_reading_settles_it(further: Reading) -> None:
    high = Place("P", (0.0, 0.0, 900.0))
    found = adjust([*BASES, high, Place("A")], [*SWING_ARMS, further])
    assert found.mirrors == ()
    assert found.place("A") == pytest.approx(TRUE["A"], abs=1e-6)


def test_a_height_overrules_a_hint_that_it_contradicts() -> None:
    found = adjust([*BASES, Place("A", hints=("below",))], [*SWING_ARMS, height("A")])
    assert found.place("A") == pytest.approx(TRUE["A"], abs=1e-6)


def test_tapes_overrule_a_hint_that_they_contradict() -> None:
    true = {**TRUE, "P": np.array([0.0, 0.0, 900.0])}
    high = Place("P", (0.0, 0.0, 900.0))
    found = adjust([*BASES, high, Place("A", hints=("below",))], [*SWING_ARMS, tape("A", "P", true)])
    assert found.place("A") == pytest.approx(TRUE["A"], abs=1e-6)


def test_two_tapes_and_a_height_leave_left_or_right() -> None:
    readings = [height("A"), tape("A", "B1"), tape("A", "B2")]
    found = adjust([*BASES, Place("A")], readings)
    assert said(found, "mirror-answer") == [
        "A is either at 120, L 320, 880, or at 120, R 320, 880: the readings fit both. Say which is meant, the left or "
        "the right one."
    ]
    right = adjust([*BASES, Place("A", hints=("right",))], readings)
    assert right.mirrors == ()
    assert right.place("A") == pytest.approx(TRUE["A"] * [1, -1, 1], abs=1e-6)


def test_points_that_hang_on_a_mirrored_one_go_with_it() -> None:
    readings = [*SWING_ARMS, tape("B", "B1"), tape("B", "B2"), tape("B", "B4"), tape("B", "A")]
    found = adjust([*BASES, Place("A"), Place("B")], readings)
    assert [sorted(mirror.at) for mirror in found.mirrors] == [["A", "B"]]
    assert said(found, "mirror-answer") == [
        "A is either at 120, L 320, 880, or at 134, L 328, -875: the readings fit both. Say which is meant, the upper "
        "or the lower one. B would move with it."
    ]


def test_a_cluster_tied_by_tapes_alone() -> None:
    """Six points taped to each other and one tape each to six places that stand fast: no one of them is fixed alone."""
    rng = np.random.default_rng(3)
    points = {f"C{i}": at for i, at in enumerate(rng.uniform([0, 0, 200], [1500, 1200, 1200], (6, 3)))}
    posts = {f"G{i}": at for i, at in enumerate(rng.uniform([-500, -500, 0], [2000, 2000, 1500], (6, 3)))}
    true = {**points, **posts}
    readings = [
        *(tape(a, b, true) for a, b in itertools.combinations(points, 2)),
        *(tape(a, b, true) for a, b in zip(points, posts, strict=True)),
        *(height(name, true) for name in ("C0", "C1", "C2")),
    ]
    places = [*(Place(name, tuple(at), base=True) for name, at in posts.items()), *map(Place, points)]
    assert len(first_guesses(Network(places, readings))) > 1
    found = adjust(places, readings)
    assert found.joint(list(points))[0] == pytest.approx(np.array(list(points.values())), abs=1e-5)


@pytest.mark.parametrize("aside", [[200.0, 300.0], [1200.0, 0.0], [0.0, 0.0]])
def test_a_place_half_measured_goes_with_what_was_read_of_it(aside: list[float]) -> None:
    """25 November 2026: a place with a height and one tape was laid out with all that is taped, never found back."""
    true = {**TRUE, "P": TRUE["B4"] + [*aside, 900.0]}
    readings: list[Reading] = [*SWING_ARMS, height("A"), tape("A", "B3"), height("P", true), tape("P", "B4", true)]
    network = Network([*BASES, Place("A"), Place("P")], readings)
    (guess,) = first_guesses(network)
    values, _ = network.rows(guess.state)
    assert np.abs((values - network.measured) / network.sd).max() < 1
    assert adjust_network(network).chi2 < 1e-6


def bounds(rows: list[list[float]], says: list[float], centres: list[list[float]], radii: list[float]) -> Bounds:
    return Bounds(
        np.array(rows).reshape(-1, 3),
        np.array(says),
        np.ones(len(says)),
        np.array(centres).reshape(-1, 3),
        np.array(radii),
        np.ones(len(radii)),
    )


THREE = [[0.0, 0.0, 0.0], [1000.0, 0.0, 0.0], [0.0, 1000.0, 0.0]]


def test_three_spheres_meet_twice() -> None:
    at = np.array([300.0, 400.0, 500.0])
    answers = meet(bounds([], [], THREE, [float(np.linalg.norm(at - c)) for c in np.array(THREE)]))
    assert answers is not None
    assert sorted(answer.at[2] for answer in answers) == pytest.approx([-500.0, 500.0])
    assert [answer.chi2 for answer in answers] == pytest.approx([0.0, 0.0], abs=1e-12)


def test_spheres_that_just_miss_meet_once() -> None:
    answers = meet(bounds([], [], THREE, [700.0, 700.0, 700.0]))
    assert answers is not None
    assert [answer.at for answer in answers] == [pytest.approx([495.0, 495.0, 0.0], abs=1.0)]


def test_too_little_meets_nowhere() -> None:
    assert meet(bounds([], [], THREE[:2], [600.0, 700.0])) is None
    assert meet(bounds([[0.0, 0.0, 1.0]], [5.0], [], [])) is None
    assert meet(bounds([], [], [], [])) is None
