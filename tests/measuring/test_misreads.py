"""Misreads in whole jobs: found, named in words, left out or kept, and told apart only where the readings can."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import adjust
from plumbend.measuring.expected import Expected
from plumbend.measuring.lengths import Height, Tape
from plumbend.measuring.misreads import Screened, find_misreads
from plumbend.measuring.places import Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Coordinate, Drop
from plumbend.measuring.rivals import seen_from
from support.frames import CENTRE, PLACES, TRUE, drop, height, read, tape, tapes

INCH = 25.4
TIES = (
    "B2-B1 B3-B2 B4-B3 B4-B1 B3-B1 B4-B2 A-B1 A-B2 A-B4 A-B3 B-B1 B-B3 B-B2 C-B2 C-B4 C-B3 D-B2 D-B3 D-B1 "
    "E-B3 E-B2 F-B3 F-B4 G-B4 G-B2 G-A D-E B-F"
)
AT: dict[str, FloatArray] = {**TRUE, "A": np.array([120.0, 320.0, 34.375 * INCH])}
HEIGHT_OF_A, DROP_OF_C, TAPE_OF_A = 31, 40, 9


def readings() -> list[Reading]:
    """Forty-two, with errors of their accuracies, that agree."""
    exact = [
        *tapes(TIES, AT),
        *(height(name, AT) for name in ("B2", "B3", "B4", *"ABCDEFG")),
        *(drop(name, AT) for name in "ABCE"),
    ]
    rng = np.random.default_rng(2)
    return [read(one, rng) for one in exact]


def with_one(index: int, **changes: Any) -> list[Reading]:
    """The readings with one changed."""
    changed = readings()
    changed[index] = replace(changed[index], **changes)
    return changed


def screened(job: list[Reading], **options: Any) -> Screened:
    """The frame in inches, for a tube of 1-3/4 inches."""
    return find_misreads(PLACES, job, [CENTRE], **{"units": "in", "od": 1.75 * INCH, **options})


def said(found: Screened) -> list[str]:
    return [notice.text for notice in found.notices]


def test_readings_that_agree_are_all_used() -> None:
    found = screened(readings())
    assert (found.suspects, found.left_out, found.scale, found.notices) == ((), (), 1.0, ())
    assert found.adjusted.at == pytest.approx(adjust(PLACES, readings(), [CENTRE]).at)


def test_swapped_digits_are_named_with_the_figure_that_fits() -> None:
    found = screened(with_one(HEIGHT_OF_A, value=43.375 * INCH, typed="A height 43-3/8"))
    assert said(found) == [
        '"A height 43-3/8" looks like 34-3/8 with the digits swapped: then it fits within 1/16. '
        "It is left out. Read it again."
    ]
    assert [notice.code for notice in found.notices] == ["misread"]
    assert found.left_out == (HEIGHT_OF_A,)
    ((accused,),) = [suspect.accused for suspect in found.suspects]
    assert accused.index == HEIGHT_OF_A
    assert accused.off[0] == pytest.approx(9 * INCH, abs=3 * accused.doubt[0])
    assert isinstance(accused.reading, Height)
    assert accused.explanations[0].error.corrected == replace(accused.reading, value=34.375 * INCH)
    # nothing is corrected in silence: the fit is that without the reading
    rest = [one for i, one in enumerate(readings()) if i != HEIGHT_OF_A]
    assert found.adjusted.at == pytest.approx(adjust(PLACES, rest, [CENTRE]).at)


@pytest.mark.parametrize(
    ("inches", "looks"),
    [
        (46.375, "34-3/8 read a foot long: then it fits within 1/16"),
        (1050 / INCH, "the height of B: then it fits within 1/16"),
        (873.0, "873 mm taken as inches: then it fits within 1/16"),
        (
            35.375,
            "34-3/8 read from the tape's 1-inch line (not taken off), 34-3/8 read an inch long, or 34-1/2 read to the "
            "outside instead of the centre (half the OD): then it fits within 1/16",
        ),
    ],
)
def test_what_a_height_looks_like(inches: float, looks: str) -> None:
    job = with_one(HEIGHT_OF_A, value=inches * INCH, typed="A height")
    assert said(screened(job)) == [f'"A height" looks like {looks}. It is left out. Read it again.']


@pytest.mark.parametrize(
    ("changes", "looks"),
    [
        (
            lambda one: {"forward": one.left, "left": one.forward},
            "A plumb drop of C, 13-23/32, L 38-17/32, looks like 38-17/32, L 13-23/32 with the two swapped",
        ),
        (
            lambda one: {"left": -one.left},
            "A plumb drop of C, 38-17/32, R 13-23/32, looks like L 13-23/32 with left and right swapped",
        ),
    ],
)
def test_what_a_drop_looks_like(changes: Any, looks: str) -> None:
    job = with_one(DROP_OF_C, **changes(readings()[DROP_OF_C]))
    assert said(screened(job)) == [f"{looks}: then it fits within 1/16. It is left out. Read it again."]


@pytest.mark.parametrize(
    ("units", "text"),
    [
        ("in", "The height of A, 36-47/64, is about 2-3/8 too much, and no usual slip explains it."),
        ("mm", "The height of A, 933.1, is about 60 mm too much, and no usual slip explains it."),
    ],
)
def test_what_no_slip_explains_is_said_with_its_size(units: str, text: str) -> None:
    found = screened(with_one(HEIGHT_OF_A, value=34.375 * INCH + 60), units=units)
    assert said(found) == [f"{text} It is left out. Read it again."]
    assert found.suspects[0].accused[0].explanations == ()


def test_two_misreads_are_both_named() -> None:
    job = with_one(HEIGHT_OF_A, value=43.375 * INCH)
    wrong = job[TAPE_OF_A]
    assert isinstance(wrong, Tape)
    job[TAPE_OF_A] = replace(wrong, value=wrong.value + 12 * INCH, typed="A tape B3")
    assert said(screened(job)) == [
        '"A tape B3" looks like 72-49/64 read a foot long: then it fits within 1/16. It is left out. Read it again.',
        "The height of A, 43-3/8, looks like 34-3/8 with the digits swapped: then it fits within 1/16. "
        "It is left out. Read it again.",
    ]


def test_a_kept_reading_stays_and_others_must_give() -> None:
    job = with_one(HEIGHT_OF_A, value=34.375 * INCH + 60, typed="A height 36-3/4")
    for keep in ("A height 36-3/4", '"A height 36-3/4"', HEIGHT_OF_A):
        found = screened(job, keep={keep})
        assert HEIGHT_OF_A not in found.left_out
        assert found.left_out


def test_all_kept_are_all_used_and_the_worst_is_said() -> None:
    job = with_one(HEIGHT_OF_A, value=43.375 * INCH, typed="A height 43-3/8")
    found = screened(job, keep=range(len(job)))
    assert found.left_out == ()
    assert found.scale == pytest.approx(found.adjusted.scatter)
    looks, wide = said(found)
    assert looks == (
        '"A height 43-3/8" looks like 34-3/8 with the digits swapped: then it fits within 1/16. '
        "It is kept as you asked."
    )
    assert wide == (
        "The readings miss each other by more than they are said to be good to, and no slip accounts for it. Every ± "
        f"is taken {found.scale:.1f} times as wide. Check what the readings are good to, and the bases."
    )
    assert [notice.code for notice in found.notices] == ["kept-reading", "readings-disagree"]


def test_readings_that_are_all_worse_than_said_are_not_called_misread() -> None:
    rng = np.random.default_rng(1)
    job = [replace(one, sd=one.sd / 4) for one in (read(one, rng) for one in readings())]
    found = screened(job)
    assert found.suspects == ()
    assert 3 < found.scale < 7


SQUARE = {
    "1": np.array([0.0, 0.0, 0.0]),
    "2": np.array([1500.0, 0.0, 0.0]),
    "3": np.array([1500.0, 1200.0, 0.0]),
    "4": np.array([0.0, 1200.0, 0.0]),
}


def test_one_wrong_diagonal_of_a_square_cannot_be_told_from_a_wrong_side() -> None:
    places = [
        Place("1", (0.0, 0.0, 0.0), base=True),
        Place("2", (1500.0, 0.0, 0.0), base=True),
        *(Place(name, (None, None, 0.0), hints=("left",)) for name in "34"),
    ]
    job = tapes("3-1 3-2 4-1 4-2 4-3", SQUARE)
    wrong = job[3]
    assert isinstance(wrong, Tape)
    job[3] = replace(wrong, value=wrong.value + 30)
    found = find_misreads(places, job, units="mm")
    (suspect,) = found.suspects
    assert sorted(accused.index for accused in suspect.accused) == [0, 1, 2, 3, 4]
    assert not suspect.all_out
    assert len(found.left_out) == 1
    (text,) = said(found)
    assert text.startswith("One of these is wrong, and the others cannot tell which: a tape from ")
    assert text.endswith(
        "Only the first is left out, for the places need the rest: they may be wrong by as much. "
        "Read them again: one reading more of another kind would tell."
    )


def test_two_that_cannot_be_told_apart_are_both_left_out_where_the_rest_will_do() -> None:
    places = [Place("B", (0.0, 0.0, 0.0), base=True), Place("A", hints=("above",))]
    job: list[Reading] = [
        Drop("A", 300.0, 200.0, sd=1.5),
        Drop("A", 300.5, 199.5, sd=1.5),
        Height("A", value=400.0, sd=1.0, typed="A height 400"),
        Height("A", value=410.0, sd=1.0, typed="A height 410"),
        tape("A", "B", {"A": np.array([300.0, 200.0, 405.0]), "B": np.zeros(3)}, sd=4.0),
    ]
    found = find_misreads(places, job, units="mm")
    assert found.left_out == (2, 3)
    assert said(found) == [
        'One of these is wrong, and the others cannot tell which: "A height 410" or "A height 400". '
        '"A height 410" looks like 400 read 10 mm long, or 401 with the digits swapped: then it fits within 1 mm. '
        '"A height 400" looks like 410 read 10 mm short: then it fits within 1 mm. '
        "Both are left out. Read them again: one reading more of another kind would tell."
    ]


def test_a_base_given_wrongly_is_found_out() -> None:
    places = [replace(PLACES[0], at=(0.0, 0.0, 254.0), sd=(0.0, 0.0, 1.0)), *PLACES[1:]]
    job = [*readings(), *(Coordinate(name, "up", float(AT[name][2]), sd=1.0) for name in "ABC")]
    found = find_misreads(places, job, [CENTRE], units="in")
    assert found.left_out == (len(job),)
    assert said(found) == [
        '"B1 as given, up" is about 10 too much, and no usual slip explains it. It is left out. Read it again.'
    ]
    assert found.adjusted.place("B1")[2] == pytest.approx(0.0, abs=4.0)


def test_a_height_below_for_above_is_found_though_the_tapes_fit_either_way() -> None:
    wrong = readings()[HEIGHT_OF_A]
    assert isinstance(wrong, Height)
    job = [one for one in with_one(HEIGHT_OF_A, value=-wrong.value) if one.places != ("G", "A")]
    found = screened(job)
    assert [accused.reading.words for suspect in found.suspects for accused in suspect.accused] == ["the height of A"]
    assert found.suspects[0].accused[0].explanations[0].error.code == "sign"


def test_nothing_read_is_nothing_wrong() -> None:
    found = find_misreads([Place("A", (0.0, 0.0, 0.0))], [], units="mm")
    assert (found.suspects, found.scale, found.notices) == ((), 1.0, ())


def test_what_is_expected_of_a_reading_is_what_its_deletion_takes_away() -> None:
    """In a network of straight sums the fall of the sum of squares is exact."""
    job: list[Reading] = [
        *(Coordinate(name, "up", up, sd=1.0) for name, up in (("A", 3.0), ("B", 8.0), ("A", 4.5))),
        Drop("A", 1.0, 2.0, sd=1.5),
        Drop("A", 3.0, 7.0, sd=1.5),
        Coordinate("A", "forward", 2.0, sd=1.0),
    ]
    places = [Place("A"), Place("B", (0.0, 0.0, None))]
    whole = adjust(places, job)
    rest = adjust(places, [one for one in job if one is not job[4]])
    stands = Expected(rest).of(job[4])
    assert stands.unlikely(stands.off) == pytest.approx(whole.chi2 - rest.chi2)
    assert seen_from(rest, whole.network).falls[4] == pytest.approx(whole.chi2 - rest.chi2)
    assert stands.known == 2


def test_nothing_is_expected_where_nothing_is_known() -> None:
    found = adjust([Place("A")], [Coordinate("A", "forward", 5.0, sd=3.0)])
    stands = Expected(found).of(Drop("A", 15.0, 2.0, sd=4.0))
    assert stands.off[0] == pytest.approx(10.0)
    assert stands.known == 1
    assert stands.doubt == pytest.approx([5.0, np.inf])
    assert stands.unlikely(np.array([10.0, 1e3])) == pytest.approx(4.0)
