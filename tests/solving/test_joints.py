"""Ends that meet other tubes, neighbours and plates: where they stop, and how well that is known."""

from __future__ import annotations

import math
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from plumbend.advice import measure_next
from plumbend.asking import Why
from plumbend.ends.outline import outline
from plumbend.job.reader import read_job
from plumbend.job.results import TubeResult
from plumbend.solving import solve
from plumbend.survey import survey
from support.end_jobs import (
    BARE_HEAD,
    CLR,
    HEAD,
    HOOP,
    ON_HOOP,
    OUTER,
    POST_RADIUS,
    RAIL,
    TRIM,
    met_at,
    result_of,
    said,
    solved,
    straights,
    tube_table,
)

SAMPLES = Path(__file__).parents[2] / "samples"
CUT_BACK = math.sqrt(POST_RADIUS**2 - OUTER**2)
"""mm from the post's centre to the longest points of a square cope on it."""


def whole(mm: float) -> int:
    """What is left to trim, up to the next step of the tape."""
    return math.ceil(mm - 1e-6)


def test_a_square_leg_runs_to_the_middle_of_the_post_and_is_sawn_to_its_longest_point(tmp_path: Path) -> None:
    tube = solved(tmp_path, HEAD + RAIL)
    assert straights(tube) == pytest.approx([550 - CLR, 700 - CLR], abs=1e-6)
    assert tube.developed_length == pytest.approx(1250 - 2 * CLR + CLR * math.pi / 2, abs=1e-6)
    met = met_at(tube, "F")
    assert met.place == pytest.approx([1000, 500, 600], abs=1e-6)
    assert (met.off, met.aside) == (None, pytest.approx(0, abs=1e-6))
    assert met.longest == pytest.approx(-CUT_BACK, abs=1e-6)
    assert tube.making is not None
    assert tube.making.trims == pytest.approx((whole(TRIM), whole(TRIM + 3 - CUT_BACK)), abs=1e-6)
    assert tube.making.saw_length == pytest.approx(tube.developed_length + sum(tube.making.trims), abs=1e-6)
    assert not said(tube, "not-fixed")


def test_a_start_end_is_carried_as_a_far_end_is(tmp_path: Path) -> None:
    forward = solved(tmp_path, HEAD + RAIL)
    head, rows = RAIL.split("points = [\n")
    turned = "".join(reversed(rows.removesuffix("]\n").splitlines(keepends=True)))
    back = solved(tmp_path, f"{HEAD}{head}points = [\n{turned}]\n")
    assert straights(back) == pytest.approx(straights(forward)[::-1], abs=1e-6)
    assert back.ends == ("F", "A")
    assert back.corners is not None
    assert forward.corners is not None
    assert back.corners == pytest.approx(forward.corners[::-1], abs=1e-6)
    assert back.certainty is not None
    assert forward.certainty is not None
    assert back.certainty.straights == pytest.approx(forward.certainty.straights[::-1], rel=1e-6)
    assert back.certainty.corners == pytest.approx(forward.certainty.corners[::-1], abs=1e-6)
    assert back.making is not None
    assert back.making.trims == pytest.approx((whole(TRIM + 3 - CUT_BACK), whole(TRIM)), abs=1e-6)


@pytest.mark.parametrize("off", [0.0, 30.0])
def test_a_foot_runs_to_the_plate_and_is_sawn_to_its_long_point(tmp_path: Path, off: float) -> None:
    """The leg comes down plumb, 300 mm forward; the plate rises forward by ``off`` degrees through the origin."""
    slope = math.tan(math.radians(off))
    text = HEAD.replace("plate = [ [0, 0, 10] ]", "plate = [ [0, 0, 0] ]").replace('"up"', f"[{-slope}, 0, 1]")
    foot = RAIL.replace(
        "at = [300, 500, 50] },\n", 'on = "deck" },\n  { name = "p", what = "centre", at = [300, 500, 250] },\n'
    )
    tube = solved(tmp_path, text + foot)
    assert straights(tube)[0] == pytest.approx(600 - CLR - 300 * slope, abs=1e-6)
    assert met_at(tube, "A").longest == pytest.approx(OUTER * slope, abs=1e-4)
    assert tube.making is not None
    assert 0 <= tube.making.trims[0] - (TRIM + OUTER * slope) + 1e-6 < 1


