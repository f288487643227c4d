"""The questions before anything is measured: what the tube is, what it is bent on, how many bends it has."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from plumbend.errors import BadFile
from plumbend.job.begun_job import add_table, begin_job, typed_value
from plumbend.job.dies import SAME_SIZE
from plumbend.job.half_made import HalfMade
from plumbend.job.reader import read_shop
from plumbend.job.values import MOST_BENDS
from plumbend.job.writing import JobDocument
from plumbend.shop import Die
from plumbend.units import Units, check_tube_size, parse_length
from plumbend_cli.program_page import size_text
from plumbend_cli.session.draft import Draft, Edit, Unfit
from plumbend_cli.session.step import Step

_TIGHTEST = 0.9
"""Of the OD, as sizes are called: a tube is bent to a radius of 1 x OD at the tightest."""

_YES, _NO = ("", "y", "yes"), ("n", "no")
_UNKNOWN = ("", "?", "don't know", "dont know", "no idea", "unknown")


def set_to(*keys: str | int, value: str | int | float) -> Edit:
    """The change that gives a key its value."""
    return lambda document: document.set_value(keys, value)


def of_tube(key: str, value: str | int) -> Edit:
    """The change that gives a key of the first tube its value."""

    def edit(document: JobDocument) -> None:
        if not document.data.get("tube"):
            add_table(document, "tube", {})
        document.set_value(("tube", 0, key), value)

    return edit


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
    title = half.title or "tube"
    yield Step(
        "tube",
        "the name of the tube",
        f"Tube [{title}] > ",
        ("What is the tube called?",),
        done=half.tube is not None,
        answer=lambda line: of_tube("name", line or title),
    )
    yield from _die_steps(half, units)
    yield from _grip_step(draft, units)
    if not half.other_evidence:
        yield Step(
            "bends",
            "the number of bends",
            "Bends > ",
            ("How many bends does it have? Enter if you do not know: they are then found.",),
            done=half.bends is not None,
            may_be_left=True,
            answer=_bends,
        )


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
    if odd := check_tube_size(_size(line, units, "1-1/2"), None):
        raise Unfit(odd)
    return set_to("tubing", "od", value=_value(line))


def _wall(line: str, od: float, units: Units) -> Edit | None:
    if not line:
        return None
    if odd := check_tube_size(od, _size(line, units, "0.095")):
        raise Unfit(odd)
    return set_to("tubing", "wall", value=_value(line))


def _size(line: str, units: Units, like: str) -> float:
    if not line:
        raise Unfit(f"This is needed. Write it like {like}.")
    size = parse_length(line, units)
    if size <= 0:
        raise Unfit(f'"{line}" must be more than nothing. Check the figure.')
    return size


def _value(line: str) -> str | int | float:
    value = typed_value(line)
    assert isinstance(value, str | int | float)
    return value


def _die_steps(half: HalfMade, units: Units) -> Iterator[Step]:
    fitting = [die for die in half.dies if die.od is None or half.od is None or abs(die.od - half.od) <= SAME_SIZE]
    if fitting:
        yield Step(
            "die",
            "the die",
            "Die [1] > " if len(fitting) == 1 else "Die > ",
            (
                "Which die is it bent on? Type its number or its name.",
                *(f"{number}  {_described(die, units)}" for number, die in enumerate(fitting, 1)),
            ),
            done=half.die is not None or len(half.dies) == 1,
            begun=half.die is not None,
            answer=lambda line: _die(line, fitting),
        )
        return
    why = "None of your dies takes tubing of that OD. " if half.dies else ""
    yield Step(
        "die",
        "the die",
        "CLR > ",
        (f"{why}What is the centreline radius of the die? It is stamped on it.",),
        done=half.die is not None,
        answer=lambda line: _own_die(line, half, units),
    )


def _grip_step(draft: Draft, units: Units) -> Iterator[Step]:
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


def _die(line: str, fitting: list[Die]) -> Edit:
    names = [die.name for die in fitting]
    if not line and len(names) == 1:
        line = names[0]
    if line not in names and line.isdecimal() and 0 < int(line[:9]) <= len(names):
        line = names[int(line) - 1]
    if line not in names:
        raise Unfit("There is no such die in the list. Type its number or its name.")
    return of_tube("die", line)


def _own_die(line: str, half: HalfMade, units: Units) -> Edit:
    """A die that stands in the job itself, called by its radius."""
    clr = _size(line, units, "5-1/2")
    if half.od is not None and clr < _TIGHTEST * half.od:
        raise Unfit("That radius is under the OD, and no tube bends so tightly. Check the figure and its unit.")
    name = " ".join(line.split())
    row = {"clr": _value(line)}
    if any(die.name == name for die in half.dies):
        name = f"{name} for this job"
        row = {"name": name, **row}

    def edit(document: JobDocument) -> None:
        add_table(document, "die", row)
        of_tube("die", name)(document)

    return edit


def _grip(line: str, units: Units) -> Edit | None:
    if not line:
        return None
    _size(line, units, "3")
    return set_to("die", 0, "grip", value=_value(line))


def _bends(line: str) -> Edit | None:
    if line.lower() in _UNKNOWN:
        return None
    if not line.isdecimal() or not line.isascii() or int(line[:9]) > MOST_BENDS:
        raise Unfit(f"Write how many bends it has, 0 to {MOST_BENDS}, or Enter if you do not know.")
    return of_tube("bends", int(line))
