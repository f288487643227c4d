"""Entries of a list, and keys of a table in braces, put in and taken out in the layout that is there.

Each function takes the outline of a text and gives the text that it becomes.
"""

from __future__ import annotations

from plumbend.job.toml_outline import Cut, Outline, Part

_STEP = "  "


def new_list(entry: str, indent: str, newline: str) -> str:
    """The value of a list that holds one entry, on a line of its own."""
    return f"[{newline}{indent}{_STEP}{entry},{newline}{indent}]"


def insert_entry(outline: Outline, holder: Part, index: int, entry: str) -> str:
    """Put an entry before the one at ``index``, or after the last.

    An entry whose neighbour begins a line gets a line of its own with the same indent; the list keeps its way
    with a comma after the last entry, and remarks stay at the ends of their lines.
    """
    entries = outline.entries(holder)
    if not entries:
        return outline.changed(_first_entry(outline, holder, entry))
    if index == len(entries):
        return outline.changed(*_last_entry(outline, holder, entries, entry))
    before = entries[index]
    if not outline.begins_line(before.start):
        return outline.changed((before.start, before.start, f"{entry}, "))
    # remarks above an entry belong to it
    here = outline.line_end(entries[index - 1].end_with_comma) if index else outline.line_start(before.start)
    return outline.changed(outline.lines_at(here, f"{outline.indent(before.start)}{entry},"))


def _first_entry(outline: Outline, holder: Part, entry: str) -> Cut:
    inside, end = holder.value + 1, holder.end - 1
    if outline.text[holder.value] == "{":
        return inside, end, f" {entry} "
    if "\n" not in outline.text[inside:end]:
        return holder.value, holder.end, new_list(entry, outline.indent(holder.start), outline.newline)
    remarks = [line for line in outline.text[inside:end].split("\n")[1:] if line.strip()]
    indent = remarks[-1][: -len(remarks[-1].lstrip())] if remarks else outline.indent(end) + _STEP
    return outline.lines_at(outline.line_start(end), f"{indent}{entry},")


def _last_entry(outline: Outline, holder: Part, entries: list[Part], entry: str) -> list[Cut]:
    last = entries[-1]
    here = last.end_with_comma
    parting, closing = (",", "") if last.comma is None else ("", ",")
    if "\n" in outline.text[here : holder.end]:
        line = outline.lines_at(outline.line_end(here), f"{_indent(outline, holder, entries)}{entry}{closing}")
        return [(last.end, last.end, parting), line]
    gap = outline.newline + outline.indent(last.start) if outline.begins_line(last.start) else " "
    return [(here, here, f"{parting}{gap}{entry}{closing}")]


def _indent(outline: Outline, holder: Part, entries: list[Part]) -> str:
    """The indent of the last entry that begins a line."""
    starts = (part.start for part in reversed(entries) if outline.begins_line(part.start))
    start = next(starts, None)
    return outline.indent(holder.end - 1) + _STEP if start is None else outline.indent(start)


def replace_entry(outline: Outline, part: Part, value: str) -> str:
    """Put another value in the place of that of an entry or a key."""
    return outline.changed((part.value, part.end, value))


def remove_entry(outline: Outline, holder: Part, index: int) -> str:
    """Take out an entry; where it has its lines to itself, with them and the remark at their end."""
    entries = outline.entries(holder)
    part = entries[index]
    parting = entries[index - 1].comma if index and part.comma is None else None  # a comma that parts no more
    end = part.end_with_comma
    if outline.begins_line(part.start) and outline.ends_line(end):
        cut: Cut = (outline.line_start(part.start), outline.line_end(end), "")
    elif parting is not None and not outline.text[parting + 1 : part.start].strip():
        cut, parting = _whole_line(outline, parting, end), None
    elif len(entries) == 1 and "\n" not in outline.text[holder.value : holder.end]:
        cut = (holder.value + 1, holder.end - 1, "")
    else:
        cut = _with_blanks(outline, part.start, end)
    return outline.changed(cut, *([(parting, parting + 1, "")] if parting is not None else []))


def _whole_line(outline: Outline, start: int, end: int) -> Cut:
    """A stretch; with all of its lines where nothing else is on them."""
    rest = outline.text[end : outline.line_end(end)]
    if outline.begins_line(start) and not rest.strip():
        return outline.line_start(start), outline.line_end(end), ""
    return start, end, ""


def _with_blanks(outline: Outline, start: int, end: int) -> Cut:
    """A stretch with the blanks on that side of it where they would be too many."""
    text = outline.text
    if outline.ends_line(end):
        return start - (len(text[:start]) - len(text[:start].rstrip(" \t"))), end, ""
    return start, end + len(text[end:]) - len(text[end:].lstrip(" \t")), ""
