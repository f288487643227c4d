"""What a template says in words, in the units of the job."""

from __future__ import annotations

import math

from plumbend.ends.setting_up import reach
from plumbend.ends.template import Template
from plumbend.units import MM_PER_INCH, Units, format_angle, format_length
from plumbend_cli.program_page import size_text

_RULE_PARTS = 32
"""A steel rule shows 32nds; to the nearest 16th alone the cut could gape by as much as is lived with."""

_OTHER: dict[Units, Units] = {"in": "mm", "mm": "in"}
_CROSS = 0.25
"""mm; centrelines that pass nearer to each other cross, as far as any tape can tell."""


def on_rule(mm: float, units: Units) -> str:
    """A length as a steel rule shows it, without its unit: 32nds of an inch, or tenths of a millimetre."""
    return format_length(mm, units, _RULE_PARTS, 1)


def with_unit(mm: float, units: Units) -> str:
    """The same with its unit; a whole number of millimetres without its tenths."""
    return f"{on_rule(mm, units).removesuffix('.0')} {units}"


def title(template: Template) -> str:
    """Which end of which tube."""
    return f"{template.cut.tube}, {template.cut.end} end"


def size(template: Template, units: Units) -> str:
    """The tube's size in both units, the job's first."""
    leg, other = template.cut.leg, _OTHER[units]
    od, wall = (f"{size_text(mm, units)} ({size_text(mm, other)})" for mm in (leg.od, leg.wall))
    return f"Tube {od} OD, wall {wall}"


def angles(template: Template, units: Units) -> list[str]:
    """How the tube stands to each neighbour, on the scale where square is 90 and on the one where it is 0."""
    lines = []
    for neighbour, met in zip(template.cut.neighbours, template.joints, strict=True):
        what, scale = ("joint ", "notcher") if met.on_tube else ("", "saw")
        angle, off_square = format_angle(met.angle), format_angle(abs(met.off_square))
        line = f"{neighbour.name}: {what}{angle}° (square is 90), {scale} {off_square}° (square is 0)"
        apart = f", centrelines pass {with_unit(met.offset, units)} apart" if met.offset > _CROSS else ""
        lines.append(line + apart)
    return lines


def line_is(template: Template) -> tuple[str, str]:
    """Which side of the tube the reference line is, in full and for where there is little room."""
    if template.cut.leg.bend_angle is None:
        return "your line along the tube", "your line"
    return "inside of the nearest bend", "inside of bend"


def lower_edge(template: Template, units: Units) -> str:
    """Where on the tube the lower edge goes."""
    leg = template.cut.leg
    if any(met.on_tube for met in template.joints):
        back = f"{with_unit(template.below, units)} back from where the centrelines meet"
    else:
        back = f"{with_unit(template.below, units)} back from where the centreline is cut"
    at = reach(leg, template.edge, template.cut.other)
    if at.other is not None:
        where = f"{with_unit(at.other, units)} from the longest point of the other end, cut to size"
        return f"The lower edge lies {back}: {where}."
    assert at.middle is not None
    places = [
        f"{with_unit(at.tangent, units)} past the end of the bend",
        f"{with_unit(at.middle, units)} past its middle",
    ]
    if at.corner is not None:
        places.append(f"{with_unit(at.corner, units)} past its corner")
    return f"The lower edge lies {back}: {', '.join(places)}."


