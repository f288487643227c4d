"""Job files written again with every character that nobody touched as it was: samples, new jobs, lists, tables."""

from __future__ import annotations

import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from plumbend.errors import BadValue
from plumbend.job.new_job import new_job_text
from plumbend.job.writing import JobDocument
from support.documents import A_TEXT, A, Change, add, opened, remove

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.toml"))


@pytest.mark.parametrize("sample", SAMPLES, ids=lambda sample: sample.stem)
def test_a_sample_comes_back_as_it_was(sample: Path, tmp_path: Path) -> None:
    document = opened(tmp_path, sample.read_bytes())
    before = document.snapshot()
    has_lines = document.readings_form() == "lines"
    bases = document.data.get("base", [])
    document.append_reading("A tape B9 12" if has_lines else A)
    document.append_base({"name": "B9", "at": [1, "L 2", "3-1/2"]})
    document.set_value(("title",), "Another")
    if has_lines:
        assert document.data["readings"].splitlines()[-1] == "A tape B9 12"
    else:
        assert document.data["readings"] == [A]
    assert tomllib.loads(document.text())["base"] == [*bases, {"name": "B9", "at": [1, "L 2", "3-1/2"]}]
    document.save()
    assert document.path.read_bytes() != sample.read_bytes()
    document.restore(before)
    document.save()
    assert document.path.read_bytes() == sample.read_bytes()


def test_a_new_job_is_tidy(tmp_path: Path) -> None:
    text = new_job_text(
        title="Stretcher rail, left",
        units="in",
        shop="shop.toml",
        od="1-1/2",
        wall=0.095,
        metal="mild steel",
        tube="left rail",
        die="5-1/2",
        bends=3,
    )
    document = JobDocument.new(tmp_path / "rail.toml", text)
    add(document)
    document.append_reading({"to": "A", "drop": [0, 'L 12-1/2"']})
    document.append_base({"name": "B1", "at": [0, 0, 0]})
    document.append_point("left rail", {"name": "A", "what": "end"})
    document.append_point("left rail", {"name": "F", "what": "end", "at": [52, 16.5, "3' 4-1/2\""]})
    document.strike_reading(0)
    document.save()
    assert document.path.read_text(encoding="utf-8") == (
        "# Forward is along the vehicle, left is the driver's left, up is plumb: "
        '"fwd 3", "R 12", "down 2" say it in words.\n'
        """\
# Lengths: 34.5, "34-3/8", '3ft 4-1/2"', "1016 mm". A figure with its unit or a fraction goes in quotes.
title = "Stretcher rail, left"
units = "in"                  # in or mm: how bare figures are read
shop = "shop.toml"            # beside this file
readings = [
  { to = "A", from = "B1", tape = "36-9/16", out = true },
  { to = "A", drop = [0, 'L 12-1/2"'] },
]

[tubing]
od = "1-1/2"                  # outside diameter
wall = 0.095
metal = "mild steel"

[[base]]
name = "B1"
at = [0, 0, 0]

[[tube]]
name = "left rail"
die = "5-1/2"
bends = 3                     # take this line out to have them found
points = [                    # in order from the start end to the far end
  { name = "A", what = "end" },
  { name = "F", what = "end", at = [52, 16.5, "3' 4-1/2\\""] },
]
"""
    )


def test_what_a_new_job_does_not_know_is_left_out(tmp_path: Path) -> None:
    document = JobDocument.new(tmp_path / "job.toml", new_job_text(title="Hoop", units="mm", od=42.4, tube="hoop"))
    assert document.data == {
        "title": "Hoop",
        "units": "mm",
        "tubing": {"od": 42.4},
        "tube": [{"name": "hoop", "points": []}],
    }


HEAD = 'units = "in" # head\n\n# about the tubing\n[tubing]\nod = 1\n'


