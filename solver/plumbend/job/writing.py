"""A job file being written: readings, bases and points put in, changed and taken out, all else left as typed.

The file on the disk changes only in :meth:`JobDocument.save`, whole or not at all.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import field
from pathlib import Path
from typing import Any

from plumbend.errors import BadValue
from plumbend.job import toml_tables
from plumbend.job.atomic import KeptFile
from plumbend.job.csv_rows import SheetText
from plumbend.job.files import read_utf8
from plumbend.job.source import Path as Keys
from plumbend.job.toml_outline import Outline
from plumbend.job.toml_parsing import parse_toml
from plumbend.job.toml_text import Row, Value, value_text
from plumbend.job.written_rows import Form, WrittenRows
from plumbend.records import record

_BOM = "\ufeff"
_BASES: Keys = ("base",)


@record
class Snapshot:
    """What a document holds at one time.

    Attributes:
        text: of the job file, with its own line ends, without byte order mark.
        sheets: bytes of the CSV files that rows were added to, by their paths.
    """

    text: str
    sheets: Mapping[Path, bytes] = field(default_factory=dict)


class JobDocument:
    """A job file with the user's remarks, order and layout.

    Rows are counted from 0 as in :attr:`data`; lines of a text block, with blank ones and remarks, and rows below the
    headings of a CSV file likewise. A place or name that is not there raises ``BadValue``.
    """

    def __init__(self, file: KeptFile, text: str, bom: str = "") -> None:
        self._file, self._bom = file, bom
        self._sheets: dict[Path, tuple[KeptFile, bytes]] = {}  # with what was in them at first
        self._now = Snapshot("")
        self._set(Snapshot(text))

    @classmethod
    def new(cls, path: Path | str, text: str) -> JobDocument:
        """A job that begins with a text, such as :func:`~plumbend.job.new_job.new_job_text` gives. The file is made by
        the first :meth:`save`."""
        return cls(KeptFile(Path(path), None), text)

    @classmethod
    def open(cls, path: Path | str) -> JobDocument:
        """A job file that is there; it may lack what a job needs, but must be TOML.

        Raises:
            BadFile: the file cannot be read, or breaks TOML's grammar.
        """
        file = KeptFile.open(Path(path))
        try:
            text = (file.seen or b"").decode("utf-8")
        except UnicodeDecodeError:
            read_utf8(file.path)  # says what is wrong and where
            raise
        bom = _BOM if text.startswith(_BOM) else ""
        return cls(file, text.removeprefix(_BOM), bom)

    @property
    def path(self) -> Path:
        """The file, as the user named it."""
        return self._file.path

    @property
    def data(self) -> dict[str, Any]:
        """What the text says, as the standard reader of TOML gives it; a new copy each time."""
        return parse_toml(self._now.text.replace("\r\n", "\n"), str(self.path))

    def text(self) -> str:
        """The text of the job file, with its own line ends, without byte order mark."""
        return self._now.text

    def save(self) -> None:
        """Put the job file, and CSV files with new rows, on the disk, each whole or not at all.

        Raises:
            BadFile: a file is read-only, gone, changed by someone else since it was opened, or not taken by the
                disk. The document stays as it is, to be saved once that is mended.
        """
        files = [file for file, _ in self._sheets.values() if self._now.sheets[file.path] != file.seen]
        for file in (*files, self._file):
            file.check()
        for file in files:
            file.replace(self._now.sheets[file.path])
        self._file.replace(self._bytes())

    def snapshot(self) -> Snapshot:
        """What the document holds now, to :meth:`restore` later; costs nothing."""
        return self._now

    def restore(self, snapshot: Snapshot) -> None:
        """Go back, or forth, to a snapshot of this document; the files follow with the next :meth:`save`."""
        sheets = {path: snapshot.sheets.get(path, first) for path, (_, first) in self._sheets.items()}
        self._set(Snapshot(snapshot.text, sheets))

    def set_value(self, keys: Keys, value: Value) -> None:
        """Give a key its value, such as ``("tube", 0, "bends")`` 3; its table is made where there is none."""
        self._edit(toml_tables.set_key(self._outline(), keys, value_text(value)))

    def remove_value(self, keys: Keys) -> None:
        """Take a key out with its value; one that is not there is no mistake."""
        self._edit(toml_tables.remove_key(self._outline(), keys))

    def readings_form(self, tube: str | None = None) -> Form:
        """How the readings, or those of a tube itself, are written; where there are none, as rows."""
        return self._rows(self._readings(tube)).form

    def append_reading(self, reading: Row | str, tube: str | None = None) -> None:
        """Add a reading at the end.

        Args:
            reading: for rows, by keys; for a CSV file, by its columns; for a text block, the line.
            tube: where it is a reading of a tube itself, the tube's name.

        Raises:
            BadFile: the CSV file cannot be read or lacks a column.
        """
        self._insert(self._readings(tube), None, reading)

    def replace_reading(self, index: int, reading: Row | str, tube: str | None = None) -> None:
        """Put another reading, as for :meth:`append_reading`, in the place of one."""
        self._replace(self._readings(tube), index, reading)

    def remove_reading(self, index: int, tube: str | None = None) -> None:
        """Take a reading out."""
        self._remove(self._readings(tube), index)

    def strike_reading(self, index: int, struck: bool = True, tube: str | None = None) -> None:
        """Strike a reading out, or take it back in with ``struck`` False; it stays in the file, marked "out".

        Raises:
            BadFile: the CSV file cannot be read or has no column "note", in which the mark would go.
        """
        rows = self._rows(self._readings(tube))
        if rows.form == "csv":
            self._edit_sheet(rows.sheet, lambda sheet: sheet.strike(index, struck))
        else:
            self._edit(rows.strike(index, struck))

    def append_base(self, base: Row) -> None:
        """Add a base: a table of its own, after those that are there and above the tubes."""
        self._insert(_BASES, None, base)

    def replace_base(self, index: int, base: Row) -> None:
        """Make a base say what ``base`` says; values that stay the same stay as they are typed."""
        self._replace(_BASES, index, base)

    def remove_base(self, index: int) -> None:
        """Take a base out."""
        self._remove(_BASES, index)

    def append_point(self, tube: str, point: Row) -> None:
        """Add a point at the far end of a tube's points, in the job or in their CSV file."""
        self._insert(self._points(tube), None, point)

    def insert_point(self, tube: str, index: int, point: Row) -> None:
        """Put a point before the one at ``index``."""
        self._insert(self._points(tube), index, point)

    def replace_point(self, tube: str, index: int, point: Row) -> None:
        """Put another point in the place of one."""
        self._replace(self._points(tube), index, point)

    def remove_point(self, tube: str, index: int) -> None:
        """Take a point out."""
        self._remove(self._points(tube), index)

    def _readings(self, tube: str | None) -> Keys:
        return ("readings",) if tube is None else self._of_tube(tube, "readings")

    def _points(self, tube: str) -> Keys:
        return self._of_tube(tube, "points")

    def _of_tube(self, tube: str, key: str) -> Keys:
        tubes = self.data.get("tube")
        for index, table in enumerate(tubes if isinstance(tubes, list) else []):
            if isinstance(table, dict) and table.get("name") == tube:
                return ("tube", index, key)
        raise BadValue(f'there is no tube "{tube}" in the file')

    def _rows(self, path: Keys) -> WrittenRows:
        return WrittenRows(self._now.text, path, str(self.path))

    def _insert(self, path: Keys, index: int | None, row: Row | str) -> None:
        rows = self._rows(path)
        if rows.form == "csv":
            self._edit_sheet(rows.sheet, lambda sheet: sheet.insert(index, row))
        else:
            self._edit(rows.insert(index, row))

    def _replace(self, path: Keys, index: int, row: Row | str) -> None:
        rows = self._rows(path)
        if rows.form == "csv":
            self._edit_sheet(rows.sheet, lambda sheet: sheet.replace(index, row))
        else:
            self._edit(rows.replace(index, row))

    def _remove(self, path: Keys, index: int) -> None:
        rows = self._rows(path)
        if rows.form == "csv":
            self._edit_sheet(rows.sheet, lambda sheet: sheet.remove(index))
        else:
            self._edit(rows.remove(index))

    def _edit_sheet(self, name: str, change: Callable[[SheetText], bytes]) -> None:
        path = self.path.parent / name
        file = KeptFile.open(path) if path not in self._sheets else self._sheets[path][0]
        before = self._now.sheets.get(path, file.seen) or b""
        after = change(SheetText(before, path))
        self._sheets.setdefault(path, (file, before))
        self._set(Snapshot(self._now.text, {**self._now.sheets, path: after}))

    def _outline(self) -> Outline:
        return Outline(self._now.text)

    def _edit(self, text: str) -> None:
        self._set(Snapshot(text, self._now.sheets))

    def _set(self, state: Snapshot) -> None:
        """Take a state over, unless its text is no TOML."""
        parse_toml(state.text.replace("\r\n", "\n"), str(self.path))
        self._now = state

    def _bytes(self) -> bytes:
        return (self._bom + self._now.text).encode()
