"""Any changes to a job, one after another, leave all else in its text alone."""

from __future__ import annotations

import re
import tomllib
from collections import Counter
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st

from plumbend.job.new_job import new_job_text
from plumbend.job.source import Path as Keys
from plumbend.job.source import locate
from plumbend.job.writing import JobDocument, Snapshot

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
    document = JobDocument.new("job.toml", new_job_text(title="", units="in", od=1, tube="x"))
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