@pytest.mark.parametrize(
    ("before", "change", "after"),
    [
        pytest.param("r = [\n  1,\n]", add, "r = [\n  1,\n  NEW,\n]", id="trailing comma"),
        pytest.param("r = [\n\t1\n]", add, "r = [\n\t1,\n\tNEW\n]", id="no trailing comma, tabs"),
        pytest.param("r = [\n  1, # one\n  2 # two\n]", add, "r = [\n  1, # one\n  2, # two\n  NEW\n]", id="remarks"),
        pytest.param("r = [\n  1,  # one\n\n  # end\n]", add, "r = [\n  1,  # one\n  NEW,\n\n  # end\n]", id="end"),
        pytest.param("r = [1, 1] # all", add, "r = [1, 1, NEW] # all", id="one line"),
        pytest.param("r = [ 1, ]", add, "r = [ 1, NEW, ]", id="one line, trailing comma"),
        pytest.param("r = [] # none", add, "r = [\n  NEW,\n] # none", id="empty"),
        pytest.param("  r = [ ]", add, "  r = [\n    NEW,\n  ]", id="empty and indented"),
        pytest.param("r = [ # none\n]", add, "r = [ # none\n  NEW,\n]", id="empty on two lines"),
        pytest.param("r = [\n    # none\n]", add, "r = [\n    # none\n    NEW,\n]", id="only a remark"),
        pytest.param("r = [ 1,\n      1 ]", add, "r = [ 1,\n      1,\n      NEW ]", id="under the first"),
        pytest.param("r = [ 1, # one\n]", add, "r = [ 1, # one\n  NEW,\n]", id="first beside the bracket"),
        pytest.param("r = [\n  1, 1,\n  1, 1\n]", add, "r = [\n  1, 1,\n  1, 1,\n  NEW\n]", id="two to a line"),
        pytest.param("r = [\n   1 # x\n , 1 # y\n]", add, "r = [\n   1 # x\n , 1, # y\n   NEW\n]", id="commas first"),
        pytest.param("r = [\n  1\n  , # odd\n]", add, "r = [\n  1\n  , # odd\n  NEW,\n]", id="comma on its own line"),
        pytest.param("r = [\r\n  1\r\n]\r\n", add, "r = [\r\n  1,\r\n  NEW\r\n]\r\n", id="CRLF"),
        pytest.param('"r" = []', add, '"r" = [\n  NEW,\n]', id="key in quotes"),
        pytest.param("r = [\n  1, # one\n  2, # two\n]", remove(0), "r = [\n  2, # two\n]", id="take out the first"),
        pytest.param("r = [\n  1, # one\n  2 # two\n]", remove(1), "r = [\n  1 # one\n]", id="take out the last"),
        pytest.param("r = [\n  1, # one\n]", remove(0), "r = [\n]", id="take out the only one"),
        pytest.param("r = [ 1, 2, 3 ]", remove(0), "r = [ 2, 3 ]", id="take out the first of a line"),
        pytest.param("r = [ 1, 2, 3 ]", remove(1), "r = [ 1, 3 ]", id="take out the middle of a line"),
        pytest.param("r = [ 1, 2, 3 ]", remove(2), "r = [ 1, 2 ]", id="take out the end of a line"),
        pytest.param("r = [ 1, ]", remove(0), "r = []", id="take out the only one of a line"),
        pytest.param("r = [\n  1, 2, # x\n  3\n]", remove(1), "r = [\n  1, # x\n  3\n]", id="take out beside a remark"),
        pytest.param("r = [\n  1, # x\n  2 ]", remove(1), "r = [\n  1 # x\n  ]", id="bracket stays below a remark"),
        pytest.param("r = [ 1\n    , 2\n    ]", remove(1), "r = [ 1\n    ]", id="take out with the comma before"),
        pytest.param("r = [\n  1 # x\n , 2\n]", remove(0), "r = [\n  2\n]", id="take out with the comma below"),
    ],
)
def test_a_list_keeps_its_layout(before: str, change: Change, after: str, tmp_path: Path) -> None:
    def filled(text: str) -> str:
        # figures stand for rows, which are as long as rows are
        for figure in "123":
            text = text.replace(f" {figure}", f' {{ to = "{figure}", up = [0,{figure}] }}')
            text = text.replace(f"\t{figure}", f'\t{{ to = "{figure}", up = [0,{figure}] }}')
            text = text.replace(f"[{figure}", f'[{{ to = "{figure}", up = [0,{figure}] }}')
        return text.replace("r =", "readings =").replace('"r"', '"readings"').replace("NEW", A_TEXT)

    document = opened(tmp_path, filled(before))
    change(document)
    assert document.text() == filled(after)


