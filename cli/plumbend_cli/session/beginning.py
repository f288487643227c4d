"""How a session begins: a new job, one that is named, or one picked from those in the folder."""

from __future__ import annotations

import re
import unicodedata
from pathlib import Path

from plumbend.errors import BadFile, Mistake
from plumbend.job.begun_job import begin_job
from plumbend.job.writing import JobDocument
from plumbend_cli.page import Paragraph
from plumbend_cli.session.draft import Draft
from plumbend_cli.session.session import Session
from plumbend_cli.session.terminal import Terminal

_SUFFIX = ".toml"
_JOB_TABLES = {"tubing", "tube"}
"""A job has one of these from its first save on."""


def run_session(terminal: Terminal, job: str | None, folder: Path) -> None:
    """Start a job, or go on with one.

    Args:
        terminal: what the session talks through.
        job: the file as the user named it; None to have it named after its title.
        folder: where a file lies that is named after its title.

    Raises:
        BadFile: the job is there and cannot be understood, or it cannot be written.
    """
    path = None if job is None else _named(job)
    if path is not None and path.exists():
        draft = Draft(_job_at(path))
        _say(terminal, f"Going on with {path}. help tells what can be typed; done ends.")
    else:
        begun = _begun(terminal, path, folder)
        if begun is None:
            return
        draft = begun
        _say(terminal, f"Kept in {draft.path}, saved as you type. help tells what can be typed; done ends.")
    Session(terminal, draft).run()


def offer(terminal: Terminal, folder: Path) -> None:
    """Offer to go on with a job in the folder, or to start one."""
    jobs = jobs_in(folder)
    if not jobs:
        run_session(terminal, None, folder)
        return
    _say(terminal, "Jobs in this folder:", *(f"{number}  {path.name}" for number, path in enumerate(jobs, 1)))
    _say(terminal, "Type a number to go on with a job; Enter starts a new one. plumbend --help tells the rest.")
    try:
        while (line := terminal.ask("> ").strip()) and not (line.isdecimal() and 0 < int(line[:9]) <= len(jobs)):
            _say(terminal, f"Type a number from 1 to {len(jobs)}, or Enter alone.")
    except (EOFError, KeyboardInterrupt):
        terminal.draw([""])
        return
    run_session(terminal, str(jobs[int(line) - 1]) if line else None, folder)


def jobs_in(folder: Path) -> list[Path]:
    """Job files of a folder, the one changed last first."""
    found = []
    for path in folder.glob(f"*{_SUFFIX}"):
        try:
            data = JobDocument.open(path).data
        except BadFile:
            continue
        if _JOB_TABLES & data.keys():
            found.append(path)
    return sorted(found, key=lambda path: (-path.stat().st_mtime, path.name))


def file_name(title: str) -> str:
    """A file's name after a title: "Stretcher rail, left" is stretcher-rail-left.toml."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().lower()
    return f"{re.sub('[^a-z0-9]+', '-', plain).strip('-')[:60] or 'job'}{_SUFFIX}"


def _job_at(path: Path) -> JobDocument:
    document = JobDocument.open(path)
    if "die" in document.data and not _JOB_TABLES & document.data.keys():
        mend = "Name a job file; the shop file is offered where one lies beside it."
        raise BadFile([Mistake(str(path), None, "", "this is a shop file, not a job", mend)])
    return document


def _named(job: str) -> Path:
    path = Path(job)
    return path if path.exists() or path.suffix else path.with_name(path.name + _SUFFIX)


def _begun(terminal: Terminal, path: Path | None, folder: Path) -> Draft | None:
    """A job of which the title is known, on the disk; None where the user went away instead."""
    _say(terminal, "What is the job called? Such as: Stretcher rail, left.")
    try:
        while not (title := " ".join(terminal.ask("Title > ").split())):
            _say(terminal, "A job needs a title. Ctrl-C ends it.")
    except (EOFError, KeyboardInterrupt):
        terminal.draw([""])
        _say(terminal, "Nothing was begun.")
        return None
    document = begin_job(_free(folder / file_name(title)) if path is None else path, title)
    document.save()
    return Draft(document)


def _free(path: Path) -> Path:
    """The path, or one with a number behind its name where there is such a file."""
    number, free = 2, path
    while free.exists():
        free, number = path.with_stem(f"{path.stem}-{number}"), number + 1
    return free


def _say(terminal: Terminal, *sentences: str) -> None:
    for text in sentences:
        terminal.show(Paragraph(text))
