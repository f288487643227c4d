"""What the page says of ends that are cut to something."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest

from plumbend.job.reader import read_job
from plumbend.job.results import EndMet
from plumbend.solving import solve
from plumbend_cli.ends_page import ends_blocks
from plumbend_cli.page import Heading, Paragraph, show
from plumbend_cli.solve_page import solve_page

SAMPLES = Path(__file__).parents[2] / "samples"


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    """The page of each tube of the trailer's rail, on one line."""
    job = read_job(SAMPLES / "trailer-rail.toml")
    found: dict[str, str] = {}
    name = ""
    for block in solve_page(job, solve(job), job.units):
        if isinstance(block, Heading) and block.level == 2:
            name = block.text
        elif isinstance(block, Paragraph):
            found[name] = f"{found.get(name, '')}{block.lead}{block.text}\n"
    return found


@pytest.mark.parametrize(
    ("tube", "said"),
    [
        (
            "hand rail",
            "- The A end is cut to meet winch post; its centreline stops at winch post. The longest point of the cut "
            "lies 21.4 mm short of where the centreline stops, 28.7 mm from the sawn end, with 3.0 mm left on to be "
            "worked down to the joint.\n",
        ),
        (
            "strut",
            "- The F end is cut to meet bed; its centreline stops at bed. The longest point of the cut lies 33.7 mm "
            "beyond where the centreline stops, 25.3 mm from the sawn end.\n",
        ),
        (
            "lamp arm",
            "- The A end is cut square. The longest point of the cut lies where the centreline stops, 25.0 mm from the "
            "sawn end.\n",
        ),
        (
            "lamp arm",
            "- The F end is mitred 45.0 degrees off square. The longest point of the cut lies 21.2 mm beyond where the "
            "centreline stops, 26.8 mm from the sawn end, with 1.0 mm left on to be worked down to the joint.\n",
        ),
    ],
)
def test_an_end_says_what_it_meets_and_where_its_longest_point_lies(
    pages: dict[str, str], tube: str, said: str
) -> None:
    assert said in pages[tube]


def test_a_straight_tube_with_such_ends_is_sawn_to_a_length(pages: dict[str, str]) -> None:
    assert "- Saw the tube to 937.0 mm.\n" in pages["stay"]


def test_a_straight_tube_is_measured_where_a_tape_reaches_and_clocked_from_a_line_that_is_scribed(
    pages: dict[str, str],
) -> None:
    stay = pages["stay"]
    assert "- Scribe your line along it, end to end: the cuts of both ends are clocked from it.\n" in stay
    assert "lies 2.1 counter-clockwise of your line (0.8 mm round the tube).\n" in stay
    assert "Your line is the one scribed along the tube; the other end counts from its longest point, cut.\n" in stay


def test_a_straight_tube_has_no_checks_of_a_bender_that_it_never_sees(pages: dict[str, str]) -> None:
    for straight in ("stay", "strut"):
        assert "Room at the bender" not in pages[straight]
        assert "without kink or wrinkle" not in pages[straight]
    assert "Room at the bender" in pages["hand rail"]


def test_an_end_that_cannot_be_cut_is_not_said_to_be_a_bend(tmp_path: Path) -> None:
    text = (SAMPLES / "trailer-rail.toml").read_text(encoding="utf-8").replace("od = 60.3", "od = 30")
    shop = (SAMPLES / "shop.toml").read_text(encoding="utf-8")
    (tmp_path / "shop.toml").write_text(shop, encoding="utf-8")
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    job = read_job(tmp_path / "job.toml")
    out = io.StringIO()
    show(solve_page(job, solve(job), job.units), out)
    rail = " ".join(out.getvalue().partition("\nhand rail\n----")[2].partition("\nstay\n----")[0].split())
    said = "AN END CANNOT BE CUT as asked: the reasons stand below. What follows is the tube as measured, uncut."
    assert said in rail
    assert "CANNOT BE CUT: The A end cannot be cut to meet winch post. The tube is 42.4 mm OD" in rail
    assert "CANNOT BE BENT" not in rail


def test_a_straight_tube_has_no_pen_marks_on_a_die_that_gives_them(tmp_path: Path) -> None:
    shop = 'units = "mm"\n[[die]]\nclr = 150\nod = 42.4\nreference_offset = 12\ntail = 200\n'
    (tmp_path / "shop.toml").write_text(shop, encoding="utf-8")
    text = (SAMPLES / "trailer-rail.toml").read_text(encoding="utf-8").replace('die = "150 metric"\n', "")
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    job = read_job(tmp_path / "job.toml")
    out = io.StringIO()
    show(solve_page(job, solve(job), job.units), out)
    stay = out.getvalue().partition("\nstay\n----\n")[2].partition("\nstrut\n----")[0]
    assert "Numbers to set\n        straight\n  step        mm\n  1          90" in stay
    assert "mark" not in stay


@pytest.mark.parametrize(
    ("aside", "why"), [(2.0, "is pulled over as it is tacked"), (5.0, "what was measured can tell from none")]
)
def test_centrelines_that_pass_say_why_they_are_taken_to_cross(aside: float, why: str) -> None:
    met = EndMet("A", False, ("post",), None, 0.0, np.zeros(3), None, -10.0, 100.0, aside, centred=True)
    (block,) = ends_blocks([met], None, "mm")
    assert isinstance(block, Paragraph)
    assert block.text.endswith(
        f"The two centrelines pass each other by {aside} mm, no more than {why}: the cut is made as if they crossed."
    )
