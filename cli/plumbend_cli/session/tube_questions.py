"""The questions about one tube before it is measured: what it is bent on, and how many bends it has."""

from __future__ import annotations

from collections.abc import Iterator

from plumbend.job.begun_job import add_table, typed_value
from plumbend.job.dies import SAME_SIZE
from plumbend.job.half_made import HalfMade, TubeSoFar
from plumbend.job.values import MOST_BENDS
from plumbend.job.writing import JobDocument
from plumbend.shop import Die
from plumbend.typed import parse_length
from plumbend.units import Units
from plumbend_cli.program_page import size_text
from plumbend_cli.session.draft import Draft, Edit, Unfit
from plumbend_cli.session.step import Step

_TIGHTEST = 0.9
"""Of the OD, as sizes are called: a tube is bent to a radius of 1 x OD at the tightest."""

_UNKNOWN = ("", "?", "don't know", "dont know", "no idea", "unknown")


def key_of(question: str, tube: TubeSoFar) -> str:
    """The key of a question about a tube; that of the first is the plain word."""
    return f"{question} {tube.index + 1}" if tube.index else question


def of(tube: TubeSoFar) -> str:
    """Which tube, behind what is asked of it; nothing of the first."""
    return f" of {tube.name}" if tube.index else ""


def set_to(*keys: str | int, value: str | int | float) -> Edit:
    """The change that gives a key its value."""
    return lambda document: document.set_value(keys, value)


def of_tube(tube: TubeSoFar, key: str, value: str | int) -> Edit:
    """The change that gives a key of a tube its value."""

    def edit(document: JobDocument) -> None:
        if len(document.data.get("tube", [])) <= tube.index:
            add_table(document, "tube", {})
        document.set_value(("tube", tube.index, key), value)

    return edit


def bends_step(tube: TubeSoFar) -> Step:
    """How many bends a tube has."""
    return Step(
        key_of("bends", tube),
        f"the number of bends{of(tube)}",
        "Bends > ",
        ("How many bends does it have? Enter if you do not know: they are then found.",),
        done=tube.bends is not None,
        may_be_left=True,
        answer=lambda line: _bends(line, tube),
    )


def die_steps(half: HalfMade, tube: TubeSoFar, units: Units) -> Iterator[Step]:
    """What a tube is bent on: one of the dies there are, or one that is put into the job."""
    fitting = [die for die in half.dies if die.od is None or half.od is None or abs(die.od - half.od) <= SAME_SIZE]
    if fitting:
        yield Step(
            key_of("die", tube),
            f"the die{of(tube)}",
            "Die [1] > " if len(fitting) == 1 else "Die > ",
            (
                "Which die is it bent on? Type its number or its name.",
                *(f"{number}  {_described(die, units)}" for number, die in enumerate(fitting, 1)),
            ),
            done=tube.die is not None or len(half.dies) == 1,
            begun=tube.die is not None,
            answer=lambda line: _die(line, fitting, tube),
        )
        return
    why = "None of your dies takes tubing of that OD. " if half.dies else ""
    yield Step(
        key_of("die", tube),
        f"the die{of(tube)}",
        "CLR > ",
        (f"{why}What is the centreline radius of the die? It is stamped on it.",),
        done=tube.die is not None,
        answer=lambda line: _own_die(line, half, tube, units),
    )


def grip_step(draft: Draft, units: Units) -> Iterator[Step]:
    """How much the clamp holds, of a die that stands in the job itself."""
    half, own = draft.standing.half, draft.document.data.get("die")
    if isinstance(own, list) and len(own) == 1 and half.dies:
        yield Step(
            "grip",
            "the grip of the die",
            "Grip > ",
            ("What is the shortest straight that the clamp can hold between two bends? Enter if you do not know.",),
            done=half.dies[0].grip is not None,
            may_be_left=True,
            answer=lambda line: _grip(line, units),
        )


def _described(die: Die, units: Units) -> str:
    takes = "" if die.od is None else f", for {size_text(die.od, units)} OD"
    return f"{die.name}: radius {size_text(die.clr, units)}{takes}"


def _die(line: str, fitting: list[Die], tube: TubeSoFar) -> Edit:
    names = [die.name for die in fitting]
    if not line and len(names) == 1:
        line = names[0]
    if line not in names and line.isdecimal() and 0 < int(line[:9]) <= len(names):
        line = names[int(line) - 1]
    if line not in names:
        raise Unfit("There is no such die in the list. Type its number or its name.")
    return of_tube(tube, "die", line)


def _own_die(line: str, half: HalfMade, tube: TubeSoFar, units: Units) -> Edit:
    """A die that stands in the job itself, called by its radius."""
    clr = size_typed(line, units, "5-1/2")
    if half.od is not None and clr < _TIGHTEST * half.od:
        raise Unfit("That radius is under the OD, and no tube bends so tightly. Check the figure and its unit.")
    name = " ".join(line.split())
    row = {"clr": value_typed(line)}
    if any(die.name == name for die in half.dies):
        name = f"{name} for this job"
        row = {"name": name, **row}

    def edit(document: JobDocument) -> None:
        add_table(document, "die", row)
        of_tube(tube, "die", name)(document)

    return edit


def _grip(line: str, units: Units) -> Edit | None:
    if not line:
        return None
    size_typed(line, units, "3")
    return set_to("die", 0, "grip", value=value_typed(line))


def _bends(line: str, tube: TubeSoFar) -> Edit | None:
    if line.lower() in _UNKNOWN:
        return None
    if not line.isdecimal() or not line.isascii() or int(line[:9]) > MOST_BENDS:
        raise Unfit(f"Write how many bends it has, 0 to {MOST_BENDS}, or Enter if you do not know.")
    return of_tube(tube, "bends", int(line))


def size_typed(line: str, units: Units, like: str) -> float:
    """A length above nothing, mm; ``like`` is an example. Raises Unfit or BadText for what is none."""
    if not line:
        raise Unfit(f"This is needed. Write it like {like}.")
    size = parse_length(line, units)
    if size <= 0:
        raise Unfit(f'"{line}" must be more than nothing. Check the figure.')
    return size


def value_typed(line: str) -> str | int | float:
    """A figure as it stands in a file."""
    value = typed_value(line)
    assert isinstance(value, str | int | float)
    return value
