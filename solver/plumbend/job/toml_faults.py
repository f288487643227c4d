"""Faults of TOML's grammar in plain words: what stands in the line, and what to type instead."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator

from plumbend.errors import BadFile, Mistake
from plumbend.job.places import shortened

_PLACE = re.compile(r"\(at line (\d+), column (\d+)\)$")
_CURLY = re.compile("[\u2018-\u201f\u2032-\u2033\u00ab\u00bb]")
_HIDDEN = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")
_NUMBER = re.compile(r"[+-]?\d+(\.\d+)?")
_DECIMAL_COMMA = re.compile(r"[+-]?\d+,\d+")
_KEY = r"[A-Za-z0-9_-]+"
_NEW_LINE_OF_KEY = re.compile(rf"\s*(\[|{_KEY}\s*=)")
_WAY = r"(?:L|R|left|right|fwd|forward|aft|rear|up|down)\b"
_VALUE_ENDS = r"(?=\s*(?:[,\]}#]|$))"
_AFTER_INCH_MARK = re.compile(rf'({_WAY})?\s*"{_VALUE_ENDS}', re.IGNORECASE)
_AFTER_FOOT_MARK = re.compile(rf"(-? ?\d[^',]*?)?\"?\s*'{_VALUE_ENDS}")
_ANGLE_KEYS = ("angle", "bend", "turn", "rotation", "slope")
_ROW = re.compile(r"\s*\{")
_HEADER_OR_END_OF_ROWS = re.compile(rf"(\[\[?\s*[A-Za-z]{_KEY}(\s*\.\s*{_KEY})*\s*\]\]?|\])\s*(#.*)?")
_LONG_QUOTES = re.compile("\"\"\"|'''")
_REMARK = re.compile(r"(\"[^\"]*\"|'[^']*')|#.*")

Told = tuple[int, str, str]
"""Line, what is wrong, how to mend it."""


def fault_in(text: str, name: str, fault: ValueError) -> BadFile:
    """What is wrong with a text that TOML's own reader refused.

    Args:
        text: with line ends "\\n".
        name: the file as the user named it.
        fault: as that reader told it.

    Returns:
        The first mistake, in plain words, with its line, and those in lines below it that are wrong whatever stands
        around them.
    """
    found = [_explain(text, str(fault)), *_further(text, str(fault))]
    return BadFile([Mistake(name, line, "", what, mend) for line, what, mend in found])


def _further(text: str, fault: str) -> Iterator[Told]:
    """Faults in lines below that of the first fault.

    A row in braces, and below the next heading a key with its value, is read by itself: a fault before its end
    stays one however the text goes on. One that may be mended by the next line is not told.
    """
    place = _PLACE.search(fault)
    if place is None or _LONG_QUOTES.search(text) or _HIDDEN.search(text):
        return
    lines = text.split("\n")
    above = ""  # the line before, without remarks
    outside_rows = False
    for number, line in enumerate(lines[int(place[1]) :], start=int(place[1]) + 1):
        bare = _REMARK.sub(lambda found: found[1] or "", line).strip()
        if not bare:
            continue
        if _HEADER_OR_END_OF_ROWS.fullmatch(line):
            outside_rows = True
        elif _ROW.match(line):
            told = _fault_in_line(line, "rows = [\n")
            if told is None and above.endswith("}"):
                told = _comma_missing(bare), "Put it there."
            if told:
                yield number, *told
        elif outside_rows:
            told = _fault_in_line(line, "")
            outside_rows = _is_whole(line) or (told is not None and not re.search(r"[\[{]", bare))
            if told:
                yield number, *told
        above = bare


def _fault_in_line(line: str, opening: str) -> tuple[str, str] | None:
    """What is wrong in a line and how to mend it, read below ``opening``; None where it may be but unfinished."""
    number = opening.count("\n") + 1
    try:
        tomllib.loads(f"{opening}{line}\n")
    except RecursionError:
        return None
    except ValueError as fault:
        place = _PLACE.search(str(fault))
        if place and int(place[1]) == number and (int(place[2]) <= len(line) or "'\\n'" in str(fault)):
            _, what, mend = _explain(f"{opening}{line}\n", str(fault))
            return what, mend
    return None


def _is_whole(line: str) -> bool:
    """Whether a line is TOML by itself."""
    try:
        tomllib.loads(line)
    except (ValueError, RecursionError):
        return False
    return True


def _explain(text: str, fault: str) -> Told:
    """What to say of a fault: the standard reader's words tell its kind, the line itself the rest."""
    lines = text.split("\n")
    hidden = next((number for number, line in enumerate(lines, start=1) if _HIDDEN.search(line)), None)
    if hidden:
        return hidden, "a character that cannot be seen stands here", "Delete the line and type it again."
    place = _PLACE.search(fault)
    if place:
        number, column = int(place[1]), int(place[2]) - 1
    else:
        number = len(text.rstrip().split("\n"))
        column = len(lines[number - 1])
    line = lines[number - 1]
    mark = _inch_or_foot_mark(line, number, column)
    if mark:
        return mark
    if fault.startswith(("Unterminated string", "Expected \"'", "Expected '\"")):
        return _open_quote(lines, number)
    if fault.startswith("Illegal character '\\n'"):
        what = "a quotation mark is opened here and not closed"
        return number, what, "Close it before the end of the line."
    if fault.startswith(("Cannot overwrite", "Cannot declare", "Duplicate", "Cannot mutate")):
        return _said_twice(fault, line, number)
    if "table declaration" in fault or "array declaration" in fault:
        mend = "Write [name] for one table, [[name]] for one of several."
        return number, f'"{line.strip()}" is not closed', mend
    if fault.startswith(("Unescaped", "Hex value", "Escaped")):
        what = "a backslash in double quotes has a meaning of its own"
        return number, what, r"Write \\ for each backslash, or put the text in single quotes."
    if fault.startswith("Expected '=' after a key"):
        return _no_equals(line, number, column)
    if fault.startswith("Unclosed"):
        return _unclosed(text, lines, number, column, "array" in fault)
    if fault.startswith("Invalid initial character for a key part"):
        return _bad_key(line, number, column)
    return _bad_value(line, number, column)


