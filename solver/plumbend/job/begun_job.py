"""A job begun and added to by answers: what each puts into the file, in the form that stands there."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Literal

from plumbend.errors import BadFile, Mistake
from plumbend.job.new_job import new_job_text
from plumbend.job.places import Mistakes
from plumbend.job.reading_lines import read_lines
from plumbend.job.toml_text import Row, Value
from plumbend.job.vehicle_entries import Entry, known_word
from plumbend.job.vehicle_tables import KINDS
from plumbend.job.writing import JobDocument, Snapshot
from plumbend.job.written_rows import Form, WrittenRows
from plumbend.units import Units

_FIGURES_JOINED = re.compile(r",(?=[^\s\d])")
_LEFT_OUT_BEGINS = "# Left out when asked: "
_LEFT_OUT = re.compile(rf"^{_LEFT_OUT_BEGINS}(.*?)[ \t]*(?=\r?$)", re.MULTILINE)
_TOUCHED = ("touched", "od", "from_touched", "from_od")


def begin_job(path: Path | str, title: str, units: Units | None = None) -> JobDocument:
    """A job of which only the title, and perhaps the units, are known; the first save makes the file."""
    return JobDocument.new(path, new_job_text(title=title, units=units))


def add_table(document: JobDocument, name: Literal["die", "tube"], table: Row) -> None:
    """Add a die to the job itself, or a tube."""
    before = document.snapshot()
    text = WrittenRows(before.text, (name,), str(document.path)).insert(None, table)
    document.restore(Snapshot(text, before.sheets))


def leave_out(document: JobDocument, question: str) -> None:
    """Note in a remark of the file that a question was left out when it was asked, so that it is not asked again."""
    before = document.snapshot()
    found = _LEFT_OUT.search(before.text)
    if found is None:
        newline = "\r\n" if "\r\n" in before.text else "\n"
        end = "" if before.text.endswith("\n") or not before.text else newline
        text = f"{before.text}{end}{_LEFT_OUT_BEGINS}{question}{newline}"
    else:
        text = f"{before.text[: found.end()]}, {question}{before.text[found.end() :]}"
    document.restore(Snapshot(text, before.sheets))


def left_out(document: JobDocument) -> frozenset[str]:
    """The questions that :func:`leave_out` noted."""
    found = _LEFT_OUT.search(document.text())
    return frozenset(part.strip() for part in found[1].split(",")) if found else frozenset()


def typed_value(typed: str) -> Value:
    """A figure as it stands in a file: a bare number as such, all else as text."""
    tidy = " ".join(typed.split())
    for number in (int, float):
        try:
            value = number(tidy)
        except ValueError:
            continue
        if math.isfinite(value) and str(value) == tidy:
            return value
    return tidy


def read_typed_line(line: str, units: Units) -> Entry:
    """A reading typed as one line, such as ``A tape B1 41-3/8  # from the sill``.

    Raises:
        BadFile: with what is wrong with it.
    """
    mistakes = Mistakes()
    entries = read_lines(_FIGURES_JOINED.sub(", ", line.replace("\n", " ")), "", 1, units, mistakes)
    mistakes.raise_any()
    if not entries.counted:
        raise BadFile([Mistake("", None, "", "there is no reading in it", "Write it like A tape B1 41-3/8.")])
    return entries.counted[0]


def begins_with_how(words: Sequence[str]) -> bool:
    """Whether the first word, or the first two, say how something is read, with no point named before."""
    return bool(known_word(" ".join(words[:2])) or known_word(words[0])) if words else False


def reading_in(form: Form, entry: Entry) -> Row | str:
    """A reading as it is written in a list, a text block or a CSV file."""
    note = entry.written.note
    row = {key: value for key, value in entry.row.items() if key != "note"}
    if form == "rows":
        figures = KINDS[entry.how].figures_under
        typed = {key: _typed_entry(value) if key == figures else value for key, value in row.items()}
        return typed | ({"note": note} if note else {})
    if form == "csv":
        return _cells(entry.how, row) | ({"note": note} if note else {})
    tail = " ".join(f"{key} {row[key]}" for key in (*_TOUCHED, "good_to") if key in row)
    return "  # ".join(filter(None, (" ".join(filter(None, (entry.typed, tail))), note)))


def _typed_entry(value: Any) -> Value:
    return [typed_value(part) for part in value] if isinstance(value, list) else typed_value(value)


def _cells(how: str, row: Mapping[str, Any]) -> dict[str, str]:
    kind = KINDS[how]
    names, figures = row.get(kind.names_under, ""), row.get(kind.figures_under, "")
    values = figures if isinstance(figures, list) else [figures]
    touched = " ".join(f"{key} {row[key]}" for key in _TOUCHED if key in row).removeprefix("touched ")
    cells = {
        "point": row["to"],
        "how": how,
        "value": values[0],
        "value2": row.get("away", values[1] if len(values) > 1 else ""),
        "from": " / ".join(names) if isinstance(names, list) else names,
        "touched": touched,
        "good_to": row.get("good_to", ""),
    }
    return {key: text for key, text in cells.items() if text}
