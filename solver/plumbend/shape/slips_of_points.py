"""What a point that was typed wrong looks like: every place that may have been meant, held against the tube.

Only what lies square to the tube is seen at a centre or an outside point, so a slip along it explains nothing and is
explained by nothing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from typing import Final

import numpy as np

from plumbend.estimate.doubt import IN_PART
from plumbend.frames import FloatArray
from plumbend.measuring.explaining import ALIKE, distances, rank
from plumbend.measuring.slips import Figure, slips
from plumbend.records import record
from plumbend.shape.fit import Fit
from plumbend.shape.kinds import CentrePoints, CornerPoints, EndPoints, OutsidePoints, PointGroup, SidePoints
from plumbend.shape.points import SIDES, Point
from plumbend.units import MM_PER_INCH, Axis, Units, format_length

_AXES: Final[tuple[Axis, Axis, Axis]] = ("forward", "left", "up")
_OPPOSITE: Final = ("forward and aft", "left and right", "above and below")
_WORTH_SAYING = 1000.0
"""What is less likely than the best by more than this is not mentioned."""


@record
class Misread:
    """What a wrong point looks like.

    Attributes:
        ways: human errors that explain it and that the others cannot tell apart, the best first: "L 12-1/2 with the
            digits swapped"; may be empty.
        within: mm by which the place that was meant would still miss, the largest of them all.
        following: the likeliest of those that can be told from the best; None without one.
        odds: how many times likelier the best is than that.
    """

    ways: tuple[str, ...]
    within: float = 0.0
    following: str | None = None
    odds: float = math.inf

    @property
    def words(self) -> str:
        """What it looks like, in one phrase; "" where nothing explains it."""
        return ", or ".join(self.ways) if len(self.ways) < 3 else f"{', '.join(self.ways[:-1])}, or {self.ways[-1]}"

    def said(self, name: str, units: Units) -> str:
        """What is said of the point ``name``; "" where nothing explains it."""
        if not self.ways:
            return ""
        step = MM_PER_INCH / 16 if units == "in" else 1.0
        within = format_length(max(math.ceil(self.within / step - 1e-6), 1) * step, units)
        said = f"{name} looks like {self.words}: then it fits within {within}{'' if units == 'in' else ' mm'}."
        if self.following is not None and self.odds < _WORTH_SAYING:
            said += f" The next best guess, {self.following}, is {max(self.odds, 1):.0f} times less likely."
        return said


@record(eq=False)
class _Meant:
    """A point that may have been meant.

    Attributes:
        code: a short stable name of the kind of slip.
        words: how the point typed came of it.
        point: as it should have been.
        od: mm, of the tube that it is held against.
        moved: (3,) mm, from the axis that the point typed says to that which this one does; None where it is off by
            as much in any direction.
    """

    code: str
    words: str
    point: Point
    od: float
    moved: FloatArray | None


def misread_of(
    point: Point, rest: Fit, typed_in: Units, shown_in: Units, *, far: bool = True, figures: bool = True
) -> Misread:
    """What a point looks like that had no part in the fit of the ``rest``.

    Args:
        point: as typed.
        rest: fitted without it.
        typed_in: the job's units, in which its figures were read.
        shown_in: the units of what is said beside it, where the figures bear their own if these differ.
        far: of an end: whether it is the far one.
        figures: whether its coordinates were typed, and not worked out from readings.
    """
    point = _on_its_bend(point, rest)
    stands = _standing(point, rest, rest.evidence.od, far=far)
    if stands is None:
        return Misread(())
    information = stands.directions.T @ np.linalg.inv(stands.spread) @ stands.directions
    tried = []
    od = rest.evidence.od
    for meant in [*_elsewhere(point, od), *(_in_figures(point, typed_in, shown_in, od) if figures else ())]:
        # of a place that is off by as much in any direction, the axis lies where the tube is
        moved = _inward(point, rest, meant.od / 2) if meant.moved is None else meant.moved
        at = _standing(meant.point, rest, meant.od, far=far)
        # so small a slip cannot be told from none
        if at is not None and moved @ information @ moved >= ALIKE**2:
            tried.append((meant, at, moved))
    variants = Counter(meant.code for meant, _, _ in tried)
    doubt = math.sqrt(float(np.trace(stands.spread)) / len(stands.spread))
    ranking = rank(
        np.array([at.unlikely for _, at, _ in tried]),
        len(stands.off),
        distances(np.array([moved for _, _, moved in tried]).reshape(-1, 3), information),
        np.array(
            [
                # in any direction square to the tube: as many as can be told apart
                max(math.sqrt(2 * math.pi) * meant.od / 2 / doubt, 1.0)
                if meant.point.what == "outside" != point.what
                else variants[meant.code]
                for meant, _, _ in tried
            ]
        ),
    )
    return Misread(
        tuple(dict.fromkeys(tried[i][0].words for i in ranking.best)),
        max((tried[i][1].misfit for i in ranking.best), default=0.0),
        None if ranking.following is None else tried[ranking.following][0].words,
        ranking.odds,
    )


@record(eq=False)
class _Standing:
    """How a point that had no part in a fit stands to it.

    Attributes:
        off: (k,) mm, its misses.
        directions: (k, 3) unit vectors of them in space.
        spread: (k, k) mm^2, their covariance, the tube's own doubt included.
        own: (k, k) mm^2, the part of it that is the point's own.
    """

    off: FloatArray
    directions: FloatArray
    spread: FloatArray
    own: FloatArray

    @property
    def unlikely(self) -> float:
        """Sum of squares of the misses over their doubts."""
        return float(self.off @ np.linalg.solve(self.spread, self.off))

    @property
    def misfit(self) -> float:
        """mm by which it would still miss, once it takes part in the fit."""
        return float(np.linalg.norm(self.own @ np.linalg.solve(self.spread, self.off)))


def _standing(point: Point, rest: Fit, od: float, *, far: bool) -> _Standing | None:
    """How a point stands to a fit; None where nothing fixes the tube there."""
    found = _held_to(_group(point, rest, od, far=far), point, rest)
    if found is None and point.what == "end":
        # without it nothing says where the tube stops, but the straight prolonged is known
        return _held_to(_group(replace(point, what="centre"), rest, od, far=far), point, rest)
    return found


def _held_to(group: PointGroup, point: Point, rest: Fit) -> _Standing | None:
    chain, doubt = rest.chain, rest.doubt
    rows = group.rows(chain, chain.motion(rest.evidence.reference), None)
    directions, jacobian = rows.directions[0], rows.jacobian[0]
    scaled = jacobian * doubt.scale
    if len(doubt.flat) and np.linalg.norm(scaled @ doubt.flat.T) > IN_PART * np.linalg.norm(scaled):
        return None
    own = directions @ point.cov @ directions.T
    return _Standing(rows.residuals[0], directions, own + jacobian @ doubt.covariance @ jacobian.T, own)


def _group(point: Point, rest: Fit, od: float, *, far: bool) -> PointGroup:
    bends = rest.chain.bends
    if point.what == "end":
        return EndPoints([point], [0], far)
    if point.what == "corner":
        return CornerPoints([point], [0], [point.bend or 1])
    if point.what == "outside":
        return OutsidePoints([point], [0], bends, od)
    return CentrePoints([point], [0], bends) if point.side is None else SidePoints([point], [0], bends, od)


def _on_its_bend(point: Point, rest: Fit) -> Point:
    """A corner with the bend whose corner is nearest, where none was told; what was told too large for it is not a
    corner of this tube."""
    if point.what != "corner":
        return point
    corners = rest.chain.corners()[1:-1]
    usable = np.isfinite(corners).all(axis=1)
    if not usable.any():
        return replace(point, what="centre", bend=None)
    apart = np.where(usable, np.linalg.norm(corners - point.at, axis=1), np.inf)
    return replace(point, bend=point.bend or int(np.argmin(apart)) + 1)


def _inward(point: Point, rest: Fit, size: float) -> FloatArray:
    """(3,) ``size`` mm from a point toward the tube's axis."""
    off = CentrePoints([point], [0], rest.chain.bends).feet(rest.chain).off[0]
    inward: FloatArray = -size * off / max(float(np.linalg.norm(off)), 1e-9)
    return inward


