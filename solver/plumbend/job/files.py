"""Reading the bytes of a file, with what can go wrong in plain words."""

from __future__ import annotations

from pathlib import Path

from plumbend.errors import BadFile, Mistake

_LARGEST = 50_000_000
"""Bytes of a file that people type."""


def refuse_file(name: str, what: str, mend: str, line: int | None = None) -> BadFile:
    """The error for one thing wrong with a whole file."""
    return BadFile([Mistake(name, line, "", what, mend)])


def read_bytes(path: Path, largest: int = _LARGEST) -> bytes:
    """The bytes of a file of at most ``largest`` bytes.

    Raises:
        BadFile: there is no such file, it is a folder, it is far too large, or it may not be read.
    """
    name = str(path)
    try:
        if path.is_dir():
            raise refuse_file(name, "this is a folder, not a file", "Name the file inside it.")
        if path.stat().st_size > largest:
            what = f"this file is over {largest // 1_000_000} MB"
            raise refuse_file(name, what, "Check that it is the file you mean.")
        return path.read_bytes()
    except FileNotFoundError:
        raise refuse_file(name, "there is no such file", "Check the name and the folder that you are in.") from None
    except (OSError, ValueError) as fault:
        reason = getattr(fault, "strerror", None) or "its name cannot be used"
        raise refuse_file(
            name,
            f"the file cannot be read ({reason})",
            "Check that you may open it and that its disk is there.",
        ) from None


def read_utf8(path: Path) -> str:
    """The text of a UTF-8 file, without byte order mark, its line ends "\\n".

    Raises:
        BadFile: as for ``read_bytes``, or the text is not UTF-8.
    """
    data = read_bytes(path)
    try:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            raise refuse_file(str(path), "this file is saved as UTF-16", "Save it again as UTF-8.")
        return data.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError as fault:
        line = data.count(b"\n", 0, fault.start) + 1
        what = "a character here is not saved as UTF-8"
        raise refuse_file(str(path), what, "Save the file again as UTF-8.", line) from None


def read_spreadsheet_text(path: Path, largest: int = _LARGEST) -> str:
    """The text of a CSV file as spreadsheets save them: UTF-8, UTF-16 with its mark, else Windows Latin.

    Raises:
        BadFile: as for ``read_bytes``.
    """
    data = read_bytes(path, largest)
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")
