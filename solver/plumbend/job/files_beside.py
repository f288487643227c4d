"""Files that a job names, which lie beside it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from plumbend.errors import BadFile
from plumbend.job.places import Mistakes, Spot, shortened

T = TypeVar("T")


def read_beside(
    read: Callable[[Path], T], folder: Path, name: str, spot: Spot, key: str, mistakes: Mistakes
) -> T | None:
    """What ``read`` makes of the file in ``folder`` that ``key`` names; None with its mistakes noted."""
    path = folder / name
    try:
        if path.is_file():
            return read(path)
    except OSError:
        pass  # text that is no name of a file, such as one of 300 letters
    except BadFile as fault:
        mistakes.take(fault)
        return None
    mistakes.add(spot, (key,), f'there is no file "{shortened(name)}" beside this one', "Check its name.")
    return None