@pytest.mark.parametrize("high", [900.0, 750 + 150 / math.sqrt(2)])
def test_a_rail_runs_to_the_bent_hoop_whichever_stands_first_in_the_file(tmp_path: Path, high: float) -> None:
    """To the middle of its top, or of its bend, square to the hoop's plane: its centreline lies there."""
    left = 500.0 if high == 900 else 650 + 150 / math.sqrt(2)
    rail = ON_HOOP.replace("500, 900]", f"{left}, {high}]")
    first, last = (result_of(tmp_path, HEAD + text) for text in (rail + HOOP, HOOP + rail))
    assert [tube.name for tube in first.tubes] == ["rail", "hoop"]
    assert [tube.name for tube in last.tubes] == ["hoop", "rail"]
    for tube in (first.tubes[0], last.tubes[1]):
        assert straights(tube) == pytest.approx([900], abs=1e-6)
        assert met_at(tube, "F").place == pytest.approx([1000, left, high], abs=1e-5)


def test_a_neighbour_that_moves_moves_the_joint(tmp_path: Path) -> None:
    """A post, and a tube of the job, with its doubt."""
    still = solved(tmp_path, HEAD + RAIL)
    moved = solved(
        tmp_path, HEAD.replace("[1000, 500, 0], [1000, 500, 1500]", "[1012, 500, 0], [1012, 500, 1500]") + RAIL
    )
    assert straights(moved) == pytest.approx([straights(still)[0], straights(still)[1] + 12], abs=1e-6)
    on_hoop = solved(tmp_path, HEAD + HOOP.replace("[1000, ", "[1007, ") + ON_HOOP)
    assert straights(on_hoop) == pytest.approx([907], abs=1e-6)
    (cut,) = on_hoop.cuts
    # a tube of one size with the hoop: the tips reach its centreline
    assert outline(cut.leg, cut.neighbours, np.linspace(0, 2 * np.pi, 721)).max() == pytest.approx(907, abs=1e-3)


def test_how_well_a_carried_straight_is_known_is_what_small_errors_do_to_it(tmp_path: Path) -> None:
    """Each figure typed is moved by a little, and the tube solved anew: the squares add up to the ± told. The rail is
    skew to a leaning post, and its start end stands on a tilted plate."""
    head = HEAD.replace("[1000, 500, 1500] ]", "[1100, 560, 1500] ]\ngood_to = 0.001").replace('"up"', "[0.2, 0.1, 1]")
    head = head.replace("plate = [ [0, 0, 10] ]", "plate = [ [0, 0, 10] ]\ngood_to = 0.001")
    places = [(300.0, 500.0, 250.0), (300.0, 500.0, 600.0), (700.0, 520.0, 640.0)]

    def rail(places: list[tuple[float, ...]]) -> TubeResult:
        p, b, c = (f"[{x}, {y}, {z}]" for x, y, z in places)
        rows = tube_table(
            "rail",
            1,
            'A end on = "deck"',
            f"p centre leg = 1, at = {p}",
            f"B corner at = {b}",
            f"c centre leg = 2, at = {c}",
            'F end on = "post"',
        )
        return solved(tmp_path, head + rows)

    tube = rail(places)
    squares, step = np.zeros(2), 0.05
    ends = np.zeros((2, 3))
    for k in range(3):
        for axis in range(3):
            nudged = [list(place) for place in places]
            nudged[k][axis] += step
            other = rail([tuple(place) for place in nudged])
            squares += ((np.array(straights(other)) - straights(tube)) / step) ** 2
            assert other.corners is not None
            assert tube.corners is not None
            ends += ((other.corners - tube.corners)[[0, -1]] / step) ** 2
    assert tube.certainty is not None
    assert tube.certainty.straights == pytest.approx(np.sqrt(squares), rel=5e-3)
    assert tube.certainty.corners[[0, -1]] == pytest.approx(np.sqrt(ends), rel=2e-2, abs=2e-2)
    assert tube.certainty.every_number_known