def _inch_or_foot_mark(line: str, number: int, column: int) -> Told | None:
    """The fault just behind a figure whose inch mark or foot mark ended the quotes that it stands in."""
    typed = re.search(r"\"([^\"]*\d)\"\s*$", line[:column])
    after = _AFTER_INCH_MARK.match(line, column)
    if typed and after:
        way = f" {after[1]}" if after[1] else ""
        inside = f"{typed[1]}{way}"
        other = "" if "'" in inside else f""", or use single quotes: '{typed[1]}"{way}'"""
        return number, f'the inch mark in "{shortened(typed[1])}"" ends the quotes', f'Leave it out: "{inside}"{other}.'
    typed = re.search(r"'([^']*\d)'\s*$", line[:column])
    after = _AFTER_FOOT_MARK.match(line, column)
    if typed and after:
        what = f"the foot mark in '{shortened(typed[1])}' ends the quotes"
        return number, what, f"""Use double quotes: "{f"{typed[1]}' {after[1] or ''}".strip()}"."""
    return None


def _open_quote(lines: list[str], last: int) -> Told:
    """A quotation mark that is open at the end of the text: it stands in the last line with an odd mark."""
    for number in range(last, 0, -1):
        if any(lines[number - 1].count(mark) % 2 for mark in ('"', "'")):
            return number, "a quotation mark is opened here and not closed", "Close it."
    return last, "a quotation mark is not closed", "Close it."


def _said_twice(fault: str, line: str, number: int) -> Told:
    header = re.match(r"\s*(\[\[?[^\]]*\]\]?)", line)
    if header:
        mend = "Keep one of them; for several of a kind write [[name]] above each."
        return number, f"{header[1]} stands twice, or its name is used for something else", mend
    inline = re.match(r"Duplicate inline table key '(.*)'", fault)
    key = re.match(rf"\s*({_KEY})", line)
    name = inline[1] if inline else key[1] if key else line.strip()
    return number, f'"{name}" is said twice in the same table', "Keep one of them."


def _no_equals(line: str, number: int, column: int) -> Told:
    comma = re.search(rf"=\s*({_DECIMAL_COMMA.pattern})\s*$", line[:column])
    if comma:
        return _decimal_comma(comma[1], number)
    words = re.match(rf"\s*({_KEY}(?:[ \t]+{_KEY})+)\s*=", line)
    if words:
        return number, f'"{words[1]}" is not one word', f"Write {'_'.join(words[1].split())} = ..."
    return number, f'"{shortened(line)}" lacks its equals sign', 'Write key = value, such as od = "1-1/2".'


