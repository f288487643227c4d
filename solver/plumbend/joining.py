"""Tubes whose ends are on other tubes, neighbours and plates, carried on to what they meet.

An end that is on something stops where its centreline comes nearest to that of what it meets, or at the plate. The end
straight is carried on or cut back to there, and the leg lies where it lay: nothing else of the tube changes.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from plumbend.ends.joints import Joint, joint
from plumbend.ends.neighbours import Leg, end_leg
from plumbend.errors import Refused
from plumbend.estimate.doubt import IN_PART, Doubt
from plumbend.frames import FloatArray, cross, unit
from plumbend.job.meetings import Meeting
from plumbend.job.model import WantedTube
from plumbend.making.buildable import Bench
from plumbend.notices import END_NOT_CUT, Notice, listed
from plumbend.records import record
from plumbend.shape.chain import Chain, layout
from plumbend.shape.fit import Fit
from plumbend.units import Units, stated_gap

if TYPE_CHECKING:  # only who asks why pays for it
    from plumbend.job.why_report import WhyReport

_PLENTY = 0.1  # mm; a difference that no tape shows is not told


@record(eq=False)
class Joined:
    """A fitted tube whose ends run to what they meet.

    Attributes:
        fit: the tube, its certainty that of the carried ends.
        off: by the name of an end that was measured as well: mm by which the tube runs on beyond there.
        aside: by the name of an end on a tube: mm by which the two centrelines pass each other, and within how much
            that is known 19 times of 20. Less than that cannot be told from none.
        notices: what is to be said of it, refusals among them; the ends that these speak of are not carried.
        carried: the straights at ends that were, from 0.
    """

    fit: Fit
    off: dict[str, float]
    aside: dict[str, tuple[float, float]]
    notices: list[Notice]
    carried: list[int]

    def among(self, remarks: Sequence[Notice]) -> list[Notice]:
        """These notices among the remarks on the fit before, without those that the carried ends have settled."""
        fit = self.fit
        loose = fit.doubt.loose[layout(fit.chain.bends).straights]
        settled = {f"not-fixed-straight-{k + 1}" for k in (0, fit.chain.bends) if not loose[k]}
        points = fit.evidence.points
        beyond = {points[index].name for index, _, _ in fit.evidence.beyond_ends(fit.chain)}
        settled |= {f"beyond-end-{point.name}" for point in points if point.name not in beyond}
        return [*self.notices, *(notice for notice in remarks if notice.code not in settled)]

    def told_in(self, why: WhyReport) -> WhyReport:
        """What drives the numbers, for the carried tube: how long an end straight is drawn from what it meets as well,
        which is none of the tube's own measurements, so no shares of it are told."""
        from plumbend.shape.landing import reach_of  # likewise

        drivers = why.drivers
        if drivers is not None:
            straights = drivers.straights.copy()
            straights[list(self.carried)] = np.nan
            drivers = replace(
                drivers, straights=straights, developed_length=np.full_like(drivers.developed_length, np.nan)
            )
        return replace(why, reach=reach_of(self.fit.chain), drivers=drivers)


def joined_ends(fit: Fit, tube: WantedTube, bench: Bench) -> Joined:
    """Carry the ends of a fitted tube on, or cut them back, to what they meet."""
    off: dict[str, float] = {}
    aside: dict[str, tuple[float, float]] = {}
    notices: list[Notice] = []
    straights: list[int] = []
    for meeting in tube.meetings:
        if not meeting.on:
            continue
        try:
            node = node_of(fit.chain, meeting, bench)
        except Refused as fault:
            notices.append(never_cut(meeting.end, meeting.on, fault, bench.units))
            continue
        by = node.node - float(fit.chain.straights[-1 if meeting.far else 0])
        carried, doubt, passing = _carried_fit(fit, meeting, node)
        if node.on_tube:
            aside[meeting.end] = node.offset, 2 * passing
        measured = not fit.doubt.loose[_own(fit, meeting)]
        if measured:
            off[meeting.end] = by
            if abs(by) > max(2 * doubt, _PLENTY):
                notices.append(_measured_elsewhere(meeting, by, 2 * doubt, bench))
        fit = carried
        straights.append(fit.chain.bends if meeting.far else 0)
    return Joined(fit, off, aside, notices, straights)


def leg_of(chain: Chain, meeting: Meeting, bench: Bench) -> Leg:
    """The leg at the end that ``meeting`` speaks of."""
    assert bench.tubing.wall is not None  # a job with such ends is not read without
    return end_leg(chain, bench.tubing.od, bench.tubing.wall, far=meeting.far)


def node_of(chain: Chain, meeting: Meeting, bench: Bench) -> Joint:
    """How an end stands to the first of what it is on.

    Raises:
        Refused: it never meets it, or at too small an angle.
    """
    leg = leg_of(chain, meeting, bench)
    neighbour = meeting.against[0].to(leg)
    met = joint(leg, neighbour)
    clear = met.offset - (leg.od + (neighbour.od or 0.0)) / 2
    if clear > 0:
        raise Refused(f'The tube runs past "{neighbour.name}", ', clear, " clear of it. Check the places")
    return met


