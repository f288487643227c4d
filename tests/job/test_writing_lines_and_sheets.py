"""Lines of a text block and rows of a spreadsheet put in, changed and struck out, the rest as it was typed."""

from __future__ import annotations

from pathlib import Path

import pytest

from support.documents import READING, SHEET, Change, opened


@pytest.mark.parametrize(
    ("before", "change", "after"),
    [
        pytest.param(
            '"""\n  A tape B1 41-3/8   # sill\n\n  # more\n"""',
            lambda d: d.append_reading(' A height 34-3/8" '),
            '"""\n  A tape B1 41-3/8   # sill\n\n  # more\n  A height 34-3/8\\"\n"""',
            id="the indent of the last reading",
        ),
        pytest.param(
            "'''A up 3'''",
            lambda d: d.append_reading("B up 3' 4\""),
            "'''A up 3\nB up 3' 4\"\n'''",
            id="block on one line",
        ),
        pytest.param('""""""', lambda d: d.append_reading("A up 3"), '"""\nA up 3\n"""', id="empty block"),
        pytest.param(
            '"""\r\n\tA up 3\r\n\t"""',
            lambda d: d.append_reading('B up 3\\4 """ 5'),
            '"""\r\n\tA up 3\r\n\tB up 3\\\\4 \\"\\"" 5\r\n\t"""',
            id="CRLF, and characters with a meaning",
        ),
        pytest.param(
            '"""\n  A up 3\n  # no\n  B up 4"""',
            lambda d: [d.replace_reading(2, "B up 5"), d.strike_reading(0), d.strike_reading(0), d.append_reading("C")],
            '"""\n  out A up 3\n  # no\n  B up 5\n  C\n"""',
            id="lines changed and struck out",
        ),
        pytest.param(
            '"""\n  Out  A up 3\n\n  outer up 4\n  C"""',
            lambda d: [
                d.strike_reading(0, False),
                d.strike_reading(2, False),
                d.remove_reading(3),
                d.remove_reading(0),
            ],
            '"""\n\n  outer up 4\n  """',
            id="lines taken back in and out",
        ),
    ],
)
def test_lines_of_a_text_block(before: str, change: Change, after: str, tmp_path: Path) -> None:
    newline = "\r\n" if "\r" in before else "\n"
    document = opened(tmp_path, f"units = 'in'{newline}readings = {before} # typed{newline}[x]")
    assert document.readings_form() == "lines"
    change(document)
    assert document.text() == f"units = 'in'{newline}readings = {after} # typed{newline}[x]"


# Readings and points in a spreadsheet -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("before", "after"),
    [
        pytest.param(SHEET.encode(), f"{SHEET}A,height,34-3/8,,\n".encode(), id="commas"),
        pytest.param(SHEET[:-1].encode(), f"{SHEET}A,height,34-3/8,,\n".encode(), id="last line without end"),
        pytest.param(
            b"sep=;\r\nPoint;How;Value;Note\r\n'A;tape;3,5;h\xf6he\x81\r\n",
            b"sep=;\r\nPoint;How;Value;Note\r\n'A;tape;3,5;h\xf6he\x81\r\nA;height;34-3/8;\r\n",
            id="semicolons, Windows Latin and CRLF",
        ),
        pytest.param(
            SHEET.replace(",", "\t").encode("utf-16"),
            f"{SHEET}A,height,34-3/8,,\n".replace(",", "\t").encode("utf-16"),
            id="tabs, UTF-16",
        ),
        pytest.param(
            b'\xef\xbb\xbf"point","how","value"\r"B","up","3"\r',
            b'\xef\xbb\xbf"point","how","value"\r"B","up","3"\r"A","height","34-3/8"\r',
            id="all in quotes, BOM and CR",
        ),
    ],
)
def test_a_row_more_in_a_spreadsheet(before: bytes, after: bytes, tmp_path: Path) -> None:
    sheet = tmp_path / "tape.csv"
    sheet.write_bytes(before)
    document = opened(tmp_path, "readings = 'tape.csv'")
    assert document.readings_form() == "csv"
    document.append_reading(READING)
    assert sheet.read_bytes() == before
    document.save()
    assert sheet.read_bytes() == after
    assert document.text() == "readings = 'tape.csv'"


def test_rows_of_a_spreadsheet_changed_struck_out_and_restored(tmp_path: Path) -> None:
    rows = [
        "point;how;value;note\n",
        "A;up;3;\n",
        "# remark\n",
        'B;up;4;"two\nlines; here"\n',
        "\n",
        '"C";up; 5;sill\n',
    ]
    (tmp_path / "tape.csv").write_text("".join(rows), encoding="utf-8")
    document = opened(tmp_path, "readings = 'tape.csv'")
    first = document.snapshot()
    document.strike_reading(2)
    document.strike_reading(0)
    document.replace_reading(1, {"point": "#2", "how": "up", "value": 4.5, "note": 'on "top"'})
    document.save()
    rows[1], rows[3], rows[5] = "A;up;3;out\n", '"#2";"up";"4.5";"on ""top"""\n', "C;up;5;out: sill\n"
    assert (tmp_path / "tape.csv").read_text(encoding="utf-8") == "".join(rows)
    second = document.snapshot()
    document.strike_reading(2, False)
    document.strike_reading(2, False)
    document.remove_reading(1)
    document.remove_reading(0)
    document.save()
    assert (tmp_path / "tape.csv").read_text(encoding="utf-8") == "".join([rows[0], rows[2], rows[4], "C;up;5;sill\n"])
    document.restore(second)
    document.save()
    assert (tmp_path / "tape.csv").read_text(encoding="utf-8") == "".join(rows)
    document.restore(first)
    document.save()
    assert (tmp_path / "tape.csv").read_text(encoding="utf-8").startswith("point;how;value;note\nA;up;3;\n# remark\nB")


def test_points_of_a_spreadsheet(tmp_path: Path) -> None:
    (tmp_path / "points.csv").write_text("name,what,forward,left,up\nA,end,0,0,0\n", encoding="utf-8")
    document = opened(tmp_path, "[[tube]]\nname = 'x'\npoints = 'points.csv'\n")
    document.append_point("x", {"name": "F", "what": "end", "at": [1, "L 2", 3.5]})
    document.insert_point("x", 1, {"name": "c", "what": "centre", "at": [0, 0, 1]})
    document.save()
    assert (tmp_path / "points.csv").read_text(encoding="utf-8") == (
        "name,what,forward,left,up\nA,end,0,0,0\nc,centre,0,0,1\nF,end,1,L 2,3.5\n"
    )


# On the disk --------------------------------------------------------------------------------------------------------
