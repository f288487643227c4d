"""The questions that name what is measured: places along the tube, bases, and where the bases are."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from plumbend.errors import BadText
from plumbend.job.begun_job import begins_with_how, typed_value
from plumbend.job.half_made import HalfMade, TubeSoFar
from plumbend.job.writing import JobDocument
from plumbend.records import record
from plumbend.typed import parse_length, parse_place
from plumbend.units import Units
from plumbend_cli.program_page import AXES
from plumbend_cli.session.draft import Draft, Edit, Unfit
from plumbend_cli.session.step import Step
from plumbend_cli.session.tube_questions import key_of
from plumbend_cli.session.typed import ALONE, NUMBERED, figures

_LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"  # no I and no O: painted on tape they are 1 and 0
_USUAL_BASES = ("B1", "B2", "B3", "B4")
_MOST_IN_PROMPT = 12
_FOUND = "?"
_PLACED = ("name", "at")
_SIDES = {"left": "left", "l": "left", "right": "right", "r": "right"}


def naming(draft: Draft) -> Iterator[Step]:
    """The questions in their order."""
    half = draft.standing.half
    units: Units = half.units or "mm"
    first = half.tubes[0]
    if first.other_evidence and not half.points:
        return
    yield points_step(half, first)
    yield Step(
        "bases",
        "the bases",
        f"Bases [{' '.join(_USUAL_BASES)}] > ",
        (
            "Bases are marks on the vehicle or the floor that you measure from. Three or four are best, "
            f"{'a yard' if units == 'in' else 'a metre'} or more apart and not in one line. Type their names, or none "
            "to measure without.",
        ),
        done=bool(half.bases),
        may_be_left=True,
        answer=lambda line: _bases(line, half),
    )
    names = [base.name for base in half.bases]
    for index, (name, row) in enumerate(zip(names, half.base_rows, strict=False)):
        usual = _usual_place(index, names)
        yield Step(
            f"where {name}",
            f"where {name} is",
            usual.prompt,
            (usual.words,),
            done="at" in row,
            may_be_left=True,
            answer=_base_place(index, row, usual, units),
        )


def slots(bends: int) -> list[tuple[str, int | None]]:
    """What is measured of a tube, from end to end: two places on each straight, of which an end may be one."""
    inner = [("centre", leg) for leg in range(1, bends + 2) for _ in range(2)]
    return [("end", None), *inner[1:-1], ("end", None)]


def label(what: str, leg: int | None, *, is_first: bool) -> str:
    """A point in words."""
    if what == "end":
        return "the start end" if is_first else "the far end"
    if what == "corner":
        return "a corner"
    return "a place on the tube" if leg is None else f"a place on straight {leg}"


def letters(count: int, taken: Sequence[str] = ()) -> list[str]:
    """Names for ``count`` points as they are painted on tape."""
    every = [*_LETTERS, *(f"{letter}{number}" for number in range(1, 9) for letter in _LETTERS)]
    return [name for name in every if name.casefold() not in {other.casefold() for other in taken}][:count]


def points_step(half: HalfMade, tube: TubeSoFar) -> Step:
    """Names for the places that are measured of a tube."""
    taken = [base.name for base in half.bases] + [point.name for point in half.points]
    what = "Two places are measured on each straight, well apart and clear of the bends; the ends count as one each."
    plan = None if tube.bends is None else slots(tube.bends)
    if plan is None:
        usual: list[str] = []
        prompt = "Names > "
        words: tuple[str, ...] = (
            f"{what} Type a name for each place, in order from the start end to the far end, such as A B C D E F.",
        )
    else:
        usual = letters(len(plan), taken)
        shown = ", ".join(
            f"{name} {label(what, leg, is_first=at == 0)}"
            for at, (name, (what, leg)) in enumerate(zip(usual, plan, strict=True))
        )
        prompt = f"Names [{' '.join(usual) if len(usual) <= _MOST_IN_PROMPT else 'as above'}] > "
        words = (f"{what} From the start end on: {shown}.", "Enter takes these names, or type your own in that order.")
    return Step(
        key_of("points", tube),
        f"the places to measure on {tube.name if tube.index else 'the tube'}",
        prompt,
        words,
        done=bool(tube.points),
        answer=lambda line: _points(names_in(line, taken) if line else usual, plan, tube.name or ""),
    )


def names_in(line: str, taken: Sequence[str] = ()) -> list[str]:
    """Names typed on one line, parted by blanks or commas.

    Raises:
        Unfit: one is there twice, or is no name that a reading could use.
    """
    names = [name for name in re.split(r"[\s,;]+", line) if name]
    seen = {name.casefold() for name in taken}
    for name in names:
        if name.casefold() in seen:
            raise Unfit(f'"{name}" is taken already. Give each place a name of its own.')
        if name.lower() in (*ALONE, *NUMBERED, "at", "out", "y", "n") or begins_with_how([name]):
            raise Unfit(f'"{name}" is a word that means something here. Choose another name.')
        if '"' in name or "#" in name or _is_figure(name):
            raise Unfit(f'"{name}" is no name. Begin it with a letter, such as A or B1.')
        seen.add(name.casefold())
    return names


def _is_figure(name: str) -> bool:
    try:
        parse_length(name, "mm")
    except BadText:
        return False
    return True


def _points(names: list[str], plan: list[tuple[str, int | None]] | None, tube: str) -> Edit:
    if plan is None:
        if len(names) < 2:
            raise Unfit("A tube needs at least its two ends. Type a name for each place.")
        plan = [("end", None), *[("centre", None)] * (len(names) - 2), ("end", None)]
    if len(names) != len(plan):
        raise Unfit(f"There are {len(plan)} places, and {len(names)} names were typed. Type one for each.")

    def edit(document: JobDocument) -> None:
        for name, (what, leg) in zip(names, plan, strict=True):
            row: dict[str, str | int] = {"name": name, "what": what}
            document.append_point(tube, row if leg is None else row | {"leg": leg})

    return edit


def _bases(line: str, half: HalfMade) -> Edit | None:
    if line.lower() in ("none", "no", "n", "0"):
        return None
    names = names_in(line or " ".join(_USUAL_BASES), [point.name for point in half.points])

    def edit(document: JobDocument) -> None:
        for name in names:
            document.append_base({"name": name})

    return edit


@record
class _Usual:
    """Where a base mostly is: what Enter stands for, the answer that it may decide, and how it is asked."""

    at: tuple[str, str, str]
    hint: str | None
    prompt: str
    words: str


def _usual_place(index: int, names: Sequence[str]) -> _Usual:
    name, first = names[index], names[0]
    if index == 0:
        words = (
            f"How far forward, left and up is {name}? Enter counts everything from {name}. Type ? for a figure that "
            "the tape will tell."
        )
        return _Usual(("0", "0", "0"), None, f"{name} [0, 0, 0] > ", words)
    if index == 1:
        words = f"Where is {name}? Enter says: straight forward of {first} and as high; how far, the tape tells."
        return _Usual((_FOUND, "0", "0"), "forward", f"{name} [?, 0, 0] > ", words)
    words = (
        f"Where is {name}? Type left or right if it lies to that side of the way from {first} to {names[1]} and is as "
        f"high as {first}; the tape tells the rest. Or type its figures, ? for those to be found."
    )
    return _Usual((_FOUND, _FOUND, "0"), None, f"{name} [?, ?, 0] > ", words)


def _base_place(index: int, row: Mapping[str, Any], usual: _Usual, units: Units) -> Callable[[str], Edit]:
    def answer(line: str) -> Edit:
        side = _SIDES.get(line.lower())
        if index > 1 and side:
            return place_base(index, {**row, "hint": side}, usual.at)
        if line:
            return place_base(index, row, place_typed(line, units))
        return place_base(index, row if usual.hint is None else {**row, "hint": usual.hint}, usual.at)

    return answer


def place_typed(line: str, units: Units) -> tuple[str, ...]:
    """How far forward, left and up a base is, each a figure or "?".

    Raises:
        BadText: a figure cannot be read.
    """
    parts = (_FOUND,) * 3 if line.strip() == _FOUND else figures(line, line)
    for part, axis in zip(parts, AXES, strict=True):
        if part != _FOUND:
            parse_place(part, units, axis)
    return parts


def place_base(index: int, row: Mapping[str, Any], at: Sequence[str]) -> Edit:
    """The change that says where a base is."""
    row = {
        "name": row["name"],
        "at": list(map(typed_value, at)),
        **{key: row[key] for key in row if key not in _PLACED},
    }
    return lambda document: document.replace_base(index, row)
