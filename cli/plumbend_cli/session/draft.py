"""The job in hand: every change is read back before it counts, is saved at once, and can be undone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import field
from pathlib import Path

from plumbend.errors import BadFile, BadText, BadValue
from plumbend.job.begun_job import leave_out, left_out
from plumbend.job.half_made import read_half_made
from plumbend.job.writing import JobDocument, Snapshot
from plumbend.records import record
from plumbend_cli.session.standing import Standing

Edit = Callable[[JobDocument], None]
"""A change to a job file, not saved yet."""


class Unfit(Exception):
    """What was typed cannot stand; the text says what is wrong and how to mend it."""


@record
class Progress:
    """Where the session is in its questions.

    Attributes:
        left: keys of the questions that were left, and of the points gone past.
        target: the point that is being measured.
    """

    left: frozenset[str] = field(default_factory=frozenset)
    target: str | None = None


class Draft:
    """A job file and what it says.

    Attributes:
        document: the file.
        standing: how everything in it stands.
        progress: where the session is.

    Raises:
        BadFile: the file holds what is wrong, not merely what is not there yet.
    """

    def __init__(self, document: JobDocument) -> None:
        self.document = document
        self.standing = Standing(read_half_made(document))
        self.progress = Progress(left_out(document))
        self._undone: list[tuple[Snapshot, Progress]] = []
        self._before, self._standing_before = document.snapshot(), self.standing

    @property
    def path(self) -> Path:
        """The job file."""
        return self.document.path

    def propose(self, edit: Edit) -> None:
        """Make a change that :meth:`accept` keeps and :meth:`withdraw` takes back.

        Raises:
            Unfit: the job cannot be read with it; it is taken back already.
        """
        self._before, self._standing_before = self.document.snapshot(), self.standing
        try:
            edit(self.document)
            if self.document.snapshot().sheets:
                self.document.save()  # CSV files are read from the disk
            self.standing = Standing(read_half_made(self.document))
        except (BadFile, BadText, BadValue) as fault:
            self.withdraw()
            raise Unfit(sentence(fault)) from None

    def accept(self, progress: Progress | None = None) -> None:
        """Save the change, and go on from ``progress``.

        Raises:
            BadFile: the file cannot be saved; the change is then taken back.
        """
        try:
            self.document.save()
        except BadFile:
            self.document.restore(self._before)
            self.standing = self._standing_before
            raise
        self._undone.append((self._before, self.progress))
        self.progress = progress or self.progress

    def withdraw(self) -> None:
        """Take the change back."""
        had_sheets = self.document.snapshot().sheets
        self.document.restore(self._before)
        if had_sheets:
            self.document.save()
        self.standing = self._standing_before

    def leave(self, key: str, *, for_good: bool) -> None:
        """Go past a question; one that is left ``for_good`` is not asked again in a later sitting either.

        Raises:
            BadFile: the file cannot be saved; the question is then still open.
        """
        progress = Progress(self.progress.left | {key})
        if not for_good:
            self._undone.append((self.document.snapshot(), self.progress))
            self.progress = progress
            return
        self._before, self._standing_before = self.document.snapshot(), self.standing
        leave_out(self.document, key)
        self.accept(progress)

    def undo(self) -> bool:
        """Go back by one answer; whether there was one."""
        if not self._undone:
            return False
        snapshot, self.progress = self._undone.pop()
        self.document.restore(snapshot)
        self.document.save()
        self.standing = Standing(read_half_made(self.document))
        return True


def sentence(fault: BadFile | BadText | BadValue) -> str:
    """What is wrong and how to mend it, without file and line, which are no news to whoever is typing."""
    if not isinstance(fault, BadFile):
        return str(fault)
    words = dict.fromkeys(f"{mistake.what}. {mistake.mend}" for mistake in fault.mistakes)
    return " ".join(text[:1].upper() + text[1:] for text in words)
