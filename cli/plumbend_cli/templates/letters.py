"""Names that a PDF can print: its standard letters are the Western ones, and every other would come out as a square."""

from __future__ import annotations

import unicodedata
from collections.abc import Sequence
from dataclasses import replace

from plumbend.ends.cuts import EndCut
from plumbend.job.model import Job
from plumbend.notices import listed

_LETTERS = "cp1252"  # those of the standard fonts, Windows code page 1252


def printed(cuts: Sequence[EndCut], job: Job) -> tuple[list[EndCut], str]:
    """The cuts with names that can be printed, and in words which are called otherwise; "" where none is.

    A letter with a mark loses that where there is no such letter. A name of letters that are not there at all becomes a
    number, that of the tube or neighbour in the file, and an end becomes the start or the far one.
    """
    called = _called([tube.name for tube in job.tubes], "tube")
    called |= _called([fixture.name for fixture in job.neighbours], "neighbour")
    told: dict[str, str] = {}

    def name_of(name: str) -> str:
        plain = called.get(name, name)  # a saw cut has a name of its own
        if _western(name) != plain:
            told[name] = plain
        return plain

    def end_of(cut: EndCut) -> str:
        plain = _western(cut.end)
        if plain is None:
            plain = "far" if cut.far else "start"
            told[f"{cut.end} end"] = f"the {plain} end"
        return plain

    renamed = [
        replace(
            cut,
            tube=name_of(cut.tube),
            end=end_of(cut),
            neighbours=tuple(replace(one, name=name_of(one.name)) for one in cut.neighbours),
        )
        for cut in cuts
    ]
    if not told:
        return renamed, ""
    said = listed([f'"{name}" is called {plain}' for name, plain in told.items()])
    return renamed, f"A PDF has Western letters alone: in it {said}."


def _called(names: Sequence[str], kind: str) -> dict[str, str]:
    """Each name as it is printed; no two alike."""
    called: dict[str, str] = {}
    for number, name in enumerate(names, 1):
        plain = _western(name)
        called[name] = f"{kind} {number}" if plain is None or plain in called.values() else plain
    return called


def _western(name: str) -> str | None:
    """The name in letters that the standard fonts have; None where some are no such letters, with or without a mark."""
    letters = []
    for letter in name:
        plain = "".join(part for part in unicodedata.normalize("NFKD", letter) if not unicodedata.combining(part))
        found = next((text for text in (letter, plain) if _has(text)), None)
        if found is None:
            return None
        letters.append(found)
    return "".join(letters)


def _has(text: str) -> bool:
    try:
        return bool(text.encode(_LETTERS))
    except UnicodeEncodeError:
        return False
