"""Where things stand in a TOML text, held against the standard reader on generated documents."""

from __future__ import annotations

import string
import tomllib
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.job.source import Path, Typed, locate

BARE = st.text(string.ascii_letters + string.digits + "_-", min_size=1, max_size=6)
TEXT = st.text(st.characters(codec="utf-8", exclude_categories=["C"]), max_size=12)
BLANK = st.sampled_from(["", " ", "\t", "  "])
GAP = st.sampled_from(["", " ", "\n", "  # a ] } \" ' remark\n", "\n\n  "])
NUMBERS = ["0", "-12", "+3", "12.5", "6.02e23", "1_000", "0x1F", "0b101", "inf", "true", "false"]
DATES = ["1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", "1979-05-27 07:32:00.5-07:00"]


def basic(text: str) -> str:
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'


def literal(text: str) -> str:
    return f"'{text}'" if "'" not in text else basic(text)


def long_basic(text: str) -> str:
    return '"""\n' + text.replace("\\", "\\\\").replace('"""', '""\\"') + ' \\\n  "quoted"""""'


def long_literal(text: str) -> str:
    return f"'''{text.replace(chr(39), '')}\n# no remark\n'two'''''"


KEY = st.one_of(BARE, TEXT.map(basic), TEXT.map(literal))
STRING = st.builds(lambda write, text: write(text), st.sampled_from([basic, literal, long_basic, long_literal]), TEXT)
SCALAR = st.one_of(STRING, st.sampled_from(NUMBERS + DATES))


def joined(entries: list[str], gaps: list[str], trailing: bool) -> str:
    inside = ",".join(gap + entry for gap, entry in zip(gaps, entries, strict=False))
    return "[" + inside + ("," if trailing and entries else "") + gaps[-1] + "]"


def inline_table(pairs: dict[str, str], blank: str) -> str:
    return "{" + ",".join(f"{blank}{key}{blank}={blank}{value}" for key, value in pairs.items()) + blank + "}"


VALUE = st.recursive(
    SCALAR,
    lambda inner: st.one_of(
        st.builds(joined, st.lists(inner, max_size=3), st.lists(GAP, min_size=4, max_size=4), st.booleans()),
        st.builds(inline_table, st.dictionaries(KEY, inner, max_size=3), BLANK),
    ),
    max_leaves=6,
)
PAIR = st.builds(
    lambda keys, blank, value, gap: f"{blank}{'.'.join(keys)}{blank}= {value}{gap.splitlines()[0] if gap else ''}\n",
    st.lists(KEY, min_size=1, max_size=2),
    BLANK,
    VALUE,
    GAP,
)
HEADER = st.builds(
    lambda keys, blank, many: ("[[{}]]\n" if many else "[{}]\n").format(blank + f"{blank}.{blank}".join(keys)),
    st.lists(st.one_of(st.sampled_from(["tube", "die"]), KEY), min_size=1, max_size=3),
    BLANK,
    st.booleans(),
)
LINE = st.one_of(PAIR, PAIR, PAIR, HEADER, st.sampled_from(["\n", "# [a remark]\n"]))


def accepted(lines: list[str]) -> str:
    """As many of the lines as the standard reader takes together."""
    text = ""
    for line in lines:
        try:
            tomllib.loads(text + line)
        except tomllib.TOMLDecodeError:
            continue
        text += line
    return text


def leaves(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    if path:
        yield path, value
    if isinstance(value, dict | list):
        for key, inner in value.items() if isinstance(value, dict) else enumerate(value):
            yield from leaves(inner, (*path, key))


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.lists(LINE, max_size=10).map(accepted))
def test_every_path_stands_where_its_text_is(text: str) -> None:
    document = tomllib.loads(text)
    places = locate(text)
    values = dict(leaves(document))
    assert places.keys() == values.keys()
    lines = text.split("\n")
    for path, typed in places.items():
        assert typed.text.split("\n")[0] in lines[typed.line - 1]
        if not isinstance(values[path], dict | list):
            assert tomllib.loads(f"again = {typed.text}") == {"again": values[path]}


DOCUMENT = """\
title = "Rail"  # a remark with [brackets]
size.od = 1.50

[good_to]
point = '1/8'
[[tube]]
name = \"\"\"left
rail\"\"\"
points = [
  { name = "A", at = [0, "L 12-1/2",
     34] }, # the start
  { "what kind" = 'end' },
]
[[tube]]
[tube.more]
note = 1979-05-27 07:32:00
"""


@pytest.mark.parametrize(
    ("path", "line", "text"),
    [
        (("title",), 1, '"Rail"'),
        (("size",), 2, "size.od"),
        (("size", "od"), 2, "1.50"),
        (("good_to",), 4, "[good_to]"),
        (("good_to", "point"), 5, "'1/8'"),
        (("tube",), 6, "[[tube]]"),
        (("tube", 0, "name"), 7, '"""left\nrail"""'),
        (("tube", 0, "points", 0, "at", 1), 10, '"L 12-1/2"'),
        (("tube", 0, "points", 0, "at", 2), 11, "34"),
        (("tube", 0, "points", 1), 12, "{ \"what kind\" = 'end' }"),
        (("tube", 0, "points", 1, "what kind"), 12, "'end'"),
        (("tube", 1), 14, "[[tube]]"),
        (("tube", 1, "more"), 15, "[tube.more]"),
        (("tube", 1, "more", "note"), 16, "1979-05-27 07:32:00"),
    ],
)
def test_places_of_a_document(path: Path, line: int, text: str) -> None:
    assert locate(DOCUMENT)[path] == Typed(line, text)