def _elsewhere(point: Point, od: float) -> Iterator[_Meant]:
    """The wrong side of the tube touched, or its outside for its centre, or the other way round."""
    axis = replace(point, what="centre", side=None)
    if point.side is not None:
        side, other = (_side_name(way * point.side) for way in (1.0, -1.0))
        turned = replace(point, side=-point.side)
        yield _Meant("other-side", f"the {other} of the tube touched, not the {side}", turned, od, od * point.side)
        yield _Meant("outside", "the centre, not the outside (half the OD)", axis, od, od / 2 * point.side)
    elif point.what == "outside":
        yield _Meant("outside", "the centre, not the outside (half the OD)", axis, od, None)
    elif point.what in ("centre", "end"):
        outside = replace(point, what="outside")
        yield _Meant("outside", "the outside of the tube, not the centre (half the OD)", outside, od, None)
        yield _Meant("outside", "a place past the tube (a whole OD)", outside, 2 * od, None)


def _side_name(side: FloatArray) -> str:
    return next((word for word, at in SIDES.items() if np.allclose(at, side)), "other side")


def _in_figures(point: Point, typed_in: Units, shown_in: Units, od: float) -> Iterator[_Meant]:
    """One coordinate misread, two of them swapped, or all in the other unit."""
    for k, axis in enumerate(_AXES):
        figure = Figure(float(point.at[k]), axis, _OPPOSITE[k])
        for slip in slips(figure, typed_in):
            at = point.at.copy()
            at[k] = slip.mm
            # forward and up are not said by the figure itself
            text = slip.text if typed_in == shown_in or slip.code == "unit" else f"{slip.text} {typed_in}"
            text = text if axis == "left" else f"{text} {axis}"
            yield _moved(slip.code, f"{text} {slip.words}", point, at, od)
    for one, other in combinations(range(3), 2):
        at = point.at.copy()
        at[[one, other]] = at[[other, one]]
        yield _moved("coordinates-swapped", f"{_AXES[one]} and {_AXES[other]} swapped", point, at, od)
    factor, text = (1 / MM_PER_INCH, "mm typed as inches") if typed_in == "in" else (MM_PER_INCH, "inches typed as mm")
    yield _moved("unit", f"all three figures in {text}", point, point.at * factor, od)


def _moved(code: str, words: str, point: Point, at: FloatArray, od: float) -> _Meant:
    return _Meant(code, words, replace(point, at=at), od, at - point.at)
