"""What is said of the ends that a job's tubes are cut to."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from plumbend.ends.end_report import gaps_of
from plumbend.ends.setting_up import reach
from plumbend.ends.template import template
from plumbend.job.reader import read_job
from plumbend.job.result_json import result_to_json
from plumbend.job.results import Result
from plumbend.solving import solve
from support.end_jobs import BARE_HEAD, POST, result_of, tube_table

HEAD = f"{BARE_HEAD}max_wrap = 180\n{POST}"
BENDER = """
[bender]
plane = "level"
swings = "right"
"""


def solved(
    folder: Path, last: str, shop: str = BENDER, node: float = 600.0, die: str = "grip = 60\ntail = 100"
) -> Result:
    """A rail of one bend whose ``last`` measured place, before the post, says how it slants."""
    rail = tube_table(
        "rail",
        1,
        "A end at = [300, 500, 50], square = true",
        f"B corner at = [300, 500, {node}]",
        f"c centre at = {last}",
        'F end on = "post"',
    )
    return result_of(folder, HEAD.replace("max_wrap", f"{die}\nmax_wrap") + shop + rail)


def told(result: Result) -> list[str]:
    notices = result.tubes[0].notices
    return [f"{n.level}: {n.text}" for n in notices if n.code.startswith(("end-", "notcher"))]


def test_nothing_is_said_where_the_notcher_does_it_all(tmp_path: Path) -> None:
    shop = BENDER + "[notcher]\nmost_off_square = 50\nclamp = 100\ncup = 45\n"
    result = solved(tmp_path, "[700, 500, 600]", shop)
    assert result.exit_status == 0
    assert told(result) == []
    square, cope = result.tubes[0].end_reports
    assert square.places == ()
    assert gaps_of(square) is None
    assert [place.names for place in cope.places] == [("tip",), ("tip",), ("throat",), ("throat",)]
    assert cope.when == "either"
    # up lies along the first leg, and the bend's inside faces up as the rail runs on forward: the throats lie there,
    # along the post
    assert sorted(abs(np.degrees(place.round)) for place in cope.places) == pytest.approx([0, 90, 90, 180], abs=1e-3)


def test_what_the_notcher_cannot_do_is_told_with_the_way_out(tmp_path: Path) -> None:
    shop = BENDER + "[notcher]\nmost_off_square = 45\nclamp = 2000\ncup = 45\n"
    result = solved(tmp_path, "[600, 500, 720]", shop, node=300.0)
    assert result.exit_status == 0
    assert told(result) == [
        "caution: At the F end the cut on post is 54.4 degrees off square, and the notcher goes to 45.0. Cut it to a "
        "template with a grinder, or on another machine.",
        "caution: At the F end the cut on post is 68.6 mm deep along the saw, and its cup takes 45.0 mm. Cut the slant "
        "first, or stop and break out the slug.",
        "caution: Cut the F end before bending: once it is bent, too little straight tube is left for the notcher's "
        "clamp. Its clocking must then be right beforehand.",
    ]


def test_what_the_shop_file_leaves_open_is_listed_as_not_checked(tmp_path: Path) -> None:
    result = solved(tmp_path, "[700, 500, 600]", shop="", die="")
    assert told(result) == [
        "not-checked: Whether your notcher can make the ends: the shop file's [notcher] does not give its "
        "most_off_square, cup and clamp.",
        "not-checked: Whether the ends may be cut before bending: the shop file gives no grip or tail of the die 150.",
        "not-checked: How far the cuts lie round from the reference line: that is told for a level bender alone, whose "
        "shop file says how it swings. Measure them from the inside of the bend.",
    ]


def test_result_as_json_has_the_numbers_for_each_end(tmp_path: Path) -> None:
    (tube,) = result_to_json(solved(tmp_path, "[700, 500, 600]"))["tubes"]
    square, cope = tube["cuts"]
    assert (square["end"], square["settings"][0]["on"]) == ("A", "square cut")
    assert (square["places"], square["gaps"]) == ([], None)
    assert cope["viewpoint"] == "looking along the tube from the bend toward the cut"
    settings = cope["settings"][0]
    assert settings["joint_angle"] + settings["off_square"] == pytest.approx(90)
    assert settings["hole_saw"] == 48
    assert cope["gaps"]["exact"] == pytest.approx(0, abs=1e-6)
    for place in cope["places"]:
        # the line lies square to the bend's plane, to the left or right of its inside
        apart = place["from_bend"]["degrees"] - place["from_line"]["degrees"]
        assert apart % 180 == pytest.approx(90, abs=1e-6)
        assert place["from_line"]["arc"] == pytest.approx(np.radians(place["from_line"]["degrees"]) * 20)


def test_the_edge_that_is_to_touch_is_the_one_that_is_drawn(tmp_path: Path) -> None:
    solved(tmp_path, "[700, 500, 600]")
    file = tmp_path / "job.toml"
    text = file.read_text(encoding="utf-8")
    tips, gaps = {}, {}
    for edge in ("outside", "inside", "both"):
        file.write_text(text.replace('on = "post"', f'on = "post", edge = "{edge}"'), encoding="utf-8")
        (tube,) = solve(read_job(file)).tubes
        cut, report = tube.cuts[-1], tube.end_reports[-1]
        line = template(cut).line[:, 1] + template(cut).edge
        places = [place.at.tangent for place in report.places]
        assert (places[0], places[-1]) == pytest.approx((line.max(), line.min()), abs=1e-3)
        assert tube.met[-1].longest == pytest.approx(line.max() - tube.met[-1].at, abs=1e-3)
        fit = gaps_of(report)
        assert fit is not None
        tips[edge], gaps[edge] = line.max(), fit.exact
    # square on a post of 24 mm radius, a line at the tip and r off the tube's axis stops sqrt(24^2 - r^2) short
    assert tips["outside"] == tips["both"]
    assert tips["outside"] - tips["inside"] == pytest.approx(np.sqrt(24**2 - 18**2) - np.sqrt(24**2 - 20**2), abs=1e-6)
    assert gaps["both"] == pytest.approx(0, abs=1e-6)
    assert gaps["inside"] > 1
    assert gaps["outside"] > 1


def test_both_ends_of_a_straight_tube_count_from_one_line(tmp_path: Path) -> None:
    stay = POST.replace("post", "stay").replace("[1000, ", "[300, ")
    places = ("b centre at = [500, 500, 700]", "c centre at = [800, 500, 700]")
    rail = tube_table("rail", 0, 'A end on = "stay"', *places, 'F end on = "post"')
    start, far = result_of(tmp_path, HEAD + stay + rail).tubes[0].end_reports
    # the posts stand alike, so the throats lie on the same two sides of the tube, and from behind left is right
    for one in start.places:
        assert one.from_line is not None
        assert any(
            other.from_line is not None
            and other.names == one.names
            and np.cos(one.from_line.turn + other.from_line.turn) == pytest.approx(1, abs=1e-6)
            for other in far.places
        )


def test_in_a_node_one_tube_alone_need_not_stop_the_whole_end(tmp_path: Path) -> None:
    """The stay passes 3 mm aside of the rail, and is as thick."""
    stay = '[[neighbour]]\nname = "stay"\ntube = [ [700, 503, 300], [1000, 503, 700] ]\nod = 40\n'
    places = ("A end at = [300, 500, 700]", "b centre at = [500, 500, 700]")
    result = result_of(tmp_path, HEAD + stay + tube_table("rail", 0, *places, 'F end on = ["post", "stay"]'))
    assert result.exit_status == 0
    (report,) = result.tubes[0].end_reports
    assert [one.name for one in report.settings] == ["post", "stay"]
    assert all(one.depth is not None and 20 < one.depth < 60 for one in report.settings)
    assert result_to_json(result)["tubes"][0]["cuts"][0]["settings"][1]["hole_saw"] == 40


def test_a_straight_tube_counts_from_the_longest_point_of_its_other_end() -> None:
    samples = Path(__file__).parents[2] / "samples"
    stay = next(tube for tube in solve(read_job(samples / "trailer-rail.toml")).tubes if tube.name == "stay")
    longest = [max(place.at.other or 0.0 for place in report.places) for report in stay.end_reports]
    # from tip to tip, whichever end is measured from: neither end's centreline is there to be touched
    assert longest[0] == pytest.approx(longest[1], abs=0.01)
    post, rail = (met.longest for met in stay.met)
    assert longest[0] == pytest.approx(stay.met[0].at + post + rail, abs=0.01)
    for cut in stay.cuts:
        edge = template(cut).edge
        assert reach(cut.leg, edge, cut.other).other == pytest.approx(edge + (post if cut.far else rail), abs=0.01)
