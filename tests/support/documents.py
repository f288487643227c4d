"""Job documents to be changed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from plumbend.job.writing import JobDocument

Change = Callable[[JobDocument], None]

A = {"to": "A", "from": "B1", "tape": "36-9/16"}
A_TEXT = '{ to = "A", from = "B1", tape = "36-9/16" }'
SHEET = "point,how,value,from,note\nA,tape,41-3/8,B1,\n"
READING = {"point": "A", "how": "height", "value": "34-3/8"}


def opened(folder: Path, text: str | bytes) -> JobDocument:
    path = folder / "job.toml"
    path.write_bytes(text.encode() if isinstance(text, str) else text)
    return JobDocument.open(path)


def add(document: JobDocument) -> None:
    document.append_reading(A)


def remove(index: int) -> Change:
    return lambda document: document.remove_reading(index)
