"""The part of a page that tells what drives a tube's numbers; only ``--why`` pays for it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from plumbend.frames import FloatArray
from plumbend.job.results import PartRadius, TubeResult
from plumbend.job.why_report import WhyReport, largest
from plumbend.shape.certainty import Certainty
from plumbend.shape.drivers import Drivers
from plumbend.shape.landing import Landing, Reach
from plumbend.units import MM_PER_INCH, Units, length_with_unit
from plumbend_cli.known import known_angle, known_length
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table
from plumbend_cli.program_page import AXES, COUNTED_IN, length_text

_FEW, _LEAST = 3, 0.05
"""Measurements named beside a number, at most, and the share from which one is worth naming."""
_ONE: dict[Units, tuple[float, str]] = {"in": (MM_PER_INCH / 16, "1/16"), "mm": (1.0, "1 mm")}


def why_blocks(tube: TubeResult, why: WhyReport, units: Units) -> Iterator[Block]:
    """What drives the numbers of one tube."""
    start, far = (f"{end} end" for end in tube.ends)
    if why.drivers is not None and tube.certainty is not None:
        yield Heading("What each ± comes from")
        yield _shares(why.drivers, tube.certainty, tube.part, units)
        yield Paragraph(
            "Measure what stands first again, or better, and that ± shrinks most. What is held, or nothing fixes, "
            "has no ± to share out."
        )
    yield Heading(f"How far the {far} moves when one number is out")
    in_place = tube.fit is not None and bool(tube.fit.points or tube.fit.scan)
    yield _reach(why.reach, in_place, far, units)
    yield Paragraph(f"The {start} and its first leg lie still. Twice as far out moves it twice as far.")
    if why.landing is not None:
        yield Heading("Do both ends land?")
        yield from (Paragraph(text) for text in _landing(why, why.landing, (start, far), units))


def _shares(drivers: Drivers, certainty: Certainty, part: PartRadius | None, units: Units) -> Table:
    columns = (Column("number"), Column("±", loud=True), Column("most of it from"))
    counted = COUNTED_IN[units]
    rows: list[tuple[str, str, str]] = []
    for k, sd in enumerate(certainty.straights.tolist()):
        rows.append((f"straight {k + 1}, {counted}", _length(sd, units), _from(drivers.measured, drivers.straights[k])))
    for k, sd in enumerate(certainty.rotations.tolist()):
        if k:
            rows.append((f"turn at bend {k + 1}", _angle(sd), _from(drivers.measured, drivers.rotations[k])))
    for k, sd in enumerate(certainty.angles.tolist()):
        rows.append((f"bend {k + 1}", _angle(sd), _from(drivers.measured, drivers.angles[k])))
    length = _length(certainty.developed_length, units)
    rows.append((f"finished length, {counted}", length, _from(drivers.measured, drivers.developed_length)))
    if drivers.own_radius is not None and part is not None and part.doubt > 0:
        radius = _length(part.doubt, units)
        rows.append((f"the part's own bend radius, {counted}", radius, _from(drivers.measured, drivers.own_radius)))
    return Table(columns, tuple(rows))


def _length(sd: float, units: Units) -> str:
    return known_length(0.0, sd, units).within if sd > 0 else ""


def _angle(sd: float) -> str:
    return known_angle(0.0, sd).within if sd > 0 else ""


def _from(names: tuple[str, ...], shares: FloatArray) -> str:
    """ "c1 58 %, F 21 %, 6 others 21 %"."""
    found = largest(names, shares)
    if found is None:
        return "held, or not fixed"
    named = [found[0], *(one for one in found[1:_FEW] if one[1] >= _LEAST)]
    texts = [f"{name} ({100 * share:.0f}%)" for name, share in named]
    rest = 1.0 - sum(share for _, share in named)
    others = len(found) - len(named)
    if others and rest >= 0.005:
        texts.append(f"{others} other{'s' if others > 1 else ''} ({100 * rest:.0f}%)")
    return "; ".join(texts)


def _reach(reach: Reach, in_place: bool, far: str, units: Units) -> Table:
    mm, one = _ONE[units]
    degree = math.radians(1.0)
    moves = [(f"straight {k + 1}: {one} longer", move * mm) for k, move in enumerate(reach.straights)]
    moves += [
        (f"turn at bend {k + 1}: 1 degree more clockwise", move * degree) for k, move in enumerate(reach.rotations) if k
    ]
    moves += [(f"bend {k + 1}: 1 degree more", move * degree) for k, move in enumerate(reach.angles)]
    columns = [Column("out by"), Column(f"{far} moves", COUNTED_IN[units], numeric=True, loud=True)]
    if in_place:  # a tube that lies nowhere has no forward
        columns += [Column(axis, COUNTED_IN[units], numeric=True) for axis in AXES]
    rows = []
    for words, move in moves:
        amounts = [float(np.linalg.norm(move)), *(move.tolist() if in_place else ())]
        rows.append((words, *(length_text(amount, units, parts=32) for amount in amounts)))
    return Table(tuple(columns), tuple(rows))


def _landing(why: WhyReport, landing: Landing, ends: tuple[str, str], units: Units) -> Iterator[str]:
    start, far = ends
    if math.isnan(landing.between_ends):
        yield "What was measured does not fix both ends: no chance of it can be told."
        return
    gap = length_with_unit(landing.gap, units, parts=64, decimals=1)
    yield (
        f"Laid in so that both ends miss alike, both land within {gap} of where they should in "
        f"{chance_text(landing.between_ends)}."
    )
    yield (
        f"Laid in by the {start} and its first leg, and rolled about that leg to where it fits best, the {far} lands "
        f"within {gap} in {chance_text(landing.from_start)}."
    )
    yield "That is for a tube bent exactly to the program: what bender and pen add is not in it."
    if why.limited:
        yield "Nor is what the die's limits keep the tube off its points by: see the points below."


def chance_text(chance: float) -> str:
    """A chance in plain words, never more than it is: "19 of 20", "98 of 100"."""
    count = 20 if chance < 0.96 else 100 if chance < 0.99 else 1000
    least = math.floor(chance * count + 1e-9)
    if least == count:
        return f"more than {count - 1} of {count}"
    return f"{least} of {count}" if least else f"fewer than 1 of {count}"
