"""What `plumbend draw` does: the cuts of a job's ends, those that are wanted, into one file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import cast

import typer

from plumbend.cutting import cuts_of
from plumbend.ends.cuts import EndCut
from plumbend.ends.template import PAPER, Template, template
from plumbend.errors import BadFile, BadText, Mistake, Refused
from plumbend.job.atomic import KeptFile
from plumbend.job.model import Job
from plumbend.job.reader import read_job
from plumbend.notices import listed
from plumbend.records import record
from plumbend.solving import solve
from plumbend.units import Units, stated_gap
from plumbend_cli.templates.pages import Paper

_USUAL_STATIONS = 16
_USUAL_PAPER: dict[Units, Paper] = {"in": "letter", "mm": "a4"}
_CALLED: dict[Paper, str] = {"letter": "Letter", "a4": "A4"}


@record
class Wanted:
    """What is said on the command line; None where nothing is."""

    out: str
    tube: str | None = None
    end: str | None = None
    paper: str | None = None
    stations: int | None = None


def draw_templates(file: str, wanted: Wanted) -> tuple[list[str], list[str]]:
    """Solve a job and write the templates of its cut ends.

    Returns:
        What was written, in words, line by line, and what is to be said of tubes that have no template.

    Raises:
        BadText: no tube or end is called so, or more than one pattern is wanted in a file for a cutter.
        BadFile: the job cannot be read, cuts no end, or the file cannot be written.
        Refused: an end cannot be cut.
    """
    kind = _kind(wanted)
    job = read_job(file)
    _check_tube(job, wanted.tube)
    result = solve(job)
    unsolved = [
        f"{file}: {tube.name} has no template, as it is not solved. See why: plumbend solve {file}"
        for tube in result.tubes
        if not tube.solved and wanted.tube in (None, tube.name)
    ]
    cuts = [cut for cut in cuts_of(job, result) if wanted.tube in (None, cut.tube)]
    if not cuts and unsolved:
        return [], unsolved
    return _write(_chosen(file, cuts, wanted), wanted, kind, job), unsolved


def _kind(wanted: Wanted) -> str:
    """The format of the file, by its name."""
    kind = Path(wanted.out).suffix.lower()
    if kind not in (".pdf", ".svg", ".dxf"):
        mend = "Name one that ends in .pdf to print, or in .svg or .dxf for a cutter."
        raise typer.BadParameter(f'"{wanted.out}" is no drawing. {mend}', param_hint="--out")
    if kind != ".pdf":
        for said, option in ((wanted.paper, "--paper"), (wanted.stations, "--stations")):
            if said is not None:
                raise typer.BadParameter("It is for a PDF alone. Leave it out.", param_hint=option)
    return kind


def _check_tube(job: Job, tube: str | None) -> None:
    names = [known.name for known in job.tubes]
    if tube is not None and tube not in names:
        raise BadText(tube, "is no tube of this job", f"Name {_one_of(names)}.")


def _chosen(file: str, cuts: Sequence[EndCut], wanted: Wanted) -> list[EndCut]:
    """The cuts of the tubes wanted, or of one end of them."""
    if not cuts:
        which = "the tube" if wanted.tube else "its tubes"
        mend = 'Say at an end point what it meets, such as on = "upright", or square = true.'
        raise BadFile([Mistake(file, None, "", f"no end of {which} is cut to anything", mend)])
    chosen = [cut for cut in cuts if wanted.end in (None, cut.end)]
    if wanted.end is not None and not chosen:
        ends = dict.fromkeys(cut.end for cut in cuts)
        raise BadText(wanted.end, "is no end that is cut to anything", f"Name {_one_of(list(ends))}.")
    return chosen


def _one_of(names: list[str]) -> str:
    return names[0] if len(names) == 1 else f"one of {listed(names, 'or')}"


def _write(cuts: list[EndCut], wanted: Wanted, kind: str, job: Job) -> list[str]:
    """Write the file; what was written, in words."""
    units, otherwise = job.units, ""
    if kind == ".pdf":
        from plumbend_cli.templates.letters import printed
        from plumbend_cli.templates.pdf import pdf

        paper = cast(Paper, wanted.paper) if wanted.paper else _USUAL_PAPER[units]
        named, otherwise = printed(cuts, job)
        templates = [_template(cut, wanted.stations or _USUAL_STATIONS, units, PAPER) for cut in named]
        data = pdf(templates, paper, units)
        how = f"on {_CALLED[paper]} paper. Print it at 100 %, and check both bars with a rule"
    else:
        if len(cuts) > 1:
            ends = listed([f"{cut.end} of {cut.tube}" for cut in cuts], "and")
            mend = "Say which with --tube and --end, or write a .pdf."
            raise BadText(wanted.out, f"holds one flat pattern, and {len(cuts)} ends are cut: {ends}", mend)
        templates = [_template(cuts[0], _USUAL_STATIONS, units, 0.0)]
        if kind == ".svg":
            from plumbend_cli.templates.svg import svg

            data = svg(templates[0], units)
        else:
            from plumbend_cli.templates.dxf import dxf  # the library for it takes a second to load

            data = dxf(templates[0], units)
        how = "flat, of the tube's outside, in mm, without paper"
    path = Path(wanted.out)
    (KeptFile.open(path) if path.exists() else KeptFile(path, None)).replace(data)
    return [
        f"{wanted.out}: {'; '.join(f'{cut.tube}, {cut.end} end' for cut in cuts)}, {how}.",
        *filter(None, [otherwise]),
    ]


def _template(cut: EndCut, stations: int, units: Units, paper: float) -> Template:
    try:
        return template(cut, stations, units, paper)
    except Refused as fault:
        raise Refused(f"{cut.tube}, {cut.end} end: {fault.told(lambda mm: stated_gap(mm, units))}") from None


DRAWINGS = {"template": draw_templates}
"""What can be drawn, by what it is called behind --what."""
