"""Where to stop the pointer, and what is said where nobody can know."""

from __future__ import annotations

import math

import numpy as np
import pytest

from plumbend.job.model import Job, WantedTube
from plumbend.job.result_json import result_to_json
from plumbend.job.results import TubeResult
from plumbend.making.springback import metal_called
from plumbend.shape.program import Program
from plumbend.shop import Die, Springback
from plumbend.solving import solve
from plumbend.tubing import Tubing

LINE = Springback(math.radians(1.0), 0.025)
TUBING = Tubing(44.45, 2.413, "mild steel")


def bent(angle: float, die: Die, tubing: Tubing = TUBING) -> TubeResult:
    program = Program(np.array([300.0, 300.0]), np.zeros(1), np.radians([angle]))
    return solve(Job("test", "mm", tubing, (WantedTube("tube", die, program=program),))).tubes[0]


def said(tube: TubeResult, code: str) -> str:
    (text,) = (notice.text for notice in tube.notices if notice.code == code)
    return text


def test_the_pointer_stops_by_the_springback_beyond_the_finished_angle() -> None:
    tube = bent(90.0, Die("6", 152.4, springback=LINE))
    assert tube.stops is not None
    assert np.degrees(tube.stops) == pytest.approx([93.25])
    assert "no-springback" not in [notice.code for notice in tube.notices]


def test_json_has_stops_in_degrees_or_null() -> None:
    program = Program(np.array([300.0, 300.0]), np.zeros(1), np.radians([90.0]))
    for die, stops in ((Die("6", 152.4, springback=LINE), [pytest.approx(93.25)]), (Die("6", 152.4), None)):
        job = Job("test", "mm", TUBING, (WantedTube("tube", die, program=program),))
        assert result_to_json(solve(job))["tubes"][0]["stops"] == stops


def test_without_test_bends_no_stop_is_made_up() -> None:
    tube = bent(90.0, Die("6", 152.4))
    assert tube.stops is None
    assert said(tube, "no-springback") == (
        "Where to stop: the shop file has no springback of the die 6 (plumbend calibrate works it out), so no stop "
        "angles are given. First stop = finished angle; let off, read, creep up; expect 2 to 4 degrees more. For "
        "information: of mild steel, a bend of 90.0 degrees springs about 0.9 to 1.9 by itself, as strong as such tube "
        "is usually sold; slack in the bender comes on top."
    )


def test_springback_beyond_the_reach_is_refused() -> None:
    tube = bent(99.0, Die("6", 152.4, max_wrap=math.radians(100), grip=90, springback=LINE))
    assert not tube.solved
    assert said(tube, "angle-beyond-die") == (
        "Bend 1 turns 99.0 degrees, its 3.5 of springback take the pointer to 102.5, and the die 6 reaches 100.0: 2.5 "
        "degrees too much. Ways out: make it as two bends with a straight of 90.0 mm or more between them, or use a "
        "die that reaches 103 degrees."
    )
    assert bent(96.5, Die("6", 152.4, max_wrap=math.radians(100), springback=LINE)).solved


def test_the_nearest_tube_shown_keeps_the_springback_within_the_reach() -> None:
    tube = bent(99.0, Die("6", 152.4, max_wrap=math.radians(100), springback=LINE))
    assert tube.stops is not None
    assert np.degrees(tube.stops) == pytest.approx([100.0], abs=1e-3)


def test_wall_and_radius_are_noted() -> None:
    tube = bent(90.0, Die("4-1/2", 114.3), Tubing(44.45, 1.65))
    assert said(tube, "wall-left") == (
        "Outside a bend the wall of 1.65 mm thins to about 1.38 mm (16% less), inside it thickens to about 2.05 mm, "
        "and the outermost fibre stretches by 19%. FIA Appendix J, 253-8.3, wants the small diameter in a bend at 0.9 "
        "of the large one or more, 10.5% out of round: measure both. Your test bend and your rule book decide."
    )
    assert said(tube, "least-wall") == (
        "Where a rule asks for a least wall: under pressure, ASME B31.3, 304.2.1, asks 0.92 of that of a straight pipe "
        "outside the bend and 1.12 inside it."
    )
    wider = said(bent(90.0, Die("6", 152.4)), "least-wall")
    assert wider.endswith(" inside it, and ASME B31.1, table 102.4.5, 1.20 times the least wall before bending.")
    assert said(tube, "tight-radius") == (
        "The radius is 2.6 x OD, and rule books for roll-over structures and frames commonly want 3 x OD or more. With "
        "OD over wall at 27 it is likely to kink without a mandrel. Your test bend and your rule book decide."
    )


def test_what_the_job_does_not_say_is_not_made_up() -> None:
    tube = bent(90.0, Die("6", 152.4), Tubing(44.45))
    assert said(tube, "wall-left") == "What is left of the wall outside the bends: the job does not give the wall."
    assert said(tube, "no-springback").endswith("of what the tube itself springs, the job must say the wall.")


@pytest.mark.parametrize(
    ("words", "modulus"),
    [("mild steel", 205e3), ("304 stainless", 193e3), ("aluminium 6061-T6", 69e3), ("cro-mo", None), (None, None)],
)
def test_metals_are_known_by_their_words(words: str | None, modulus: float | None) -> None:
    metal = metal_called(words)
    assert (None if metal is None else metal.modulus) == modulus


def test_what_is_not_made_is_listed_once_with_what_to_do() -> None:
    bare = bent(90.0, Die("6", 152.4))
    assert said(bare, "no-test-bends") == (
        "What test bends tell of the die 6: the shop file lacks reference_offset (no pen marks) and stock_per_degree "
        "(each bend is taken to use the length of its arc). Bend a scrap or two and run plumbend calibrate on the shop "
        "file."
    )
    # the springback has an item of its own, and is not named a second time here
    assert [notice.code for notice in bare.notices if "springback" in notice.text] == ["no-springback"]
    assert said(bare, "no-tail") == (
        "The saw length: the shop file lacks the tail of the die 6. Measure the straight that your bender must hold "
        "behind the last bend, and write it there as tail."
    )
    told = bent(90.0, Die("6", 152.4, tail=200.0, reference_offset=12.0, springback=LINE, stock_per_radian=150.5))
    assert not {"no-test-bends", "no-tail"} & {notice.code for notice in told.notices}
