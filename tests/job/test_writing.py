"""Job files written again with every character that nobody touched as it was, and never half of one on the disk."""

from __future__ import annotations

import re
import stat
import subprocess
import sys
import tomllib
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.errors import BadFile, BadValue
from plumbend.job.source import Path as Keys
from plumbend.job.source import locate
from plumbend.job.writing import JobDocument, Snapshot

SAMPLES = sorted((Path(__file__).parents[2] / "samples").glob("*.toml"))
Change = Callable[[JobDocument], None]

A = {"to": "A", "from": "B1", "tape": "36-9/16"}
A_TEXT = '{ to = "A", from = "B1", tape = "36-9/16" }'


def opened(folder: Path, text: str | bytes) -> JobDocument:
    path = folder / "job.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return JobDocument.open(path)


def add(document: JobDocument) -> None:
    document.append_reading(A)


def remove(index: int) -> Change:
    return lambda document: document.remove_reading(index)


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
    document = JobDocument.new(
        tmp_path / "rail.toml",
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
    document = JobDocument.new(tmp_path / "job.toml", title="Hoop", units="mm", od=42.4, tube="hoop")
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

NAMES = st.sampled_from(["A", "B 1", "Größe", 'x"', "it's", "a\\b", "# ] }"])
ROWS = st.fixed_dictionaries(
    {"to": NAMES, "tape": st.sampled_from(["36-9/16", "3' 4-1/2\"", 12, 4.25])},
    optional={"note": NAMES, "drop": st.just([0, "L 2"]), "out": st.booleans()},
)
CHANGES = st.lists(
    st.tuples(
        st.sampled_from(["append", "append", "insert", "replace", "remove", "strike", "unstrike"]),
        st.integers(0, 7),
        ROWS,
    ),
    max_size=8,
)
LAYOUTS = st.sampled_from(
    [
        "[]",
        "[ # none yet\n]",
        "[{ to = 'a' }, { to = 'b' , tape = 1 }]",
        "[{ to = 'a' },]",
        "[\n  { to = 'a' }, # first, [a]\n\n  # second\n  { to = 'b', drop = [0, 1] }, # b }\n]",
        "[\n  { to = 'a' },\n  { to = 'b' } # no comma\n  # the end\n]",
        "[\n\t{to='a'}, {to='b'}, # two\n\t{to='c'}, {to='d'} ]",
        "[\n    { to = 'a' } # a\n  , { to = 'b' } # b\n  , { to = 'c' }\n]",
        "[ { to = 'a' },\n  { to = 'b', drop = [ # over lines\n  0,\n 1 ] }, # b\n  { to = 'c' }]",
        "[ # open\n  { to = 'a' }\n  , # odd\n  { to = 'b' }\n\n]",
    ]
)
STRIKES = ("strike", "unstrike")
TUBE = "name = 'x' # the only one\n"
BLANK = re.compile(r"(?:[ \t\r\n]|#[^\n]*)*")


def rest_of(text: str, path: Keys) -> tuple[str, str]:
    """The text above a value and that below it."""
    typed = locate(text)[path]
    above = "".join(text.splitlines(keepends=True)[: typed.line - 1])
    start = text.index(typed.text, text.index("=", len(above)))
    return text[:start], text[start + len(typed.text) :]


def remarks(lines: list[str]) -> Counter[str]:
    return Counter(found for line in lines for found in re.findall(r"# [a-z].*", line))


def alike(one: str, other: str) -> int:
    """How many characters two texts have in common at the beginning."""
    differs = (at for at, (a, b) in enumerate(zip(one, other, strict=False)) if a != b)
    return next(differs, min(len(one), len(other)))


def assert_only_more(fewer: str, more: str) -> None:
    """Every character of the one text is in the other, which holds one stretch more, and a comma before or after."""
    start = alike(fewer, more)
    end = alike(fewer[start:][::-1], more[start:][::-1])
    middle = fewer[start : len(fewer) - end]
    assert BLANK.fullmatch(middle)
    assert middle in more[start : len(more) - end]


def assert_left_alone(before: str, now: str, kind: str, path: Keys) -> None:
    """Nothing but the entry at ``path`` has changed."""
    lines = before.splitlines()
    if kind in ("append", "insert"):
        assert_only_more(before, now)
        assert remarks(now.splitlines()) == remarks(lines)
        return
    old = locate(before)[path]
    if kind == "remove":
        assert_only_more(now, before)
        # the remark at the entry's end goes with it, be it behind a comma on the next line
        own = lines[old.line - 1 : old.line + old.text.count("\n") + 1]
        assert remarks(lines) - remarks(now.splitlines()) <= remarks(own)
        return
    new = locate(now)[path].text
    places = [match.start() for match in re.finditer(re.escape(old.text), before)]
    assert now in [before[:place] + new + before[place + len(old.text) :] for place in places]


def changed(model: list[dict[str, Any]], kind: str, at: int, row: dict[str, Any]) -> list[dict[str, Any]]:
    """What a list should hold after a change."""
    match kind:
        case "append":
            return [*model, row]
        case "insert":
            return [*model[:at], row, *model[at:]]
        case "replace":
            return [*model[:at], row, *model[at + 1 :]]
        case "remove":
            return [*model[:at], *model[at + 1 :]]
        case "strike":
            return [*model[:at], {**model[at], "out": True}, *model[at + 1 :]]
    return [*model[:at], {key: model[at][key] for key in model[at] if key != "out"}, *model[at + 1 :]]


def apply(document: JobDocument, of_tube: bool, kind: str, at: int, row: dict[str, Any]) -> None:
    match kind, of_tube:
        case "append", True:
            document.append_point("x", row)
        case "insert", True:
            document.insert_point("x", at, row)
        case "replace", True:
            document.replace_point("x", at, row)
        case "remove", True:
            document.remove_point("x", at)
        case "append", False:
            document.append_reading(row)
        case "replace", False:
            document.replace_reading(at, row)
        case "remove", False:
            document.remove_reading(at)
        case _:
            document.strike_reading(at, kind == "strike")


@settings(max_examples=200, deadline=None, derandomize=True)
@given(LAYOUTS, st.sampled_from(["\n", "\r\n"]), st.booleans(), CHANGES)
def test_any_changes_leave_all_else_alone(
    layout: str, newline: str, of_tube: bool, changes: list[tuple[str, int, dict[str, Any]]]
) -> None:
    text = f"units = 'in' # \u00bd\n\n# tube\n[[tube]]\n{TUBE}points = {layout} # after\n\n# last\n[x]\ny=1"
    path: Keys = ("tube", 0, "points")
    if not of_tube:
        text = f"units = 'in' # \u00bd\nreadings  =  {layout} # after\n\n# tube\n[[tube]]\n{TUBE}"
        path = ("readings",)
    text = text.replace("\n", newline)
    document = JobDocument.new("job.toml", title="", units="in", od=1, tube="x")
    document.restore(Snapshot(text))
    untouched = rest_of(text, path)
    model = list(tomllib.loads(f"rows = {layout}")["rows"])
    for kind, at, row in changes:
        if kind in (STRIKES if of_tube else ("insert",)) or (kind != "append" and at >= len(model)):
            continue  # not there to be made
        before = document.text()
        apply(document, of_tube, kind, at, row)
        model = changed(model, kind, at, row)
        now = document.text()
        value: Any = tomllib.loads(now)
        for key in path:
            value = value[key]
        assert value == model
        assert rest_of(now, path) == untouched
        assert_left_alone(before, now, kind, (*path, at))
        assert now.count(newline) == now.count("\n")


# Readings as lines --------------------------------------------------------------------------------------------------


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

SHEET = "point,how,value,from,note\nA,tape,41-3/8,B1,\n"
READING = {"point": "A", "how": "height", "value": "34-3/8"}


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
    assert not document.is_saved
    assert sheet.read_bytes() == before
    document.save()
    assert document.is_saved
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
    assert document.points_form("x") == "csv"
    document.append_point("x", {"name": "F", "what": "end", "at": [1, "L 2", 3.5]})
    document.insert_point("x", 1, {"name": "c", "what": "centre", "at": [0, 0, 1]})
    document.save()
    assert (tmp_path / "points.csv").read_text(encoding="utf-8") == (
        "name,what,forward,left,up\nA,end,0,0,0\nc,centre,0,0,1\nF,end,1,L 2,3.5\n"
    )


# On the disk --------------------------------------------------------------------------------------------------------

JOB = "\ufeff# Größe\r\nunits = 'in'\r\n"


def test_bom_line_ends_mode_and_link_are_kept(tmp_path: Path) -> None:
    real = tmp_path / "real.toml"
    real.write_bytes(JOB.encode())
    real.chmod(0o640)
    (tmp_path / "job.toml").symlink_to(real)
    document = JobDocument.open(tmp_path / "job.toml")
    document.set_value(("title",), "½")
    document.save()
    assert real.read_bytes() == f'{JOB}title = "½"\r\n'.encode()
    assert stat.S_IMODE(real.stat().st_mode) == 0o640
    assert (tmp_path / "job.toml").is_symlink()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["job.toml", "real.toml"]


def test_a_new_file_has_the_usual_mode(tmp_path: Path) -> None:
    usual = tmp_path / "usual"
    usual.touch()
    document = JobDocument.new(tmp_path / "job.toml", title="x", units="mm", od=1, tube="x")
    assert not document.is_saved
    document.save()
    assert document.is_saved
    assert (tmp_path / "job.toml").stat().st_mode == usual.stat().st_mode


def test_nothing_is_written_where_nothing_changed(tmp_path: Path) -> None:
    document = opened(tmp_path, JOB)
    before = document.path.stat()
    document.save()
    assert document.path.stat() == before


def fail(*_: object, **__: object) -> None:
    raise OSError(28, "No space left on device")


@pytest.mark.parametrize("failing", ["os.fsync", "os.fdopen", "pathlib.Path.replace", "pathlib.Path.chmod"])
def test_a_disk_that_takes_nothing_leaves_the_file_whole(
    failing: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    document = opened(tmp_path, JOB)
    add(document)
    with monkeypatch.context() as patch:
        patch.setattr(failing, fail)
        with pytest.raises(BadFile) as told:
            document.save()
    assert str(told.value) == (
        f"{document.path}: the file cannot be written (No space left on device). Nothing of it was touched. Check "
        "that its disk has room and that you may write in its folder, then save."
    )
    assert document.path.read_bytes() == JOB.encode()
    assert list(tmp_path.iterdir()) == [document.path]
    document.save()
    assert JobDocument.open(document.path).data["readings"] == [A]


@pytest.mark.parametrize("moment", ["os.fsync", "pathlib.Path.chmod", "pathlib.Path.replace"])
def test_killed_at_any_moment_the_file_is_whole(moment: str, tmp_path: Path) -> None:
    document = opened(tmp_path, JOB)
    module, _, name = moment.rpartition(".")
    program = (
        "import os, pathlib, sys; from plumbend.job.writing import JobDocument\n"
        "document = JobDocument.open(sys.argv[1]); document.append_reading({'to': 'A'})\n"
        f"{module}.{name} = lambda *_, **__: os._exit(9)\n"
        "document.save()"
    )
    done = subprocess.run([sys.executable, "-c", program, str(document.path)], check=False)
    assert done.returncode == 9
    assert document.path.read_bytes() == JOB.encode()
    assert JobDocument.open(document.path).text() == document.text()


def vanish(path: Path) -> None:
    path.unlink()


def become_folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


@pytest.mark.parametrize(
    ("happens", "told"),
    [
        pytest.param(
            lambda path: path.write_text("units = 'mm'"),
            "the file was changed by someone else since it was opened. Nothing was overwritten: open the file again, "
            "and make your last changes again.",
            id="changed",
        ),
        pytest.param(vanish, "the file is gone since it was opened. Put it back where it was, then save.", id="gone"),
        pytest.param(become_folder, "this is a folder, not a file. Name the file inside it.", id="a folder"),
        pytest.param(
            lambda path: path.chmod(0o444),
            "the file is read-only. Take the write protection off, or copy it under another name and go on with the "
            "copy.",
            id="read-only",
        ),
    ],
)
def test_what_happened_since_it_was_opened_is_told(happens: Callable[[Path], Any], told: str, tmp_path: Path) -> None:
    document = opened(tmp_path, JOB)
    add(document)
    happens(document.path)
    before = document.path.read_bytes() if document.path.is_file() else None
    with pytest.raises(BadFile) as fault:
        document.save()
    assert str(fault.value) == f"{document.path}: {told}"
    assert (document.path.read_bytes() if document.path.is_file() else None) == before
    assert document.data["readings"] == [A]


def test_no_file_is_written_where_one_cannot_be(tmp_path: Path) -> None:
    (tmp_path / "tape.csv").write_text(SHEET, encoding="utf-8")
    document = opened(tmp_path, "readings = 'tape.csv'")
    document.append_reading(READING)
    document.set_value(("title",), "x")
    document.path.write_bytes(b"")
    with pytest.raises(BadFile, match="changed by someone else"):
        document.save()
    assert (tmp_path / "tape.csv").read_text(encoding="utf-8") == SHEET


def save_new(path: Path) -> None:
    JobDocument.new(path, title="x", units="mm", od=1, tube="x").save()


@pytest.mark.parametrize(
    ("act", "told"),
    [
        pytest.param(
            lambda folder: save_new(folder / "there.toml"),
            "there.toml: there is a file or folder of this name already. Choose another name, or open that file and go "
            "on with it.",
            id="a new file that is there",
        ),
        pytest.param(
            lambda folder: save_new(folder / "no" / "job.toml"),
            "no/job.toml: the folder it should lie in is not there. Make that folder first.",
            id="a new file in no folder",
        ),
        pytest.param(
            lambda folder: JobDocument.open(folder / "none.toml"),
            "none.toml: there is no such file. Check the name and the folder that you are in.",
            id="no file",
        ),
        pytest.param(
            lambda folder: JobDocument.open(folder / "folder"),
            "folder: this is a folder, not a file. Name the file inside it.",
            id="a folder",
        ),
        pytest.param(
            lambda folder: JobDocument.open(folder / "latin.toml"),
            "latin.toml, line 2: a character here is not saved as UTF-8. Save the file again as UTF-8.",
            id="not UTF-8",
        ),
        pytest.param(
            lambda folder: JobDocument.open(folder / "broken.toml"),
            'broken.toml, line 2: "title =" has nothing after its equals sign. Type the value.',
            id="no TOML",
        ),
        pytest.param(
            lambda folder: opened(folder, "\nreadings = 3").append_reading(A),
            'job.toml, line 2: "readings" is no list of rows. Write a list of rows, a text block, or the name of a CSV '
            "file.",
            id="no rows",
        ),
        pytest.param(
            lambda folder: opened(folder, 'readings = """\nA \\\nB"""').append_reading("A"),
            "job.toml, line 1: lines of this text block are joined with backslashes. Take the backslashes at the ends "
            "of lines out.",
            id="joined lines",
        ),
        pytest.param(
            lambda folder: opened(folder, "readings = 'none.csv'").append_reading(READING),
            "none.csv: there is no such file. Check the name and the folder that you are in.",
            id="no spreadsheet",
        ),
        pytest.param(
            lambda folder: opened(folder, "readings = 'tape.csv'").append_reading({**READING, "touched": "top"}),
            'tape.csv, line 1: there is no column "touched". Add a heading "touched" at the end of its first row.',
            id="no such column",
        ),
        pytest.param(
            lambda folder: opened(folder, "readings = 'latin.csv'").append_reading({"point": "Ω"}),
            'latin.csv: the letter "Ω" cannot be saved in it. Save the file again as UTF-8.',
            id="no such letter",
        ),
    ],
)
def test_what_cannot_be_done_is_told(act: Callable[[Path], Any], told: str, tmp_path: Path) -> None:
    (tmp_path / "there.toml").touch()
    (tmp_path / "folder").mkdir()
    (tmp_path / "latin.toml").write_bytes(b"\n# Gr\xf6\xdfe")
    (tmp_path / "broken.toml").write_bytes(b"\r\ntitle =\r\n")
    (tmp_path / "tape.csv").write_text(SHEET, encoding="utf-8")
    (tmp_path / "latin.csv").write_bytes(b"point,note\n\xf6,\n")
    with pytest.raises(BadFile) as fault:
        act(tmp_path)
    assert str(fault.value) == f"{tmp_path}/{told}"
    assert (tmp_path / "there.toml").read_bytes() == b""


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
