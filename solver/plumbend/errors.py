"""What can go wrong, in the user's words.

::

    PlumbendError
      BadFile        a file cannot be read or understood      exit status 2
      BadText        one length, angle or place typed wrongly  exit status 2
      BadValue       a number handed to the library is unusable  exit status 2
      Refused        the shop cannot make what was asked      exit status 3

The facts are attributes; the text is made from them.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from plumbend.records import record

if TYPE_CHECKING:
    from collections.abc import Callable


class PlumbendError(Exception):
    """Base of every error that plumbend raises on purpose.

    Where the units of the job are not known, the text is given in pieces, its lengths as numbers in mm between words:
    :meth:`told` writes them in any units, and as text they are mm.
    """

    exit_status = 2

    def __init__(self, *pieces: str | float) -> None:
        self.pieces = pieces
        super().__init__(self.told(lambda mm: f"{round(mm, 2):g} mm"))

    def told(self, length: Callable[[float], str]) -> str:
        """The text, its lengths (mm) in words by ``length``."""
        return "".join(piece if isinstance(piece, str) else length(piece) for piece in self.pieces)


class BadText(PlumbendError):
    """A typed length, angle or place that cannot be read in one way only.

    Attributes:
        typed: the text as it was typed.
        why: what is wrong with it, as the end of a sentence that begins with the text.
        mend: what to write instead.
    """

    def __init__(self, typed: str, why: str, mend: str) -> None:
        self.typed, self.why, self.mend = typed, why, mend
        super().__init__(f'"{typed}" {why}. {mend}')


class BadValue(PlumbendError):
    """A number handed to the library that has no meaning there; the text says which and why."""


@record
class Mistake:
    """One thing wrong in a file: where, what, and how to mend it.

    Attributes:
        file: the file as the user named it.
        line: its line, counted from 1; None where the whole file is meant.
        place: table and name in words, such as 'tube "left rail", point "c1", at'; may be "".
        what: what is wrong, with the text as typed.
        mend: what to do about it.
    """

    file: str
    line: int | None
    place: str
    what: str
    mend: str

    def __str__(self) -> str:
        where = self.file if self.line is None else f"{self.file}, line {self.line}"
        place = f" ({self.place})" if self.place else ""
        return f"{where}{place}: {self.what}. {self.mend}"


class BadFile(PlumbendError):
    """A file that cannot be read or understood, with every mistake found in one pass."""

    def __init__(self, mistakes: list[Mistake] | tuple[Mistake, ...]) -> None:
        self.mistakes = tuple(mistakes)
        super().__init__("\n".join(map(str, self.mistakes)))


class Refused(PlumbendError):
    """What was asked cannot be bent; the text names the bend, the amount and two ways out."""

    exit_status = 3