def how_to_wrap(template: Template, units: Units, *, joined: bool) -> list[str]:
    """What to do with the paper, step by step; ``joined`` says that it comes on several sheets."""
    if len(template.joints) == 1 and not template.joints[0].on_tube:
        edge = "One straight saw cut along the thick line is the whole cut."
    elif template.cut.edges == "inner":
        edge = (
            "The thick line is for the inside edge of the wall, drawn on the outside: cut square through the wall. "
            "Where the table has a shorter outside, that edge stands in the way: grind it back."
        )
    elif not _bevels(template):
        edge = "The thick line is the outside edge of the wall: cut square through the wall."
    elif template.cut.edges == "outer":
        edge = (
            "The thick line is the outside edge of the wall: cut square through the wall. Where the table has a "
            "shorter inside, that edge stands in the way: grind it back."
        )
    else:
        edge = (
            "The thick line is the outside edge of the wall. Where the table has a shorter inside, bevel the wall "
            "inward until the inside edge is back to it."
        )
    steps = [
        "Check both bars with a rule. Not true? Print again at 100 %, not fitted to the page, or draw the cut by rule.",
        *(["Lay crosses of one letter on each other and tape the sheets together."] if joined else []),
        "Cut the paper along the lower edge, both sides and the middle of the thick line; it is "
        f"{with_unit(template.wrap, units)} wide. Wrap it in one tight layer, printed side out, arrow toward the cut "
        f"end, LINE on {_line_on(template)}; the sides butt at the back.",
        lower_edge(template, units),
        edge,
    ]
    if template.cut.allowance > 0:
        left_on = with_unit(template.cut.allowance, units)
        steps.append(f"Cut along the dashed line first: it leaves {left_on} on, to be worked down to the thick line.")
    return steps


def _line_on(template: Template) -> str:
    return (
        "your line, the same at both ends" if template.cut.leg.bend_angle is None else "the inside of the nearest bend"
    )


def _bevels(template: Template) -> bool:
    return bool((template.inside < template.outside - _CROSS).any())


def for_cutter(template: Template, units: Units) -> list[str]:
    """What stands beside the flat pattern that steers a cutter."""
    if template.cut.edges == "both":
        edge = "whichever edge of the wall touches first, so that nothing is left to grind"
    else:
        edge = f"the {'outside' if template.cut.edges == 'outer' else 'inside'} edge of the wall"
    notes = [
        f"{title(template)}. {size(template, units)}. {'. '.join(angles(template, units))}.",
        "Flat pattern in mm of the tube's outside, without paper: seen from outside, the cut end up, once round the "
        f"tube {template.wrap:.2f} mm.",
        f"CUT is for a head square to the wall and follows {edge}. OUTSIDE EDGE and INSIDE EDGE are where a bevelled "
        "cut would run.",
        f"LINE: {line_is(template)[0]}. {lower_edge(template, units)}",
    ]
    if template.cut.allowance > 0:
        notes.append(f"FIRST CUT leaves {with_unit(template.cut.allowance, units)} on, to be worked down.")
    return [*notes, caution()]


def caution() -> str:
    """What is said once."""
    return "This gives shape, not strength, and certifies nothing. Try it on a scrap first."


def table_head(units: Units) -> tuple[tuple[str, str], ...]:
    """Heads of the ordinate table, two lines each."""
    return ("line", "no."), ("round the", f"tube, {units}"), ("up to the", "outside"), ("up to the", "inside")


def table_rows(template: Template, units: Units) -> list[tuple[str, str, str, str]]:
    """Rows of the ordinate table: line 1 is the reference line, then clockwise; lengths up from the lower edge."""
    return [
        (
            str(number),
            on_rule(line.arc, units),
            on_rule(line.outer - template.edge, units),
            on_rule(line.inner - template.edge, units),
        )
        for number, line in enumerate(template.table, 1)
    ]


def table_words(template: Template, units: Units) -> str:
    """How to read the table."""
    stations = len(template.table)
    apart = template.cut.leg.od * math.pi / stations
    return (
        f"By rule: line 1 is LINE; the others follow to the right with the cut end up, {with_unit(apart, units)} apart "
        f"on the tube: fold a strip that goes once round in {stations}. Lengths are up from the lower edge."
    )


def named_places(template: Template, units: Units) -> str:
    """Where tips, throats, long and short point lie; "" for a square cut."""
    said = []
    for place in template.places:
        degrees = math.degrees(place.round)
        side = "on LINE" if abs(degrees) < 0.05 else "at the seam" if abs(degrees) > 179.95 else ""
        way = side or f"{abs(degrees):.0f}° {'right' if degrees > 0 else 'left'} of LINE"
        said.append(f"{', '.join(place.names)} {on_rule(place.at - template.edge, units)} up, {way}")
    words = "; ".join(said)
    return f"{words[0].upper()}{words[1:]}." if said else ""


PROOF_BARS = ((100.0, "100 mm"), (4 * MM_PER_INCH, "4 in"))
"""Lengths in mm, and what their rule calls them."""