def test_where_the_neighbour_stands_is_part_of_the_doubt(tmp_path: Path) -> None:
    sure, rough = (
        solved(tmp_path, HEAD.replace("od = 48", f"od = 48\ngood_to = {good}") + RAIL) for good in (0.001, 6)
    )
    assert sure.certainty is not None
    assert rough.certainty is not None
    more = rough.certainty.straights[-1] ** 2 - sure.certainty.straights[-1] ** 2
    assert more == pytest.approx(3.0**2, rel=1e-3)
    assert rough.certainty.straights[0] == pytest.approx(sure.certainty.straights[0])


def test_an_end_that_was_measured_elsewhere_is_told(tmp_path: Path) -> None:
    near = solved(tmp_path, HEAD + RAIL.replace('on = "post"', 'at = [998, 500, 600], on = "post"'))
    short = solved(tmp_path, HEAD + RAIL.replace('on = "post"', 'at = [988, 500, 600], on = "post"'))
    beyond = solved(tmp_path, HEAD + RAIL.replace('on = "post"', 'at = [1012, 500, 600], on = "post"'))
    assert met_at(near, "F").off == pytest.approx(2, abs=1e-6)
    assert [said(tube, "end-off") for tube in (near, short, beyond)] == [
        [],
        [
            "The F end was measured 12 mm short of where it meets post, and the two are good to 2.83 mm. The tube runs "
            "to post. Check F, and where post lies."
        ],
        [
            "The F end was measured 12 mm beyond where it meets post, and the two are good to 2.83 mm. The tube runs "
            "to post. Check F, and where post lies."
        ],
    ]
    assert all(straights(tube)[-1] == pytest.approx(550, abs=1e-6) for tube in (near, short, beyond))


def test_a_post_that_readings_place_takes_the_rail_along(tmp_path: Path) -> None:
    text = (SAMPLES / "trailer-rail.toml").read_text(encoding="utf-8")
    (tmp_path / "shop.toml").write_text((SAMPLES / "shop.toml").read_text(encoding="utf-8"), encoding="utf-8")
    still = solved(tmp_path, text, "hand rail")
    readings = {
        "W1 drop 300": "W1 drop 290",
        "B1 539": "B1 533.3",
        "W2 drop 302": "W2 drop 292",
        "1209": "1206.4",
        "2061": "2067",
    }
    for old, new in readings.items():
        assert text.count(old) == 1
        text = text.replace(old, new)
    moved = solved(tmp_path, text, "hand rail")
    assert straights(moved)[0] - straights(still)[0] == pytest.approx(10, abs=1)
    assert straights(moved)[1:] == pytest.approx(straights(still)[1:], abs=1e-6)


@pytest.mark.parametrize(
    ("readings", "neighbour", "why"),
    [
        (
            "U2 drop 1000, L 500",
            'tube = ["U1", "U2"]\nod = 48',
            "the readings do not fix where U2 is. Ways out: measure U2 once more",
        ),
        (
            "U2 drop 1000, L 500\nU2 height 20",
            'tube = ["U1", "U2"]\nod = 48',
            '"post" is given by two places 20 mm apart, nearer than its OD of 48 mm. Ways out: check its places',
        ),
        (
            "U2 drop 1000, L 600\nU2 height 0\nU3 drop 1000, L 800\nU3 height 0",
            'plate = ["U1", "U2", "U3"]',
            "its three places lie on one line, or nearly. Ways out: check its places",
        ),
    ],
)
def test_a_neighbour_that_its_readings_do_not_place(tmp_path: Path, readings: str, neighbour: str, why: str) -> None:
    head = BARE_HEAD.replace(
        'units = "mm"', f'units = "mm"\nreadings = """\nU1 drop 1000, L 500\nU1 height 0\n{readings}\n"""'
    )
    tube = solved(tmp_path, f'{head}[[neighbour]]\nname = "post"\n{neighbour}\n{RAIL}')
    assert not tube.solved
    (text,) = said(tube, "neighbour-not-placed-F")
    assert text == (f'The F end is on post, and {why}, or take out "on" and say with "at" where the F end stops.')


