'''Readings in a text block, one to a line between """ and """: lines put in, changed and taken out.

Lines count from 0 as in the text that the block stands for, blank ones and remarks too. Each function takes the
outline of a text and gives the text that it becomes.
'''

from __future__ import annotations

import re

from plumbend.errors import BadValue
from plumbend.job.toml_outline import Outline, Part

_MARK = 3
"""Length of the quotation mark of a block."""

_OUT = re.compile(r"out[ \t]+(?=\S)", re.IGNORECASE)
"""What a line begins with where it is struck out."""


def is_block(outline: Outline, part: Part) -> bool:
    """Whether a value is text of several lines."""
    return outline.text.startswith(('"""', "'''"), part.value)


def joins_lines(outline: Outline, part: Part) -> bool:
    """Whether lines of a block are joined with a backslash, so that they cannot be counted."""
    block = outline.text[part.value : part.end]
    return block.startswith('"""') and re.search(r"(?<!\\)(?:\\\\)*\\[ \t]*\r?\n", block) is not None


def append_line(outline: Outline, part: Part, line: str) -> str:
    """Add a line below the last one, with the same indent."""
    inside, closing = part.value + _MARK, part.end - _MARK
    starts = [start for start, end in _lines(outline, part) if start < end and outline.begins_line(start)]
    written = (outline.indent(starts[-1]) if starts else "") + _written(outline, part, line)
    if "\n" in outline.text[inside:closing] and outline.begins_line(closing):
        return outline.changed(outline.lines_at(outline.line_start(closing), written))
    return outline.changed((closing, closing, f"{outline.newline}{written}{outline.newline}"))


def replace_line(outline: Outline, part: Part, index: int, line: str) -> str:
    """Put another line in the place of one."""
    return outline.changed((*_line(outline, part, index), _written(outline, part, line)))


def strike_line(outline: Outline, part: Part, index: int, struck: bool) -> str:
    """Strike a line out by the word "out" in front, or take it back in."""
    start, end = _line(outline, part, index)
    line = outline.text[start:end]
    if struck == bool(_OUT.match(line)):
        return outline.text
    return outline.changed((start, end, f"out {line}" if struck else _OUT.sub("", line, count=1)))


def remove_line(outline: Outline, part: Part, index: int) -> str:
    """Take a line out."""
    start, end = _line(outline, part, index)
    is_alone = outline.begins_line(start) and outline.line_end(end) <= part.end - _MARK
    cut = (outline.line_start(start), outline.line_end(end)) if is_alone else (start, end)
    return outline.changed((*cut, ""))


def _lines(outline: Outline, part: Part) -> list[tuple[int, int]]:
    """Where what each line holds begins, behind its indent, and ends."""
    inside, closing = part.value + _MARK, part.end - _MARK
    opening = re.match(r"\r?\n", outline.text[inside:closing])  # is no part of the text
    here, found = inside + (opening.end() if opening else 0), []
    for line in outline.text[here:closing].split("\n"):
        text = line.strip()
        start = here + len(line) - len(line.lstrip()) if text else here
        found.append((start, start + len(text)))
        here += len(line) + 1
    return found


def _line(outline: Outline, part: Part, index: int) -> tuple[int, int]:
    """Where the reading of a line begins and ends."""
    lines = _lines(outline, part)
    start, end = lines[index] if 0 <= index < len(lines) else (0, 0)
    if start == end or outline.text[start] == "#":
        raise BadValue(f"there is no reading in line {index} of the text block")
    return start, end


def _written(outline: Outline, part: Part, line: str) -> str:
    line = line.strip()
    if not line or re.search(r"[\x00-\x08\n-\x1f\x7f]", line):
        raise BadValue("a text block takes readings as lines of text")
    if outline.text.startswith('"""', part.value):
        # a quotation mark alone may stand as it is, but not next to others
        return re.sub(r'"(?="|\Z)', r"\"", line.replace("\\", "\\\\"))
    if "'''" in line:
        raise BadValue("a line of this text block cannot hold '''")
    return line
