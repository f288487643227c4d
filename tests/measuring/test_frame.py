"""The frame, stated in words: as given, of three bases alone, or of symmetric pairs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from plumbend.errors import BadValue
from plumbend.measuring.adjustment import adjust
from plumbend.measuring.frame import Frame, frame_as_given, frame_from_bases, frame_from_pairs
from plumbend.measuring.lengths import Datum, Height
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import SymmetricPair
from support.frames import height, tapes

TRUE = {
    name: np.array(at, dtype=float)
    for name, at in {"B1": (0, 0, 0), "B2": (1500, 0, 0), "B3": (1400, 1200, 0), "A": (600, 500, 900)}.items()
}
PLACES = [*(Place(name, base=True) for name in ("B1", "B2", "B3")), Place("A")]
TAPES = tapes("B2-B1 B3-B1 B3-B2 A-B1 A-B2 A-B3", TRUE)
BASES = ("B1", "B2", "B3")


def test_three_bases_alone() -> None:
    frame = frame_from_bases(PLACES, TAPES, BASES)
    assert frame.words == (
        "B1 is the origin, B2 lies straight forward of it, and B3 to the left, level with both. "
        "No reading says which way is plumb."
    )
    found = adjust(frame.places, TAPES)
    assert found.at == pytest.approx(np.array([TRUE[place.name] for place in PLACES]), abs=1e-6)
    assert [mirror.asked for mirror in found.mirrors] == ["A"]  # above the bases or below is not known


PAIRS = {
    name: np.array(at, dtype=float)
    for name, at in {
        "FL": (0, 400, 300),
        "FR": (0, -400, 300),
        "RL": (-1400, 450, 310),
        "RR": (-1400, -450, 310),
    }.items()
}
SYMMETRY: list[Reading] = [SymmetricPair("FL", "FR", sd=1.5), SymmetricPair("RL", "RR", sd=1.5)]
STRING = Datum("string", 250.0)


def readings_of_pairs() -> list[Reading]:
    heights = [Height(name, STRING, value=float(at[2]) - 250.0, sd=1.0) for name, at in PAIRS.items()]
    return [*SYMMETRY, *tapes("FL-FR RL-RR FL-RL FR-RR FL-RR FR-RL", PAIRS), *heights]


def test_pairs_and_a_height_datum() -> None:
    places = [Place(name, hints=("aft",) if name.startswith("R") else ()) for name in PAIRS]
    frame = frame_from_pairs(places, readings_of_pairs(), "FL")
    assert frame.words == (
        "The centre plane of FL and FR, RL and RR is the middle; forward counts from FL; heights are from the string. "
        "Up is plumb."
    )
    found = adjust(frame.places, readings_of_pairs(), frame.planes)
    assert found.at == pytest.approx(np.array(list(PAIRS.values())), abs=1e-6)
    assert found.mirrors == ()


def test_fore_and_aft_of_pairs_is_asked_where_no_hint_says_it() -> None:
    frame = frame_from_pairs([Place(name) for name in PAIRS], readings_of_pairs(), "FL")
    (mirror,) = adjust(frame.places, readings_of_pairs(), frame.planes).mirrors
    assert sorted(mirror.at) == ["RL", "RR"]
    assert abs(mirror.at["RL"][0]) == pytest.approx(1400)


@pytest.mark.parametrize(
    ("frame", "words"),
    [
        (
            lambda: frame_as_given(
                [Place("B1", (0.0, 0.0, 0.0)), Place("B2", (None, 0.0, None)), Place("A")],
                [Height("A", STRING, value=1.0, sd=1.0)],
            ),
            "Forward, left and up are as B1 is given. B2 is given in part. Heights are from the string. Up is plumb.",
        ),
        (
            lambda: frame_as_given([Place("B1", (0.0, 0.0, 0.0)), Place("B2", (1.0, 0.0, 0.0))], [], [CentrePlane()]),
            "Forward, left and up are as B1 and B2 are given. No reading says which way is plumb.",
        ),
    ],
    ids=["in part", "whole"],
)
def test_a_given_frame_in_words(frame: Callable[[], Frame], words: str) -> None:
    assert frame().words == words


@pytest.mark.parametrize(
    ("frame", "message"),
    [
        (
            lambda: frame_from_bases(PLACES, [*TAPES, height("A", TRUE)], BASES),
            "The height of A says which way is up, and so do three bases taken as level: they cannot both be right. "
            "Give the bases' own heights, or leave out every height, level and plumb line.",
        ),
        (
            lambda: frame_from_bases(PLACES, TAPES, ("B1", "B2", "B7")),
            "The frame names B7, which is neither a base nor a point.",
        ),
        (
            lambda: frame_from_bases([Place("B1", (0.0, 0.0, None)), *PLACES[1:]], TAPES, BASES),
            "B1 is to make the frame, but its forward and left is given. Leave that out, or the frame.",
        ),
        (
            lambda: frame_from_pairs([Place(name) for name in PAIRS], SYMMETRY[:1], "FL"),
            "The centre plane needs two symmetric pairs, one well ahead of the other. Measure another pair.",
        ),
        (
            lambda: frame_from_pairs([Place(name) for name in PAIRS], SYMMETRY, "FL"),
            "Pairs say where the centre plane is, but not how high anything is. Measure a height.",
        ),
    ],
    ids=["plumb", "no such base", "given base", "one pair", "no height"],
)
def test_frames_that_cannot_be(frame: Callable[[], Frame], message: str) -> None:
    with pytest.raises(BadValue) as error:
        frame()
    assert str(error.value) == message