def _unclosed(text: str, lines: list[str], number: int, column: int, array: bool) -> Told:
    """After a value in [ ] or { }, neither a comma nor the closing bracket."""
    line = lines[number - 1]
    is_followed = not re.match(r"\s*(?:[,\]}#]|$)", line[column:])
    token = _between_commas(line, column)[0] if is_followed else ""
    if token and not _NUMBER.fullmatch(token):
        return _bad_value(line, number, column)
    ended = not text.split("\n", number - 1)[-1][column:].strip()
    starts_line = not line[:column].strip()
    if ended or (starts_line and _NEW_LINE_OF_KEY.match(line) and array):
        opened, bracket = _innermost_open(lines, number, column)
        closing = "]" if bracket == "[" else "}"
        return opened, f'"{bracket}" is opened here and not closed', f'Close it with "{closing}".'
    if not array and starts_line:
        return number - 1, 'a row in "{ }" must stand on one line', "Join the lines."
    return number, _comma_missing(line[column:]), "Put it there." if array else "Put a comma between two keys."


def _comma_missing(before: str) -> str:
    text = shortened(before)
    return f"a comma is missing before {text}" if '"' in text else f'a comma is missing before "{text}"'


def _innermost_open(lines: list[str], number: int, column: int) -> tuple[int, str]:
    """Line and kind of the last bracket that is open where the reader gave up."""
    open_brackets: list[tuple[int, str]] = []
    for at, line in enumerate(lines[:number], start=1):
        part = line[:column] if at == number else line
        bare = re.sub(r"\"[^\"]*\"|'[^']*'|#.*", "", part)
        for mark in bare:
            if mark in "[{":
                open_brackets.append((at, mark))
            elif mark in "]}" and open_brackets:
                open_brackets.pop()
    return open_brackets[-1] if open_brackets else (number, "[")


def _bad_key(line: str, number: int, column: int) -> Told:
    rest = line[column:].strip()
    if not rest or rest.startswith("#"):
        return number, 'a row in "{ }" must stand on one line', "Join the lines."
    if rest.startswith("}"):
        return number, 'a comma stands before the closing "}"', "Take it out."
    return number, f'"{shortened(rest)}" is no key', "Write key = value, the key in plain letters."


def _between_commas(line: str, column: int) -> tuple[str, str]:
    """The bare text around a column between commas and brackets, and its key; empty where it has quotes."""
    if _quoted(line, column):
        return "", ""
    before = re.split(r"[\[,{=]", line[:column])[-1]
    after = re.split(r"[\],}#]" if re.search(r"[\[{]", line[:column]) else r"#", line[column:], maxsplit=1)[0]
    keys = re.findall(rf"({_KEY})\s*=", line[:column])
    token = (before + after).strip()
    opens_new = re.match(rf"\s*[\[{{]|\s*{_KEY}\s*=", line) and not line[:column].strip()
    unusable = opens_new or re.match(r"[\"'\]}]", before.strip() or token) or "=" in token or "{" in token
    return ("", "") if unusable else (token, keys[-1] if keys else "")


def _quoted(line: str, column: int) -> bool:
    """Whether the column lies inside straight double quotes."""
    return line[:column].count('"') % 2 == 1 and '"' in line[column:]


def _bad_value(line: str, number: int, column: int) -> Told:
    token, key = _between_commas(line, column)
    if _CURLY.search(token) and not re.match(r"\d", token):
        return number, f'"{shortened(token)}" has curly quotation marks', 'Type straight ones: ".'
    if not token:
        if re.match(rf"\s*{_KEY}\s*=\s*(#.*)?$", line):
            return number, f'"{line.strip()}" has nothing after its equals sign', "Type the value."
        return number, f'"{shortened(line)}" cannot be read', "Check its commas, quotes and brackets."
    if _DECIMAL_COMMA.fullmatch(token):
        return _decimal_comma(token, number)
    if len(token.split()) > 1 and all(_NUMBER.fullmatch(part) for part in token.split()):
        mend = "Put a comma between them, or quotes round a length."
        return number, f'"{token}" is more than one number', mend
    if re.fullmatch(r"[+-]?(\.\d+|\d+\.|0\d+)", token):
        value = format(float(token), "g")
        return number, f'"{token}" is not how a number is written here', f"Write {value}"
    inside = token.rstrip("\"'\u2033\u201d").strip()
    if "'" in inside or '"' in inside:
        inside = inside.replace('"', "").strip()
    if not inside:
        return number, f'"{shortened(token)}" is not closed', "Close the quotation mark."
    is_figure = re.search(r"\d", token) and key not in ("name", "title", "metal")
    kind = ("angle" if key in _ANGLE_KEYS else "length") if is_figure else "text"
    return number, f"{shortened(token)} stands without quotes", f'Put the {kind} in quotes: "{shortened(inside)}"'


def _decimal_comma(token: str, number: int) -> Told:
    return number, f'"{token}" has a decimal comma', f"Write a decimal point: {token.replace(',', '.')}"
