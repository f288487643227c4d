"""Places found from readings: exactly where these are exact, with doubts that follow from theirs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.errors import BadValue
from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import adjust
from plumbend.measuring.lengths import Height, OffPlane, Tape
from plumbend.measuring.network import Network
from plumbend.measuring.places import CentrePlane, Place
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import Below, Coordinate, Drop, InLine, SymmetricPair
from support.frames import CENTRE, PLACES, TRUE, drop, height, random_frame, read, readings_of_frame, tape, tapes


def test_an_exact_frame_is_found_exactly() -> None:
    found = adjust(PLACES, readings_of_frame(), [CENTRE])
    assert found.converged
    assert found.at == pytest.approx(np.array([TRUE[place.name] for place in PLACES]), abs=1e-7)
    assert found.chi2 < 1e-18
    assert found.mirrors == ()


corners = st.tuples(st.floats(-200, 1700), st.floats(-200, 1400), st.floats(300, 1200))


@settings(max_examples=40, deadline=None, derandomize=True)
@given(a=corners, b=corners, ways=st.lists(st.sampled_from(["drop", "tapes", "string"]), min_size=2, max_size=2))
def test_points_anywhere_over_the_bases(a: FloatArray, b: FloatArray, ways: list[str]) -> None:
    true = {**TRUE, "P": np.array(a), "Q": np.array(b)}
    readings = [reading for reading in readings_of_frame() if set(reading.places) <= {"B1", "B2", "B3", "B4"}]
    for name, way in zip("PQ", ways, strict=True):
        readings.append(height(name, true))
        if way == "drop":
            readings.append(drop(name, true))
        elif way == "tapes":
            readings += tapes(f"{name}-B1 {name}-B2 {name}-B3", true)
        else:
            forward, left, _ = true[name]
            readings += [Coordinate(name, "forward", forward, sd=1.5), OffPlane(name, value=left - 600.0, sd=1.5)]
    found = adjust([*PLACES[:4], Place("P"), Place("Q")], readings, [CENTRE])
    assert found.joint("PQ")[0] == pytest.approx(np.array([a, b]), abs=1e-6)


def test_redundancy_adds_up_and_the_covariance_is_that_of_the_rows() -> None:
    rng = np.random.default_rng(5)
    found = adjust(PLACES, [read(reading, rng) for reading in readings_of_frame()], [CENTRE])
    assert found.dof == 10
    assert found.redundancy.sum() == pytest.approx(10)
    assert found.chi2 == pytest.approx(float(((found.residuals / found.network.sd) ** 2).sum()))
    free = found.network.free
    information = found.rows.T @ found.rows
    assert found.full_covariance[np.ix_(free, free)] @ information == pytest.approx(np.eye(free.size), abs=1e-8)
    assert found.covariance.shape == (33, 33)
    assert np.flatnonzero(np.diagonal(found.covariance) == 0).tolist() == [0, 1, 2, 4]
    at, joint = found.joint(["C", "A"])
    assert at == pytest.approx(np.array([found.place("C"), found.place("A")]))
    assert joint[:3, 3:] == pytest.approx(found.covariance[18:21, 12:15])


def test_a_repeat_halves_the_variance() -> None:
    base = Place("B", (0.0, 0.0, 0.0), base=True)
    once = [Drop("A", 10.0, 20.0, sd=1.5), Height("A", value=30.0, sd=1.0)]
    one, two = (adjust([base, Place("A")], readings) for readings in (once, [*once, *once]))
    assert two.covariance == pytest.approx(one.covariance / 2)
    assert one.doubts[1] == pytest.approx([1.5, 1.5, 1.0])


def test_a_base_given_with_a_doubt_is_a_reading_more() -> None:
    given_place = Place("B", (0.0, 0.0, 100.0), sd=(0.0, 0.0, 3.0), base=True)
    found = adjust([given_place], [Height("B", value=110.0, sd=4.0)])
    assert found.place("B")[2] == pytest.approx((100 / 9 + 110 / 16) / (1 / 9 + 1 / 16))
    assert found.doubts[0] == pytest.approx([0.0, 0.0, 2.4])
    assert [reading.title for reading in found.network.readings] == ["The height of B", '"B as given, up"']


def test_points_in_line_and_straight_below() -> None:
    true = {**TRUE, "M": (TRUE["A"] + TRUE["C"]) / 2, "N": TRUE["C"] * [1.0, 1.0, 0.2]}
    readings = [*readings_of_frame(), InLine("M", "A", "C", sd=1.0), tape("M", "A", true)]
    readings += [Below("N", "C", sd=1.0), height("N", true)]
    # on the line there are two places as far from A: that toward C is further forward
    found = adjust([*PLACES, Place("M", hints=("forward",)), Place("N")], readings, [CENTRE])
    assert found.place("M") == pytest.approx(true["M"], abs=1e-6)
    assert found.place("N") == pytest.approx(true["N"], abs=1e-6)


PAIRS = {
    name: np.array(at, dtype=float)
    for name, at in {
        "FL": (0, 400, 300),
        "FR": (0, -400, 300),
        "RL": (-1400, 450, 310),
        "RR": (-1400, -450, 310),
        "A": (-600, 100, 900),
    }.items()
}


def readings_of_pairs(true: dict[str, FloatArray]) -> list[Reading]:
    return [
        SymmetricPair("FL", "FR", sd=1.5),
        SymmetricPair("RL", "RR", sd=1.5),
        *tapes("FL-FR RL-RR FL-RL FR-RR FL-RR FR-RL A-RL A-RR", true),
        *(height(name, true) for name in PAIRS),
    ]


@pytest.mark.parametrize("heading", [-0.4, 0.0, 0.1])
def test_a_centre_plane_is_found(heading: float) -> None:
    cos, sin = np.cos(heading), np.sin(heading)
    turn = np.array([[cos, -sin, 0.0], [sin, cos, 0.0], [0.0, 0.0, 1.0]])
    true = {name: turn @ at + [50.0, 300.0, 0.0] for name, at in PAIRS.items()}
    places = [
        Place(
            name,
            tuple(true[name]) if name in ("FL", "FR") else (None, None, None),
            hints=("aft",) if name[0] == "R" else ("forward",),
        )
        for name in PAIRS
    ]
    readings = [*readings_of_pairs(true), OffPlane("A", value=100.0, sd=1.5)]
    found = adjust(places, readings, [CentrePlane()])
    assert found.planes[0] == pytest.approx([300.0 - 50.0 * np.tan(heading), heading], abs=1e-6)
    assert found.place("A") == pytest.approx(true["A"], abs=1e-6)
    assert found.full_covariance[-1, -1] > 0


@pytest.mark.parametrize("slip", [0.0, 25.4], ids=["clean", "an inch wrong"])
def test_no_better_fit_is_found_from_the_truth(slip: float) -> None:
    """From its own first guess the adjustment ends as low as from where the places really are, or lower."""
    rng = np.random.default_rng(7)
    for _ in range(15):
        places, exact, true = random_frame(rng)
        readings = [read(reading, rng) for reading in exact]
        i = int(rng.choice([i for i, reading in enumerate(readings) if isinstance(reading, Tape)]))
        wrong = readings[i]
        assert isinstance(wrong, Tape)
        readings[i] = replace(wrong, value=wrong.value + slip)
        found = adjust(places, readings)
        from_truth = found.network.settle(np.concatenate([true[place.name] for place in places]))
        assert found.chi2 <= from_truth.normal.chi2 * (1 + 1e-6) + 1e-6
        assert found.agrees or slip


def test_an_inch_stands_out_where_it_was_read() -> None:
    readings = readings_of_frame()
    wrong = readings[6]
    assert isinstance(wrong, Tape)
    assert wrong.places == ("A", "B1")
    readings[6] = replace(wrong, value=wrong.value + 25.4)
    found = adjust(PLACES, readings, [CENTRE])
    assert not found.agrees
    assert int(np.argmax(np.abs(found.standardised))) == 6
    assert found.standardised[6] > 0


def test_rows_of_readings_are_those_of_each_reading() -> None:
    network = Network(PLACES, readings_of_frame(), [CENTRE])
    state = np.concatenate([*(TRUE[place.name] + 3.0 for place in PLACES), [600.0, 0.0]])
    values, derivatives = network.rows(state)
    at = {place.name: state[3 * i : 3 * i + 3] for i, place in enumerate(PLACES)}
    row = 0
    for reading in network.readings:
        computed = reading.computed(at, {CENTRE.name: state[-2:]})
        for component in range(reading.components):
            expected = np.zeros(state.size)
            for k, name in enumerate(reading.places):
                expected[network.column[name] : network.column[name] + 3] = computed.by_place[0, component, k]
            if reading.plane:
                expected[-2:] = computed.by_plane[0, component]
            assert values[row] == pytest.approx(computed.values[0, component])
            assert derivatives[row] == pytest.approx(expected)
            row += 1
    assert row == values.size


@pytest.mark.parametrize(
    ("places", "reading", "message"),
    [
        (
            [Place("A"), Place("A")],
            Height("A", value=1.0, sd=1.0),
            "Two places are called A. Give each its own name.",
        ),
        (
            [Place("A")],
            Tape("A", "B9", value=1.0, sd=1.0, typed="A tape B9 1"),
            '"A tape B9 1" names B9, which is neither a base nor a point.',
        ),
        (
            [Place("A")],
            OffPlane("A", value=1.0, sd=1.0),
            "How far A is off the centre plane needs the centre plane, which the job does not have.",
        ),
    ],
)
def test_names_that_are_not_there(places: list[Place], reading: Reading, message: str) -> None:
    with pytest.raises(BadValue) as error:
        adjust(places, [reading])
    assert str(error.value) == message


def test_a_loose_place_is_not_handed_on() -> None:
    found = adjust([Place("A")], [Height("A", value=1.0, sd=1.0)])
    assert np.isnan(found.doubts[0]).tolist() == [True, True, False]
    with pytest.raises(BadValue, match=r"^The readings do not fix A\. Measure it further\.$"):
        found.joint(["A"])
