"""Places on the centreline, in order, that guide the search for a tube: its points, or a path through its scan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from plumbend.frames import FloatArray
from plumbend.shape.measured import Measured
from plumbend.shape.path import axis_path
from plumbend.shape.points import AT_IT, Point


def guide_places(measured: Measured) -> list[Point]:
    """Places on the centreline in order from the start end, each with its covariance."""
    typed = axis_places(measured.points, measured.od)
    if measured.scan is None:
        return typed
    path = scan_path(measured)
    sd = measured.od / 8 + measured.scan.sd
    found = [Point(f"scan {i}", "centre", at, np.eye(3) * sd**2) for i, at in enumerate(path)]
    return _with_typed(found, path, typed)


def scan_path(measured: Measured) -> FloatArray:
    """Places (m, 3) mm on the axis found in a scan, in order; with places off the tube between its ends, where told."""
    scan, points = measured.scan, measured.points
    assert scan is not None
    if scan.strays and len(points) > 1 and points[0].what == points[-1].what == "end":
        return axis_path(scan, measured.od, (tuple(points[0].at.tolist()), tuple(points[-1].at.tolist())))
    return axis_path(scan, measured.od)


def axis_places(points: Sequence[Point], od: float) -> list[Point]:
    """Places on the centreline that stand in for ``points`` while a tube is looked for.

    One touched on a side goes half an OD in; one on the outside stays where it is, good to OD/3 only. A place to touch
    goes over to the side on which the tube is, where told. What is kept clear of says nothing.
    """
    places = []
    for point in points:
        if point.what == "clear":
            continue
        if point.side is not None:
            point = replace(point, at=point.at - od / 2 * point.side, side=None)
        elif point.what == "outside":
            point = replace(point, what="centre", cov=point.cov + np.eye(3) * (od / 3) ** 2)
        elif point.what == "touch":
            point = beside(point, od)
        places.append(point)
    return places


def beside(point: Point, od: float) -> Point:
    """A place on the centreline that stands in for one to touch: on the side told, else the place itself."""
    off, side = od / 2 + point.standoff.gap, point.standoff.tube_is
    at, loosely = (point.at, off / 1.5) if side is None else (point.at + off * side, off / 3)
    return replace(point, what="centre", at=at, cov=point.cov + np.eye(3) * loosely**2, standoff=AT_IT)


def _with_typed(found: list[Point], path: FloatArray, typed: list[Point]) -> list[Point]:
    """The path begun at the end nearer to the first typed point, the typed points put in where they lie."""
    if not typed:
        return found
    steps = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(path, axis=0), axis=1))])
    stations = [float(steps[np.argmin(np.linalg.norm(path - point.at, axis=1))]) for point in typed]
    if stations[0] > stations[-1] or (len(typed) == 1 and stations[0] > steps[-1] / 2):
        found = found[::-1]
        steps = steps[-1] - steps[::-1]
        stations = [float(steps[-1]) - station for station in stations]
    order = [(station, 1, point) for station, point in zip(stations, typed, strict=True)]
    if typed[0].what == "end":
        order[0] = (-1.0, 1, typed[0])
    if typed[-1].what == "end" and len(typed) > 1:
        order[-1] = (float(steps[-1]) + 1.0, 1, typed[-1])
    placed = [*((float(s), 0, point) for s, point in zip(steps, found, strict=True)), *order]
    return [point for _, _, point in sorted(placed, key=lambda item: item[:2])]