def with_end_straight(chain: Chain, length: float, *, far: bool) -> Chain:
    """The chain with the straight at one end of another length (mm), the rest where it lies."""
    straights = chain.straights.copy()
    if far:
        straights[-1] = length
        return replace(chain, straights=straights)
    origin = chain.origin + (float(straights[0]) - length) * chain.frame[:, 0]
    straights[0] = length
    return replace(chain, origin=origin, straights=straights)


def _own(fit: Fit, meeting: Meeting) -> int:
    """Where the number of the end straight stands among the parameters."""
    first: int = layout(fit.chain.bends).straights.start
    return first + fit.chain.bends if meeting.far else first


def _carried_fit(fit: Fit, meeting: Meeting, node: Joint) -> tuple[Fit, float, float]:
    """The fit with the end carried, and standard deviations (mm) of by how much it was carried, and of how far the two
    centrelines pass each other."""
    chain, own = with_end_straight(fit.chain, node.node, far=meeting.far), _own(fit, meeting)
    place = chain.far_end if meeting.far else chain.origin
    along = chain.frames[-1 if meeting.far else 0, :, 0]
    motion = chain.motion(fit.evidence.reference)
    before = motion.layout.before[-1 if meeting.far else 0]
    moved = -motion.rows(np.eye(3)[None], place[None])[0] * before
    # moved across by a hair, the two axes come nearest so much further along; so they do when turned, if they pass
    if node.on_tube:
        across = along - (along @ node.direction) * node.direction
        square = float(across @ across)
        across = across / square
        turned = cross(along, node.place - place) @ (motion.twists[3:] * before) / square
    else:
        across = node.direction / float(node.direction @ along)
        turned = np.zeros(before.size)
    row = turned - across @ moved
    size = row.size
    change = np.eye(size)
    further = np.zeros(size)
    if meeting.far:
        change[own] = row
        further[own] = 1.0
    else:
        # the start end goes along its leg, which the pose says, and the straight grows or shrinks with it
        change[:3] += np.outer(along, row)
        change[own] -= row
        further[:3], further[own] = along, -1.0
    sd = meeting.against[0].sd_near(node.place) / fit.widening
    stands = float(np.sum((across * sd) ** 2))
    covariance = change @ fit.doubt.covariance @ change.T + stands * np.outer(further, further)
    difference = change[own] - np.eye(size)[own]
    variance = float(difference @ fit.doubt.covariance @ difference) + stands
    normal = unit(cross(along, node.direction)) if node.on_tube else np.zeros(3)
    passing = float(normal @ moved @ fit.doubt.covariance @ moved.T @ normal) + float(np.sum((normal * sd) ** 2))
    held = fit.minimum.held.copy()
    held[own] = False
    minimum = replace(fit.minimum, at_lower=fit.minimum.at_lower & held, at_upper=fit.minimum.at_upper & held)
    doubt = _carried_doubt(fit.doubt, change, covariance, own)
    carried = replace(fit, chain=chain, doubt=doubt, minimum=minimum)
    by, aside = (fit.widening * math.sqrt(max(square, 0.0)) for square in (variance, passing))
    return carried, by, aside


def _carried_doubt(doubt: Doubt, change: FloatArray, covariance: FloatArray, own: int) -> Doubt:
    """What nothing fixes goes along with the change of parameters; the end straight is fixed by what it meets."""
    flat = (doubt.flat * doubt.scale) @ change.T / doubt.scale
    if len(flat):
        _, sizes, ways = np.linalg.svd(flat, full_matrices=False)
        flat = ways[sizes > IN_PART]
    loose = np.linalg.norm(flat, axis=0) > IN_PART
    told = doubt.told.copy()
    told[own] = False
    return Doubt(covariance, loose, flat, doubt.scale, told, doubt.rank)


def never_cut(end: str, on: Sequence[str], fault: Refused, units: Units) -> Notice:
    """The refusal of an ``end`` that cannot be cut to what it is ``on``, its lengths in ``units``."""
    why = fault.told(lambda mm: stated_gap(mm, units))
    to = f" to meet {listed(list(on))}" if on else ""
    return Notice(f"{END_NOT_CUT}{end}", "refusal", f"The {end} end cannot be cut{to}. {why}.")


def _measured_elsewhere(meeting: Meeting, by: float, within: float, bench: Bench) -> Notice:
    what = meeting.on[0]
    short = f"{bench.whole(abs(by))} {'short of' if by > 0 else 'beyond'} where it meets {what}"
    return Notice(
        f"end-off-{meeting.end}",
        "caution",
        f"The {meeting.end} end was measured {short}, and the two are good to {bench.whole(within)}. The tube runs to "
        f"{what}. Check {meeting.end}, and where {what} lies.",
    )
