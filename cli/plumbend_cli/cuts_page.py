"""How the ends of a tube are cut: settings, where the cut's places lie, how it will fit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from plumbend.ends.end_report import CutPlace, EndReport, Settings, gaps_of
from plumbend.ends.fit_up import FitUp
from plumbend.ends.setting_up import VIEWPOINT, Clocking
from plumbend.notices import listed
from plumbend.tubing import Edges
from plumbend.units import Units, format_angle, length_with_unit
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table
from plumbend_cli.program_page import COUNTED_IN, length_text, size_text, turn_text

_SEEN = 0.4  # mm; no tape shows less
_EDGE: dict[Edges, str] = {
    "outer": "Cut square through the wall for the outside edge to touch. Where the inside must be shorter, that edge "
    "stands in the way: grind it back.",
    "inner": "Cut square through the wall for the inside edge to touch, which leaves a groove to weld outside. Where "
    "the outside must be shorter, that edge stands in the way: grind it back.",
}


def cut_blocks(reports: Sequence[EndReport], bends: int, units: Units) -> Iterator[Block]:
    """A part of the page for each end; ``bends`` is how many the tube has."""
    for report in reports:
        yield from _end(report, bends, units)
    if any(report.settings and report.places for report in reports):
        seen = VIEWPOINT if bends else "looking along the tube toward the cut"
        text = (
            f"Clockwise and counter-clockwise are as seen {seen}. The size round the tube is along its outside. All "
            "places are on the outside of the wall, of the finished cut."
        )
        if not bends:
            text += " Your line is the one scribed along the tube; the other end counts from its longest point, cut."
        yield Paragraph(text)


def _end(report: EndReport, bends: int, units: Units) -> Iterator[Block]:
    cut = report.cut
    names = [one.name for one in report.settings]
    yield Heading(f"Cut of the {cut.end} end: {names[0]}" if not report.meets else _on(cut.end, names))
    bend = (bends if cut.far else 1) if bends else None
    line = "the reference line" if bends else "your line"
    for one in report.settings:
        yield Paragraph(" ".join(_setting(one, report, bend, line, units)), lead="- ")
    if cut.edges != "both":
        yield Paragraph(_EDGE[cut.edges], lead="- ")
    gaps = gaps_of(report)
    if gaps is not None:
        yield Paragraph(_gaps(gaps, units), lead="- ")
    if report.places:
        yield _lengths(report.places, bend, units)
        rounds = _rounds(report.places, bend, line, units)
        if rounds is not None:
            yield rounds


def _on(end: str, names: Sequence[str]) -> str:
    return f"Cut of the {end} end, on {listed(names)}"


def _setting(one: Settings, report: EndReport, bend: int | None, line: str, units: Units) -> Iterator[str]:
    scale = f"{format_angle(one.angle)} degrees where 90 is square, {format_angle(one.off_square)} where 0 is square"
    if not report.meets:
        yield f"Set the saw to {scale}."
    elif one.saw is None:
        yield f"On {one.name}, cut by one plane: {scale}."
    else:
        yield f"On {one.name}: joint angle {scale}."
        if one.offset >= _SEEN:
            yield f"The centrelines pass each other by {_length(one.offset, units)}."
    if one.saw is not None and one.depth is not None:
        yield (
            f"Hole saw {size_text(one.saw, units)}, the size of {one.name}; cut in one go it needs a cup "
            f"{_length(one.depth, units)} deep."
        )
    places = [
        _round_text(round_, what, units)
        for round_, what in ((one.from_bend, f"the inside of bend {bend}"), (one.from_line, line))
        if round_ is not None
    ]
    if places and float(format_angle(one.off_square)):
        yield f"The side that comes out shorter lies {listed(places)}."


def _round_text(round_: Clocking, what: str, units: Units) -> str:
    size = format_angle(abs(round_.turn))
    if float(size) == 0:
        return f"on {what}"
    if float(size) == 180:
        return f"opposite {what}"
    return f"{turn_text(round_.turn)} of {what} ({_length(abs(round_.arc), units)} round the tube)"


def _gaps(gaps: FitUp, units: Units) -> str:
    told = [f"{_gap(gaps.exact, units)} cut as drawn"]
    if gaps.saw is not None:
        told.append(f"{_gap(gaps.saw, units)} by one straight pass of the hole saw")
    told.append(f"{_gap(gaps.clocked_off, units)} turned 1 degree off")
    if gaps.set_off is None:
        return f"Widest gap: {listed(told)}. Set 1 degree off, part of the end would meet nothing."
    return f"Widest gap: {listed([*told, f'{_gap(gaps.set_off, units)} set 1 degree off'])}."


def _lengths(places: Sequence[CutPlace], bend: int | None, units: Units) -> Table:
    inches = COUNTED_IN[units]
    if bend is None:
        heads = ["from the other end"]
    else:
        heads = ["from tangent", "from corner", "from middle of bend"]
        if places[0].at.corner is None:
            heads.remove("from corner")
    columns = [
        Column("place", "" if bend is None else f"bend {bend}"),
        *(Column(head, inches, numeric=True, loud=at == 0) for at, head in enumerate(heads)),
    ]
    rows = []
    for place in places:
        at = (place.at.tangent, place.at.corner, place.at.middle) if bend is not None else (place.at.other,)
        rows.append((", ".join(place.names), *(length_text(mm, units) for mm in at if mm is not None)))
    return Table(tuple(columns), tuple(rows))


def _rounds(places: Sequence[CutPlace], bend: int | None, line: str, units: Units) -> Table | None:
    """How far round each place lies from what is known; None where that is nothing."""
    columns = [Column("place")]
    cells: list[list[str]] = [[", ".join(place.names) for place in places]]
    for what, rounds in (
        (f"from inside of bend {bend}", [place.from_bend for place in places]),
        (f"from {line.removeprefix('the ')}", [place.from_line for place in places]),
    ):
        known = [round_ for round_ in rounds if round_ is not None]
        if known:
            columns += [Column(what, "degrees"), Column("round", COUNTED_IN[units], numeric=True)]
            cells += [
                [turn_text(round_.turn) for round_ in known],
                [length_text(abs(round_.arc), units) for round_ in known],
            ]
    return Table(tuple(columns), tuple(zip(*cells, strict=True))) if len(columns) > 1 else None


def _length(mm: float, units: Units) -> str:
    return length_with_unit(mm, units, decimals=1)


def _gap(mm: float, units: Units) -> str:
    return length_with_unit(mm, units, parts=32, decimals=1)  # finer than a tape is read