@pytest.mark.parametrize(
    ("before", "change", "after"),
    [
        pytest.param(
            HEAD,
            add,
            HEAD.replace("# head\n", f"# head\nreadings = [\n  {A_TEXT},\n]\n"),
            id="readings above the first header",
        ),
        pytest.param(
            "# job\n\n# tubing\n[tubing]\nod = 1",
            add,
            f"# job\n\nreadings = [\n  {A_TEXT},\n]\n# tubing\n[tubing]\nod = 1",
            id="readings where nothing else stands above the first header",
        ),
        pytest.param("", add, f"readings = [\n  {A_TEXT},\n]\n", id="readings in an empty file"),
        pytest.param(
            "units = 'in'", add, f"units = 'in'\nreadings = [\n  {A_TEXT},\n]", id="readings after a line without end"
        ),
        pytest.param(
            '[[readings]]\nto = "B"\n# b\n\n[x]\n',
            add,
            '[[readings]]\nto = "B"\n# b\n\n[[readings]]\nto = "A"\nfrom = "B1"\ntape = "36-9/16"\n\n[x]\n',
            id="readings with headers",
        ),
        pytest.param(
            HEAD + "[[tube]]\nname = 'x'\n",
            lambda d: d.append_point("x", {"name": "A"}),
            HEAD + "[[tube]]\nname = 'x'\npoints = [\n  { name = \"A\" },\n]\n",
            id="points of a tube without any",
        ),
        pytest.param(
            "[[tube]]\nname = 'x'\nbends = 1\n\n[x]\n",
            lambda d: [d.append_reading({"bend": 1, "angle": 90.5}, "x"), d.strike_reading(0, tube="x")],
            "[[tube]]\nname = 'x'\nbends = 1\nreadings = [\n  { bend = 1, angle = 90.5, out = true },\n]\n\n[x]\n",
            id="a reading of a tube",
        ),
        pytest.param(
            "[[tube]]\nname = 'x'\n[[tube.points]]\nname = 'A'\n[[tube]]\nname = 'y'\n",
            lambda d: d.insert_point("x", 0, {"name": "0"}),
            "[[tube]]\nname = 'x'\n[[tube.points]]\nname = \"0\"\n\n"
            "[[tube.points]]\nname = 'A'\n[[tube]]\nname = 'y'\n",
            id="points with headers",
        ),
        pytest.param(
            "tube = [{ name = 'x', points = [{ name = 'A' }] }]",
            lambda d: d.append_point("x", {"name": "F"}),
            "tube = [{ name = 'x', points = [{ name = 'A' }, { name = \"F\" }] }]",
            id="points of a tube in braces",
        ),
        pytest.param(
            "[[tube]]\nname = 'x'\npoints = [\n  { name = 'A' }, # a\n\n  # f\n  { name = 'F' },\n]\n",
            lambda d: d.insert_point("x", 1, {"name": "c"}),
            "[[tube]]\nname = 'x'\npoints = [\n  { name = 'A' }, # a\n  { name = \"c\" },\n\n  # f\n"
            "  { name = 'F' },\n]\n",
            id="a point between two",
        ),
        pytest.param(
            "[[tube]]\nname = 'x'\npoints = [\n  # a\n  { name = 'A' }, { name = 'F' },\n]\n",
            lambda d: [d.insert_point("x", 1, {"name": "c"}), d.insert_point("x", 0, {"name": "0"})],
            "[[tube]]\nname = 'x'\npoints = [\n  # a\n  { name = \"0\" },\n"
            "  { name = 'A' }, { name = \"c\" }, { name = 'F' },\n]\n",
            id="points between two of a line and above the first",
        ),
        pytest.param(
            HEAD + "\n# rail\n[[tube]]\n",
            lambda d: d.append_base({"name": "B1"}),
            HEAD + '\n[[base]]\nname = "B1"\n\n# rail\n[[tube]]\n',
            id="the first base above the tubes",
        ),
        pytest.param(
            "[[base]]\nname = 'B1' # sill\n[[die]]\nclr = 1\n[[base]]\nname = 'B2'\n# floor\n\n[[die]]\nclr = 2\n",
            lambda d: d.append_base({"name": "B3"}),
            "[[base]]\nname = 'B1' # sill\n[[die]]\nclr = 1\n[[base]]\nname = 'B2'\n# floor\n\n"
            '[[base]]\nname = "B3"\n\n[[die]]\nclr = 2\n',
            id="a base among mixed tables",
        ),
        pytest.param(
            "base = [{ name = 'B1' }]\n[tubing]\n",
            lambda d: d.append_base({"name": "B2"}),
            "base = [{ name = 'B1' }, { name = \"B2\" }]\n[tubing]\n",
            id="bases in braces",
        ),
        pytest.param(
            "[[base]]\nname = 'B1' # sill\nat = [0,\n 0, 0]\nnote = 'x'\n\n[x]",
            lambda d: d.replace_base(0, {"name": "B1", "at": [1, 0, 0], "good_to": 2}),
            "[[base]]\nname = 'B1' # sill\nat = [1, 0, 0]\ngood_to = 2\n\n[x]",
            id="a base changed where it differs",
        ),
        pytest.param(
            HEAD + "\n# first\n[[base]]\nname = 'B1'\n\n[[base]]\nname = 'B2'\n",
            lambda d: d.remove_base(1),
            HEAD + "\n# first\n[[base]]\nname = 'B1'\n",
            id="the last base taken out",
        ),
        pytest.param(
            HEAD + "\n[[base]]\nname = 'B1'\n\n\n[[base]]\nname = 'B2'\n",
            lambda d: d.remove_base(0),
            HEAD + "\n[[base]]\nname = 'B2'\n",
            id="the first base taken out",
        ),
        pytest.param(
            HEAD, lambda d: d.set_value(("units",), "mm"), HEAD.replace('"in"', '"mm"'), id="a value beside its remark"
        ),
        pytest.param(
            HEAD,
            lambda d: d.set_value(("good_to", "tape"), "1/8"),
            HEAD + '\n[good_to]\ntape = "1/8"\n',
            id="a value of a table that is not there",
        ),
        pytest.param(
            "good_to.point = 1\n[x]\n",
            lambda d: d.set_value(("good_to", "tape"), 2),
            "good_to.point = 1\ngood_to.tape = 2\n[x]\n",
            id="a value of a table by dots",
        ),
        pytest.param(
            "tubing = { od = 1 } # x\n",
            lambda d: d.set_value(("tubing", "wall"), 0.5),
            "tubing = { od = 1, wall = 0.5 } # x\n",
            id="a value of a table in braces",
        ),
        pytest.param(
            "tubing = { od = 1, wall = 2 }\n",
            lambda d: [d.remove_value(("tubing", "wall")), d.remove_value(("tubing", "od"))],
            "tubing = {}\n",
            id="values taken out of braces",
        ),
        pytest.param(
            "[[tube]]\n  name = 'x'\n  points = [\n  ]\n",
            lambda d: d.set_value(("tube", 0, "bends"), 3),
            "[[tube]]\n  name = 'x'\n  bends = 3\n  points = [\n  ]\n",
            id="a new key above the points",
        ),
        pytest.param(
            "# job\nreadings = [\n]\n",
            lambda d: d.set_value(("title",), "x\ny \\ 'z'"),
            "# job\ntitle = \"x\\ny \\\\ 'z'\"\nreadings = [\n]\n",
            id="a title above the readings",
        ),
        pytest.param(
            "bends = 3 # told\nunits = 'in'\n",
            lambda d: [d.remove_value(("bends",)), d.remove_value(("die",))],
            "units = 'in'\n",
            id="a key taken out",
        ),
        pytest.param(
            "readings = [{to='A'}, { to = 'B', out = false }, {}, ]",
            lambda d: [d.strike_reading(index) for index in (0, 1, 2, 2)],
            "readings = [{to='A', out = true}, { to = 'B', out = true }, { out = true }, ]",
            id="readings struck out",
        ),
        pytest.param(
            "readings = [\n  { to = 'A', out = true }, # a\n  { out = true, to = 'B' },\n  { to = 'C' },\n]",
            lambda d: [d.strike_reading(index, False) for index in (0, 1, 2)],
            "readings = [\n  { to = 'A' }, # a\n  { to = 'B' },\n  { to = 'C' },\n]",
            id="readings taken back in",
        ),
        pytest.param(
            "readings = [\n  { to='A',  tape = '3 1/8' }, # a\n]",
            lambda d: d.replace_reading(0, {"to": "A", "tape": "3-1/4"}),
            "readings = [\n  { to='A',  tape = \"3-1/4\" }, # a\n]",
            id="a figure of a reading changed",
        ),
        pytest.param(
            "readings = [\n  { to='A',  tape = '3 1/8' }, # a\n]",
            lambda d: d.replace_reading(0, {"to": "A", "height": 3}),
            'readings = [\n  { to = "A", height = 3 }, # a\n]',
            id="another reading in the place of one",
        ),
        pytest.param(
            'readings = [ # Kotflügel [1]\n  { to = \'Größe # \\\', from = "]}\\"" }\n]',
            add,
            'readings = [ # Kotflügel [1]\n  { to = \'Größe # \\\', from = "]}\\"" },\n  ' + A_TEXT + "\n]",
            id="brackets in text and remarks",
        ),
    ],
)
def test_a_change_is_put_where_a_person_would(before: str, change: Change, after: str, tmp_path: Path) -> None:
    document = opened(tmp_path, before)
    change(document)
    assert document.text() == after


# Any changes one after another --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(lambda d: d.remove_reading(1), id="no such reading"),
        pytest.param(lambda d: d.replace_base(0, {"name": "B"}), id="no such base"),
        pytest.param(lambda d: d.append_point("y", {"name": "A"}), id="no such tube"),
        pytest.param(lambda d: d.append_reading("A up 3"), id="a line among rows"),
        pytest.param(lambda d: d.set_value(("readings", 5, "out"), True), id="a key of no reading"),
    ],
)
def test_what_no_caller_should_ask_for(change: Change, tmp_path: Path) -> None:
    document = opened(tmp_path, "readings = [{}]\n[[tube]]\nname = 'x'\n")
    before = document.text()
    with pytest.raises(BadValue):
        change(document)
    assert document.text() == before


def test_reading_a_document_loads_no_writer_of_toml() -> None:
    program = (
        "import sys; from plumbend.job.writing import JobDocument\n"
        f"document = JobDocument.open({str(SAMPLES[0])!r}); document.remove_value(('title',)); document.data\n"
        "print('tomlkit' in sys.modules); document.set_value(('title',), 'x'); print('tomlkit' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "False\nTrue\n"
