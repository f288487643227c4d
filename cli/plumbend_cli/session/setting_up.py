"""The questions before anything is measured: what the tube is, what it is bent on, how many bends it has."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from plumbend.errors import BadFile
from plumbend.job.begun_job import begin_job
from plumbend.job.reader import read_shop
from plumbend.job.writing import JobDocument
from plumbend.units import Units, check_tube_size
from plumbend_cli.session.draft import Draft, Edit, Unfit
from plumbend_cli.session.step import Step
from plumbend_cli.session.tube_questions import (
    bends_step,
    die_steps,
    grip_step,
    of_tube,
    set_to,
    size_typed,
    value_typed,
)

_YES, _NO = ("", "y", "yes"), ("n", "no")


def setting_up(draft: Draft) -> Iterator[Step]:
    """The questions in their order."""
    half, path = draft.standing.half, draft.path
    yield Step("title", "the title", "Title > ", done=half.title is not None, answer=_title)
    yield Step(
        "units",
        "the units",
        "in or mm > ",
        ("Do you measure in inches or in millimetres?",),
        done=half.units is not None,
        answer=lambda line: _units(line, draft.document),
    )
    units: Units = half.units or "mm"
    shops = [] if half.shop or half.dies else shops_beside(path)
    if shops or half.shop:
        yield Step(
            "shop",
            "the shop file",
            f"Use {shops[0]}? [y] > " if shops else "",
            ("The shop file beside this job tells which dies you own.",),
            done=half.shop is not None,
            may_be_left=True,
            answer=lambda line: _shop(line, shops),
        )
    yield Step(
        "od",
        "the OD of the tubing",
        "OD > ",
        ("What is the outside diameter of the tubing?",),
        done=half.od is not None,
        answer=lambda line: _od(line, units),
    )
    yield Step(
        "wall",
        "the wall of the tubing",
        "Wall > ",
        ("How thick is its wall? Enter leaves it out.",),
        done=half.wall is not None,
        may_be_left=True,
        answer=lambda line: _wall(line, half.od or 0.0, units),
    )
    title, first = half.title or "tube", half.tubes[0]
    yield Step(
        "tube",
        "the name of the tube",
        f"Tube [{title}] > ",
        ("What is the tube called?",),
        done=first.name is not None,
        answer=lambda line: of_tube(first, "name", line or title),
    )
    yield from die_steps(half, first, units)
    yield from grip_step(draft, units)
    if not first.other_evidence:
        yield bends_step(first)


def _title(line: str) -> Edit:
    if not line:
        raise Unfit("A job needs a title. Write what it is for, such as Stretcher rail, left.")
    return set_to("title", value=line)


def _units(line: str, document: JobDocument) -> Edit:
    word = line.lower().rstrip(".")
    units: Units | None = "in" if word in ("in", "inch", "inches", '"') else None
    if word in ("mm", "millimetres", "millimeters"):
        units = "mm"
    if units is None:
        raise Unfit("Write in or mm.")
    title = document.data.get("title")
    if isinstance(title, str) and document.text() == begin_job(document.path, title).text():
        # its opening remarks are those of the units
        return lambda job: job.restore(begin_job(job.path, title, units).snapshot())
    return set_to("units", value=units)


def shops_beside(path: Path) -> list[str]:
    """Names of the shop files in the folder of a job."""
    names = []
    for file in sorted(path.parent.glob("*.toml"), key=lambda file: (file.name != "shop.toml", file.name)):
        try:
            read_shop(file)
        except BadFile:
            continue
        names.append(file.name)
    return names


def _shop(line: str, shops: list[str]) -> Edit | None:
    if line.lower() in _NO:
        return None
    if line.lower() in _YES:
        return set_to("shop", value=shops[0])
    if line in shops:
        return set_to("shop", value=line)
    raise Unfit(f"Write y, n, or the name of the file. There are: {', '.join(shops)}.")


def _od(line: str, units: Units) -> Edit:
    if odd := check_tube_size(size_typed(line, units, "1-1/2"), None):
        raise Unfit(odd)
    return set_to("tubing", "od", value=value_typed(line))


def _wall(line: str, od: float, units: Units) -> Edit | None:
    if not line:
        return None
    if odd := check_tube_size(od, size_typed(line, units, "0.095")):
        raise Unfit(odd)
    return set_to("tubing", "wall", value=value_typed(line))
