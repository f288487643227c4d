"""The numbers for the ends of a tube, and what is said of them: what the notcher cannot do, and what nobody checked."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

from plumbend.cut_ends import refused
from plumbend.ends.cuts import EndCut
from plumbend.ends.end_report import EndReport, Settings, end_report
from plumbend.errors import Refused
from plumbend.job.results import EndMet, TubeResult
from plumbend.joining import never_cut
from plumbend.making.buildable import Bench
from plumbend.making.order import order_of
from plumbend.making.steps import reference_lines
from plumbend.notices import Notice, listed
from plumbend.units import format_angle

WIDEST_GAP = 1.6
"""mm that a joint may gape and still be welded without more ado (common practice for mild steel, no source)."""


def with_reports(result: TubeResult, bench: Bench) -> TubeResult:
    """The result with the numbers for its ends, for a tube whose ends are cut to something, or the refusal of one.

    The reference line of a bent tube is the one scribed for its bends. That of a straight tube is any line along it,
    the same for both ends.
    """
    made = result.made
    assert made is not None
    lines = reference_lines(made, bench) if made.bends else None

    def line_on(cut: EndCut) -> float | None:
        if not made.bends:
            return 0.0
        return None if lines is None else cut.leg.round_of(lines[-1 if cut.far else 0])

    reports: list[EndReport] = []
    for cut, met in zip(result.cuts, result.met, strict=True):
        line, grip = line_on(cut), _held_by_bender(cut, made.bends, bench)
        try:
            reports.append(end_report(cut, meets=bool(met.on), line=line, notcher=bench.notcher, grip=grip))
        except Refused as fault:  # looked at all round it may pass by a hair what a cut may
            return refused(result, [never_cut(met.end, met.on, fault, bench.units)])
    said = [notice for report, met in zip(reports, result.met, strict=True) for notice in _notices(report, met, bench)]
    return replace(
        result, end_reports=tuple(reports), notices=(*result.notices, *said, *_not_made(reports, made.bends, bench))
    )


def _held_by_bender(cut: EndCut, bends: int, bench: Bench) -> float | None:
    """mm of straight tube beyond the nearest bend that the bender must hold as it is made, where the shop says so."""
    if not bends:
        return None
    return bench.die.grip if _held_by(cut, bends, bench) == "grip" else bench.die.tail


def _held_by(cut: EndCut, bends: int, bench: Bench) -> str:
    """The die's key that says so: an end goes through the die first and is gripped, or is the tail."""
    nearest = bends - 1 if cut.far else 0
    start_leads = next(step.start_leads for step in order_of(bends, bench.habit.begins) if step.bend == nearest)
    return "grip" if start_leads != cut.far else "tail"


def _notices(report: EndReport, met: EndMet, bench: Bench) -> Iterator[Notice]:
    for one in report.settings:
        if one.notcher is not None:
            yield from _beyond_notcher(one, met, bench)
    gap = report.saw_gap
    if gap is not None and gap > WIDEST_GAP:
        leaves = f"gaps of {bench.whole(gap)}" if math.isfinite(gap) else "one side of the tube uncut"
        yield Notice(
            f"end-saw-gap-{met.end}",
            "caution",
            f"At the {met.end} end a straight pass of a hole saw leaves {leaves}, as {met.on[0]} is bent there or "
            "stands aside. Dress the cut by hand, or cut it to a template.",
        )
    if report.when in ("before", "after", "neither"):
        yield _order_of_work(report, met)


def _beyond_notcher(one: Settings, met: EndMet, bench: Bench) -> Iterator[Notice]:
    assert one.notcher is not None
    assert one.depth is not None
    notcher = bench.notcher
    if one.notcher.angle is False:
        assert notcher.most_off_square is not None
        yield Notice(
            f"end-notcher-angle-{met.end}-{one.name}",
            "caution",
            f"At the {met.end} end the cut on {one.name} is {format_angle(one.off_square)} degrees off square, and the "
            f"notcher goes to {format_angle(notcher.most_off_square)}. Cut it to a template with a grinder, or on "
            "another machine.",
        )
    if one.notcher.depth is False:
        assert notcher.cup is not None
        yield Notice(
            f"end-saw-depth-{met.end}-{one.name}",
            "caution",
            f"At the {met.end} end the cut on {one.name} is {bench.length(one.depth)} deep along the saw, and its cup "
            f"takes {bench.length(notcher.cup)}. Cut the slant first, or stop and break out the slug.",
        )


def _order_of_work(report: EndReport, met: EndMet) -> Notice:
    code, end = f"end-when-{met.end}", met.end
    if report.when == "after":
        return Notice(
            code,
            "note",
            f"Cut the {end} end after bending: cut before, it leaves the bender too little full tube to hold there.",
        )
    if report.when == "before":
        return Notice(
            code,
            "caution",
            f"Cut the {end} end before bending: once it is bent, too little straight tube is left for the notcher's "
            "clamp. Its clocking must then be right beforehand.",
        )
    return Notice(
        code,
        "caution",
        f"The {end} end is too short for the bender to hold if it is cut before bending, and for the notcher's clamp "
        "if after. Cut it after bending, to a template by hand, or make its straight longer.",
    )


def _not_made(reports: Sequence[EndReport], bends: int, bench: Bench) -> Iterator[Notice]:
    """What could not be checked for want of the shop's figures, and what it could not be measured from."""
    notcher = bench.notcher
    coped = any(one.notcher is not None for report in reports for one in report.settings)
    bent = bends > 0
    wanting: list[str] = []
    if coped:
        wanting += [
            name
            for name, value in (("most_off_square", notcher.most_off_square), ("cup", notcher.cup))
            if value is None
        ]
    if coped and bent and notcher.clamp is None:
        wanting.append("clamp")
    if wanting:
        yield Notice(
            "notcher",
            "not-checked",
            f"Whether your notcher can make the ends: the shop file's [notcher] does not give its {listed(wanting)}.",
        )
    die = {_held_by(report.cut, bends, bench): None for report in reports if bent}
    unknown = [key for key in die if getattr(bench.die, key) is None]
    if unknown:
        yield Notice(
            "end-order",
            "not-checked",
            f"Whether the ends may be cut before bending: the shop file gives no {listed(unknown, 'or')} of the die "
            f"{bench.die.name}.",
        )
    if bent and any(report.line is None for report in reports):
        yield Notice(
            "end-line",
            "not-checked",
            "How far the cuts lie round from the reference line: that is told for a level bender alone, whose shop "
            "file says how it swings. Measure them from the inside of the bend.",
        )