def test_a_saw_that_runs_straight_on_where_the_hoop_bends_is_told(tmp_path: Path) -> None:
    clr, head = 80.0, HEAD.replace("clr = 150", "clr = 80")
    left, up = 800 - clr * (1 - math.sqrt(0.5)), 900 - clr * (1 - math.sqrt(0.5))  # the middle of the hoop's first bend
    rail = ON_HOOP.replace("500, 900]", f"{left}, {up}]")
    tube = solved(tmp_path, head + HOOP + rail)
    (report,) = [report for report in tube.end_reports if report.meets]
    # a saw as wide as the hoop leaves the rise of the bend over the width of the rail, or a little more
    assert report.saw_gap == pytest.approx(clr - math.sqrt(clr**2 - OUTER**2), rel=0.3)
    assert said(tube, "end-saw-gap-F") == [
        "At the F end a straight pass of a hole saw leaves gaps of 2.05 mm, as hoop is bent there or stands aside. "
        "Dress the cut by hand, or cut it to a template."
    ]


def test_how_long_a_carried_straight_is_has_no_share_in_what_was_measured(tmp_path: Path) -> None:
    """The neighbour has its part in it too, so the shares of the tube's own points would not add up."""
    (tmp_path / "job.toml").write_text(HEAD + RAIL, encoding="utf-8")
    (tube,) = solve(read_job(tmp_path / "job.toml"), why=Why()).tubes
    assert tube.why is not None
    drivers = tube.why.drivers
    assert drivers is not None
    assert np.isnan(drivers.straights[1]).all()
    assert np.isnan(drivers.developed_length).all()
    assert drivers.straights[0].sum() == pytest.approx(1.0)
    assert drivers.angles[0].sum() == pytest.approx(1.0)


def test_an_end_that_meets_something_is_not_asked_to_be_measured(tmp_path: Path) -> None:
    """The rail's front bracket is measured as a place of its last straight, and its end is on a post there or open."""
    (tmp_path / "shop.toml").write_text((SAMPLES / "shop.toml").read_text(encoding="utf-8"), encoding="utf-8")
    text = (SAMPLES / "stretcher-rail.toml").read_text(encoding="utf-8").replace("\nF ", "\nd2 ")
    last = '{ name = "F", what = "end", note = "front bracket" }'
    place = '{ name = "d2", what = "centre", leg = 4 },'
    post = '\n[[neighbour]]\nname = "post"\ntube = [ [52, 16, 10], [52, 16, 60] ]\nod = "1-3/4"\n'
    asked = []
    for rows, more in ((f'{place} {{ name = "F", what = "end", on = "post" }}', post), (place.rstrip(","), "")):
        file = tmp_path / "job.toml"
        file.write_text(text.replace(last, rows) + more, encoding="utf-8")
        read = read_job(file)
        assert read.frame is not None
        notices = measure_next(read, survey(read, read.frame, "in"), "in")
        asked.append([notice.text for notice in notices if "end" in notice.text])
    assert asked[0] == []
    assert asked[1]


def test_a_job_without_such_ends_loads_nothing_of_it() -> None:
    program = (
        "import sys; from plumbend.job.reader import read_job; from plumbend.solving import solve\n"
        f"solve(read_job({str(SAMPLES / 'stretcher-rail-points.toml')!r}))\n"
        "new = {'neighbourhood', 'joining', 'cut_ends', 'cutting', 'job.meetings', 'job.end_cuts', 'job.neighbours', "
        "'job.around'}\n"
        "print([name for name in sys.modules if name.removeprefix('plumbend.') in new or '.ends' in name])"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "[]\n"
