"""The questions that are answered by readings: tapes between bases, then point after point."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np

from plumbend.job.half_made import HalfMade, PointSoFar
from plumbend.job.writing import JobDocument
from plumbend.measuring.adjustment import Mirror
from plumbend.measuring.lengths import Tape
from plumbend.measuring.places import Hint
from plumbend.units import Units, format_place
from plumbend_cli.program_page import AXES
from plumbend_cli.session.draft import Draft, Edit, Progress, Unfit
from plumbend_cli.session.naming import label, points_step
from plumbend_cli.session.standing import Standing
from plumbend_cli.session.step import Step
from plumbend_cli.session.tube_questions import bends_step, die_steps
from plumbend_cli.session.typed import quoted

_HINTS: tuple[tuple[Hint, Hint], ...] = (("forward", "aft"), ("left", "right"), ("above", "below"))
_SAME: dict[str, Hint] = {"fwd": "forward", "rear": "aft", "l": "left", "r": "right", "up": "above", "down": "below"}


def measuring(draft: Draft) -> Iterator[Step]:
    """The questions in their order."""
    standing, progress = draft.standing, draft.progress
    units: Units = standing.half.units or "mm"
    yield from _pairs(standing)
    for base in standing.half.bases:
        yield from _side(standing, base.name, units)
    for tube in standing.half.tubes:
        if tube.index:  # of the first this was asked before anything was measured
            yield from die_steps(standing.half, tube, units)
            if not tube.other_evidence:
                yield bends_step(tube)
                yield points_step(standing.half, tube)
        for point in tube.points:
            yield _point(standing, progress, point)
            yield from _side(standing, point.name, units)


def pairs_around(names: Sequence[str]) -> list[tuple[str, str]]:
    """Every pair of bases: the sides first, all round, then the diagonals."""
    count = len(names)
    if count < 3:
        return [(names[0], names[1])] if count == 2 else []
    sides = [(names[i], names[(i + 1) % count]) for i in range(count)]
    rest = [(names[i], names[j]) for i in range(count) for j in range(i + 2, count) if (i, j) != (0, count - 1)]
    return [*sides, *rest]


def _pairs(standing: Standing) -> Iterator[Step]:
    half = standing.half
    if all(None not in base.at for base in half.bases):
        return
    taped = {frozenset(reading.places) for reading in half.counted if isinstance(reading, Tape)}
    for one, other in pairs_around([base.name for base in half.bases]):
        is_taped = {one, other} in taped
        yield Step(
            f"tape {one} {other}",
            f"the tape from {one} to {other}",
            f"{one} to {other} > ",
            ("Tape from base to base, sides and diagonals. Type what the tape shows; Enter leaves one out.",),
            done=is_taped,
            may_be_left=True,
            bare=f"{quoted(other)} tape {quoted(one)}",
        )


def _point(standing: Standing, progress: Progress, point: PointSoFar) -> Step:
    name = point.name
    is_good = point.has_place or (standing.is_fixed(name) and standing.is_checked(name))
    return Step(
        f"measure {name}",
        name,
        f"{name} > ",
        _how_to(standing.half, point),
        done=is_good and progress.target != name,
        begun=point.has_place or bool(standing.readings_of(name)),
        may_be_left=True,
        lasting=True,
        target=name,
    )


def _how_to(half: HalfMade, point: PointSoFar) -> tuple[str, ...]:
    what = label(point.what, point.leg, is_first=point.index == 0)
    at = half.bases[0].name if half.bases else "B1"
    inches = half.units == "in"
    drop, height, tape = ("14, L 12-1/2", "34-3/8", "41-3/8") if inches else ("355, L 318", "873", "1051")
    taped = f"; tape {at} {tape} (from a base)" if half.bases else ""
    return (
        f"{point.name}, {what}: how far forward, left or right, and how high is it? One reading a line: drop {drop} "
        f"(plumb bob); height {height}{taped}; or all three typed: at {drop}, {height}. Enter goes on to the next.",
    )


def _side(standing: Standing, name: str, units: Units) -> Iterator[Step]:
    mirror = standing.mirror(name)
    if mirror is None or not standing.is_fixed(name):
        return
    here, there = standing.adjusted.place(name), mirror.at[name]
    axis = int(np.argmax(np.abs(here - there)))
    more, less = _HINTS[axis]
    yield Step(
        f"side {name}",
        f"on which side {name} lies",
        f"{name}: {more} or {less} > ",
        (f"{_either(mirror, standing, units)} Which is it? Enter leaves it to later readings.",),
        may_be_left=True,
        lasting=True,
        target=name,
        answer=_side_answer(standing.half, name, (more, less)),
    )


def _either(mirror: Mirror, standing: Standing, units: Units) -> str:
    here, there = (
        ", ".join(format_place(float(mm), units, axis) for axis, mm in zip(AXES, at, strict=True))
        for at in (standing.adjusted.place(mirror.asked), mirror.at[mirror.asked])
    )
    return f"{mirror.asked} may be at {here}, or at {there}: the readings fit both."


def _side_answer(half: HalfMade, name: str, choice: tuple[Hint, Hint]) -> Callable[[str], Edit | None]:
    def answer(line: str) -> Edit | None:
        if not line:
            return None
        word = _SAME.get(line.lower(), line.lower())
        if word not in choice:
            raise Unfit(f"Write {choice[0]} or {choice[1]}.")
        return hinted(half, name, word)

    return answer


def hinted(half: HalfMade, name: str, word: str) -> Edit:
    """The change that says of a base or a point which of two answers is meant."""
    for index, base in enumerate(half.bases):
        if base.name == name:
            row = _with_hint(half.base_rows[index], word)
            return lambda document: document.replace_base(index, row)
    for point in half.points:
        if point.name == name:
            return _replaced(point, _with_hint(point.row, word))
    raise Unfit(f"{name} is neither a base nor a point, so nothing can be said of it. Take one reading more.")


def _with_hint(row: Any, word: str) -> dict[str, Any]:
    before = row.get("hint", [])
    hints = [*(before if isinstance(before, list) else [before]), word]
    return {**row, "hint": hints[0] if len(hints) == 1 else hints}


def placed(point: PointSoFar, at: Sequence[Any]) -> Edit:
    """The change that says how far forward, left and up a point is."""
    return _replaced(point, {**point.row, "at": list(at)})


def _replaced(point: PointSoFar, row: dict[str, Any]) -> Edit:
    def edit(document: JobDocument) -> None:
        document.replace_point(point.tube, point.index, row)

    return edit
