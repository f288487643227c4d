"""CSV files as spreadsheets save them, and lines as people type them."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from plumbend.errors import BadFile
from plumbend.job.dates import explain_date
from plumbend.job.reader import read_job
from plumbend.job.shape_csv import read_shape
from plumbend.job.spreadsheet import read_sheet
from plumbend.shape.program import Program

JOB = """\
units = "in"
[tubing]
od = "1-1/2"
[[die]]
clr = "5-1/2"
[[tube]]
name = "rail"
points = "points.csv"
"""
COMMAS = '''\
name,what,leg,x,y,z,good_to,note
Kotflügel,end,,0,L 12-1/2,34-3/8,,
b,corner,,14,12.5,"37-1/4""",1/4,"over the wheel, left"
c,centre,2,20.25,13,40,,
F,end,,52,16,34,,
'''
SEMICOLONS = COMMAS.replace('"over the wheel, left"', "over the wheel").replace(",", ";").replace("12.5", "12,5")
SEMICOLONS = SEMICOLONS.replace("20.25", "20,25")
TABS = SEMICOLONS.replace(";", "\t")
TWO_LINE_NOTE = COMMAS.replace("wheel, left", "wheel,\nleft")
OTHER_HEADINGS = COMMAS.replace("name,what,leg,x,y,z,good_to,note", " Name ,WHAT,Leg,Forward,left,up,good to,Note")


@pytest.mark.parametrize(
    "data",
    [
        pytest.param(COMMAS.encode(), id="commas"),
        pytest.param(COMMAS.replace("\n", "\r\n").encode("utf-8-sig"), id="BOM and CRLF"),
        pytest.param(COMMAS.replace("\n", "\r").encode(), id="CR alone"),
        pytest.param(COMMAS.encode("cp1252"), id="Windows Latin"),
        pytest.param(COMMAS.encode("utf-16"), id="UTF-16"),
        pytest.param(SEMICOLONS.encode(), id="semicolons and decimal commas"),
        pytest.param(SEMICOLONS.replace("12,5", "12.5").encode(), id="semicolons and decimal points"),
        pytest.param(TABS.encode("utf-16"), id="tabs, UTF-16"),
        pytest.param(f"sep=;\r\n{SEMICOLONS}".encode(), id="separator named"),
        pytest.param(COMMAS.replace("34-3/8", "'34-3/8").encode(), id="apostrophe kept"),
        pytest.param(TWO_LINE_NOTE.encode(), id="cell of two lines"),
        pytest.param(OTHER_HEADINGS.encode(), id="headings in words"),
        pytest.param(f"\n# measured on Monday\n{COMMAS},,,,,,,\n\n".encode(), id="blank rows and a remark"),
    ],
)
def test_points_of_any_spreadsheet(data: bytes, tmp_path: Path) -> None:
    (tmp_path / "job.toml").write_text(JOB, encoding="utf-8")
    (tmp_path / "points.csv").write_bytes(data)
    (tube,) = read_job(tmp_path / "job.toml").tubes
    assert [(p.name, p.what, p.leg) for p in tube.points] == [
        ("Kotflügel", "end", None),
        ("b", "corner", None),
        ("c", "centre", 2),
        ("F", "end", None),
    ]
    places = np.array([[0, 12.5, 34.375], [14, 12.5, 37.25], [20.25, 13, 40], [52, 16, 34]]) * 25.4
    np.testing.assert_allclose([p.at for p in tube.points], places)
    np.testing.assert_allclose([p.cov[0, 0] for p in tube.points], [6.25, 3.175**2, 6.25, 6.25])


@pytest.mark.parametrize(
    ("cell", "typed"),
    [
        ("5-Mar", "5/3 or 3/5"),
        ("Mar-05", "5/3 or 3/5"),
        ("03/05/2026", "3/5 or 5/3"),
        ("3/5/26", "3/5 or 5/3"),
        ("5. Mrz", "5/3 or 3/5"),
        ("05.03.2026", "5/3 or 3/5"),
        ("2026-03-05", "5/3 or 3/5"),
        ("2026-03-05 00:00:00", "5/3 or 3/5"),
        ("5 mars 2026", "5/3 or 3/5"),
        ("8-Mar", "3/8"),
        ("03. Aug", "3/8"),
        ("3-août", "3/8"),
        ("Mar-16", "3/16"),
        ("1-May-08", "1-5/8 or 5-1/8"),
        ("12/3/2008", "12-3/8"),
        ("2008-05-03", "3-5/8 or 5-3/8"),
        ("12.01.2016", "12-1/16"),
        ("4-Apr", "4/4"),
    ],
)
def test_dates_that_were_fractions(cell: str, typed: str) -> None:
    first = typed.split()[0]
    assert explain_date(cell) == (
        f"Type {typed} again with an apostrophe in front ('{first}), or make the column text first."
    )


@pytest.mark.parametrize(
    "cell", ["", "12", "5-3/8", "3/8", "5-3", "1.5", "L 12", "12 mm", "up 3", "5 in", "March", "2026", "5 mr 2"]
)
def test_cells_that_are_no_dates(cell: str) -> None:
    assert explain_date(cell) is None


def test_rows_keep_their_lines() -> None:
    sheet = read_sheet('a,b\n\n"c\nd",e\nf\n', "typed lines")
    assert [(row.line, row.cells) for row in sheet.rows] == [(1, ("a", "b")), (3, ("c\nd", "e")), (5, ("f",))]


CORNERS = np.array([[0, 317.5, 873.125], [355.6, -317.5, 946.15], [1320.8, 406.4, 863.6]])


@pytest.mark.parametrize(
    "typed",
    [
        '0, L 12-1/2, 34-3/8"\n14, R 12-1/2, 37-1/4\n52, L 16, 34',
        "forward,left,up\n0,12.5,34.375\n14,-12.5,37.25\n52,16,34\n",
        "name;z;y;x;note\nA;34,375;12,5;0;rear\nB;37,25;-12,5;14;\nF;34;16;52;\n",
        "X\tY\tZ\n0\t317,5 mm\t34-3/8\n355.6 mm\tR 12 1/2\t37,25\n4' 4\t16\t34\n",
    ],
)
def test_corners_in_any_form(typed: str, tmp_path: Path) -> None:
    shape = read_shape(typed, "in")
    assert isinstance(shape, np.ndarray)
    np.testing.assert_allclose(shape, CORNERS)
    path = tmp_path / "corners.csv"
    path.write_text(typed, encoding="utf-8")
    kept = read_shape(path, "in")
    assert isinstance(kept, np.ndarray)
    np.testing.assert_allclose(kept, CORNERS)


@pytest.mark.parametrize(
    "typed",
    [
        "300, 0, 90\n200, 25 cw, 31-1/2\n150",
        "300,,90\n200,25,31.5\n150,,",
        "straight,turn,bend\n300,0,90\n200,25,31.5\n150,0,",
        "straight,turn,bend\n300,,90\n200,25,31.5\n150",
        "Bend;Turn;Straight\n90;;300\n31,5;25 cw;200\n;;150",
    ],
)
def test_program_in_any_form(typed: str) -> None:
    program = read_shape(typed, "mm")
    assert isinstance(program, Program)
    np.testing.assert_allclose(program.straights, [300, 200, 150])
    np.testing.assert_allclose(np.degrees(program.rotations), [0, 25])
    np.testing.assert_allclose(np.degrees(program.angles), [90, 31.5])


def test_shape_from_a_file_is_called_by_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    Path("old.csv").write_text("forward,left,up\n0,0,0\n1,1,up\n", encoding="utf-8")
    with pytest.raises(BadFile) as caught:
        read_shape(Path("old.csv"), "mm")
    assert str(caught.value) == (
        'old.csv, line 3 (row 2, up): "up" has no number. Write a length like 34.5, 34-3/8, 3\' 4-1/2 or 876 mm.'
    )
