"""Tubes whose points were typed in any order: put in order to be solved, and their results as typed again."""

from __future__ import annotations

from dataclasses import replace

from plumbend.job.model import WantedTube
from plumbend.job.results import FitReport, TubeResult
from plumbend.notices import Notice
from plumbend.shape.fit import FormingLimits
from plumbend.shape.measured import Measured
from plumbend.shape.order import Ordered, put_in_order

MOST_LISTED = 30
"""Points whose order is still worth reading."""


def in_order(tube: WantedTube, od: float, limits: FormingLimits) -> tuple[WantedTube, Ordered]:
    """A tube with all its points placed, as it would be had they been typed in order from the start end.

    Args:
        tube: points in any order.
        od: outside diameter, mm.
        limits: what its die can bend.
    """
    measured = Measured(od, tube.points, tube.readings, tube.joint, tube.planar, tube.scan, tube.demands)
    ordered = put_in_order(measured, tube.bends, limits)
    points, joint = ordered.measured.points, ordered.measured.joint
    return replace(tube, points=points, joint=joint, ordered=True), ordered


def as_typed(result: TubeResult, ordered: Ordered) -> TubeResult:
    """The result of a tube that was put in order, its points as typed; their order and the start end are said."""
    place = {typed: position for position, typed in enumerate(ordered.order)}
    typed = [place[i] for i in range(len(place))]
    points = tuple(result.points[position] for position in typed) if result.points else ()
    fit = None if result.fit is None else _report_as_typed(result.fit, ordered, typed)
    notices = result.notices
    if 0 < len(result.points) <= MOST_LISTED:
        notices = (*notices, _order_said([point.name for point in result.points]))
    if ordered.start_by_first and points:
        notices = (*notices, _start_said(points[0].name, result.ends))
    return replace(result, points=points, fit=fit, notices=notices)


def _report_as_typed(fit: FitReport, ordered: Ordered, typed: list[int]) -> FitReport:
    worst = None if fit.worst is None else ordered.order[fit.worst]
    return replace(fit, points=tuple(fit.points[position] for position in typed), worst=worst)


def _order_said(names: list[str]) -> Notice:
    return Notice(
        "points-in-order", "note", f"Along the tube, the points were taken in this order: {', '.join(names)}."
    )


def _start_said(first: str, ends: tuple[str, str]) -> Notice:
    near = "" if ends[0] == first else f" {first} was typed first, and is nearer to it."
    mend = f"To start at the other, type {ends[1]} first, or make an end of it."
    return Notice("start-end", "note", f"No end is told: {ends[0]} is taken to be at the start end.{near} {mend}")
