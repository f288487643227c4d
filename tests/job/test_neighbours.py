"""What ends of tubes meet, as read from the job and from a CSV of points."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

from plumbend.ends.surfaces import Cylinder, Plane, Torus
from plumbend.job.end_cuts import in_solving_order
from plumbend.job.reader import read_job

HEAD = """
units = "in"
[tubing]
od = "1-1/2"
wall = 0.095
[[die]]
clr = "5-1/2"
[[neighbour]]
name = "old  hoop"
tube = [ [0, "L 20", 0], [0, "L 20", "3 ft"], ["40 mm", "R 20", "36"] ]
od = "42.4 mm"
clr = 6
good_to = ["1/8", "1/8", "1/4"]
[[neighbour]]
name = "deck"
plate = [ [0, 0, 1], [10, 0, 1], [0, 10, 2] ]
"""
TUBE = '[[tube]]\nname = "rail"\nbends = 0\npoints = "rail.csv"\n'


def test_a_csv_says_what_its_ends_meet(tmp_path: Path) -> None:
    rows = (
        "name,what,x,y,z,on,mitre,short_side,allowance,edge\n"
        "A,end,,,,old hoop; deck,,,1/8,Inside\n"
        "b,centre,10,0,20,,,,,\n"
        "F,end,20,0,20,,30,top,,\n"
    )
    (tmp_path / "rail.csv").write_text(rows, encoding="utf-8")
    (tmp_path / "job.toml").write_text(HEAD + TUBE, encoding="utf-8")
    (tube,) = read_job(tmp_path / "job.toml").tubes
    start, far = tube.meetings
    assert (start.end, start.far, start.on, start.allowance) == ("A", False, ("old hoop", "deck"), 3.175)
    assert (start.edges, far.edges) == ("inner", "both")
    assert (far.end, far.far, far.on, far.off_square) == ("F", True, (), math.radians(30))
    assert far.short_side is not None
    assert far.short_side.tolist() == [0, 0, 1]
    assert tube.ends == ("A", "F")
    assert [point.name for point in tube.points] == ["b", "F"]


def test_neighbours_are_tubes_bent_and_straight_and_plates(tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(
        HEAD + '[[tube]]\nname = "p"\nprogram = [ { straight = 9 } ]\n', encoding="utf-8"
    )
    hoop, deck = read_job(tmp_path / "job.toml").neighbours
    assert (hoop.name, hoop.od, hoop.clr) == ("old hoop", 42.4, pytest.approx(152.4))
    assert hoop.sd == pytest.approx([25.4 / 16, 25.4 / 16, 25.4 / 8])
    at = np.array([place for place in hoop.places if not isinstance(place, str)])
    assert at == pytest.approx(np.array([[0, 508, 0], [0, 508, 914.4], [40, -508, 914.4]]))
    assert [type(piece) for piece in hoop.surface(at).pieces] == [Cylinder, Torus, Cylinder]
    (face,) = deck.surface(np.array(deck.places, dtype=np.float64)).pieces
    assert isinstance(face, Plane)
    assert abs(face.normal @ np.array([0.0, -1.0, 10.0])) == pytest.approx(math.sqrt(101))


def test_what_is_met_is_solved_first_and_the_rest_in_the_order_of_the_file(tmp_path: Path) -> None:
    def tube(name: str, on: str) -> str:
        end = f'on = "{on}"' if on else "at = [9, 0, 9]"
        return (
            f'[[tube]]\nname = "{name}"\nbends = 0\npoints = [ {{ name = "A", what = "end", at = [0, 0, 9] }}, '
            f'{{ name = "b", what = "centre", at = [5, 0, 9] }}, {{ name = "F", what = "end", {end} }} ]\n'
        )

    text = HEAD + tube("one", "four") + tube("two", "") + tube("three", "one") + tube("four", "deck")
    (tmp_path / "job.toml").write_text(text, encoding="utf-8")
    tubes = read_job(tmp_path / "job.toml").tubes
    assert [one.name for one in in_solving_order(tubes)] == ["four", "one", "two", "three"]
