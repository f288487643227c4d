"""The ends of a tube as they are to be cut, for the tube as it will be made.

What he sets comes in steps of tape and dial, so the tube that is made lies a little off the one fitted; the cut is that
of the tube in his hands, laid where it lies best, or it would gape by as much as the numbers were rounded. Where the
centrelines pass each other by no more than what was measured can tell from none, or by next to nothing, they are taken
to cross: the cope centres itself, and the tube is pulled over by that little as it is tacked.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from plumbend.ends.cuts import EndCut
from plumbend.ends.joints import joint
from plumbend.ends.neighbours import Leg, Neighbour, mitre
from plumbend.ends.outline import outline, turning_places
from plumbend.errors import Refused
from plumbend.frames import FloatArray, angle_between
from plumbend.job.meetings import Meeting
from plumbend.job.model import WantedTube
from plumbend.job.results import EndMet, TubeResult
from plumbend.joining import Joined, leg_of, never_cut, node_of, with_end_straight
from plumbend.making.buildable import Bench
from plumbend.making.legible import Legible
from plumbend.making.setting import Setting, setting_for
from plumbend.notices import Notice
from plumbend.shape.chain import Chain
from plumbend.shape.remarks import LEAST_TO_SIDE

PULLED_OVER = 3.0
"""mm by which centrelines may pass each other, however well that is known, without its being meant (common practice, no
source): an eighth of an inch is pulled over, and offsets that give room to weld are several times as much."""

_ROUNDS = np.linspace(0.0, 2 * math.pi, 360, endpoint=False)
_ON_IT = 1e-6  # mm


def with_cut_ends(result: TubeResult, tube: WantedTube, joined: Joined, bench: Bench) -> TubeResult:
    """The result with the cuts of its ends, or the refusal of one.

    Args:
        result: of a tube that can be bent, with its numbers to set and as it will be made, ends not carried yet.
        tube: as wanted, with all that its ends are on in its place.
        joined: the fitted tube carried on.
        bench: what it is made from and on.
    """
    made = result.made
    assert made is not None
    refusals, nodes = list[Notice](), dict[str, FloatArray]()
    for meeting in tube.meetings:
        if meeting.on:
            try:
                node = node_of(made, meeting, bench)
            except Refused as fault:
                refusals.append(never_cut(meeting.end, meeting.on, fault, bench.units))
                continue
            made, nodes[meeting.end] = with_end_straight(made, node.node, far=meeting.far), node.place
    if refusals:
        return refused(result, refusals)
    cuts, met, said = list[EndCut](), list[EndMet](), list[Notice]()
    for meeting in tube.meetings:
        passes, within = joined.aside.get(meeting.end, (0.0, 0.0))
        centred = passes <= max(within, PULLED_OVER)
        try:
            cut = _cut(made, tube, meeting, bench, nodes.get(meeting.end) if centred else None)
            longest = longest_point(cut)
            for neighbour in cut.neighbours:
                joint(cut.leg, neighbour)  # each of them must be one that can be cut to
        except Refused as fault:
            return refused(result, [never_cut(meeting.end, meeting.on, fault, bench.units)])
        at = float(made.straights[-1 if meeting.far else 0])
        met.append(
            EndMet(
                end=meeting.end,
                far=meeting.far,
                on=meeting.on,
                off_square=None if meeting.on else meeting.off_square,
                allowance=meeting.allowance,
                place=joined.fit.chain.far_end if meeting.far else joined.fit.chain.origin,
                off=joined.off.get(meeting.end),
                longest=longest - at,
                at=at,
                aside=passes if meeting.end in joined.aside else None,
                centred=centred,
            )
        )
        if not centred:
            said.append(_passing(meeting, passes, within, bench))
        touched = {neighbour.name for neighbour in cut.neighbours}
        said += [_untouched(meeting.end, name) for name in meeting.on if name not in touched]
        cuts.append(cut)
    setting = setting_for(bench.die, bench.bender, bench.units, made.bends, bench.habit if result.is_fixed else None)
    if not made.bends:
        cuts = [replace(cut, other=next((end.longest for end in met if end.far != cut.far), 0.0)) for cut in cuts]
    return replace(
        result,
        legible=None if result.legible is None else _set_to(result.legible, made, tube, setting),
        made=made,
        met=tuple(met),
        cuts=tuple(cuts),
        notices=(*result.notices, *said),
    )


def refused(result: TubeResult, refusals: Sequence[Notice]) -> TubeResult:
    """The result of a tube one of whose ends turns out never to be cut: nothing of it can be made."""
    notices = (*refusals, *result.notices)
    unmade = replace(result, solved=False, notices=notices, legible=None, made=None, making=None, checks=None)
    return replace(unmade, met=(), cuts=())


def beyond_ends(result: TubeResult, chain: Chain) -> tuple[tuple[float, float], tuple[float, float]]:
    """By how much (mm) the tube as made runs on beyond a ``chain`` of whole steps at the start end and the far end,
    and how far the longest points of its cuts, with what is left on to be worked down, lie beyond that chain."""
    made, longest = [0.0, 0.0], [0.0, 0.0]
    for met in result.met:
        if chain.bends or not made[0]:  # both ends of a straight tube have its one straight
            made[met.far] = met.at - float(chain.straights[-1 if met.far else 0])
        longest[met.far] = made[met.far] + met.longest + met.allowance
    return (made[0], made[1]), (longest[0], longest[1])


def longest_point(cut: EndCut) -> float:
    """How far the longest point of a cut, which lies on the outside, is from the nearest tangent, mm.

    Raises:
        Refused: the cut cannot be made.
    """
    turning = turning_places(cut.leg, cut.neighbours, cut.fitted)
    if turning:
        return max(place.at for place in turning)
    (square,) = outline(cut.leg, cut.neighbours, np.zeros(1), cut.fitted).tolist()
    return float(square)


def _touched(leg: Leg, neighbours: tuple[Neighbour, ...]) -> tuple[Neighbour, ...]:
    """Those of several neighbours that either edge of the cut end lies against.

    Raises:
        Refused: the cut cannot be made.
    """
    if len(neighbours) < 2:
        return neighbours
    places = np.concatenate(
        [
            leg.start + radius * leg.sides(_ROUNDS) + outline(leg, neighbours, _ROUNDS, radius)[:, None] * leg.along
            for radius in (leg.outer, leg.inner)
        ]
    )
    return tuple(
        one for one in neighbours if any(np.abs(piece.distance(places)).min() < _ON_IT for piece in one.pieces)
    )


def _cut(made: Chain, tube: WantedTube, meeting: Meeting, bench: Bench, through: FloatArray | None) -> EndCut:
    """The cut of an end, its leg pulled over so that it runs ``through`` a place (3,) where there is one."""
    leg = leg_of(made, meeting, bench)
    if through is not None:
        away = through - leg.start
        leg = replace(leg, start=through - (away @ leg.along) * leg.along)
    if meeting.on:
        neighbours = _touched(leg, tuple(against.to(leg) for against in meeting.against))
    else:
        length = float(made.straights[-1 if meeting.far else 0])
        neighbours = (mitre(leg, length, meeting.off_square, _short_side(leg, meeting)),)
    return EndCut(tube.name, meeting.end, leg, neighbours, meeting.edges, meeting.allowance, meeting.far)


def _short_side(leg: Leg, meeting: Meeting) -> float:
    """The round of a mitre's short side."""
    if meeting.short_side is None:
        return 0.0
    off = min(angle_between(meeting.short_side, leg.along), angle_between(meeting.short_side, -leg.along))
    if off < LEAST_TO_SIDE:
        raise Refused(
            f"The short side of its mitre lies {math.degrees(off):.0f} degrees from the tube's own direction there: "
            "that is no side of it. Name one that lies square to the tube"
        )
    return leg.round_of(meeting.short_side)


def _set_to(legible: Legible, made: Chain, tube: WantedTube, setting: Setting) -> Legible:
    """The numbers to set with the ends carried, by whole steps of the tape; marks are as ``setting`` has them."""
    step, straights = legible.steps.length, legible.program.straights.copy()
    for meeting in tube.meetings:
        if meeting.on:
            end = -1 if meeting.far else 0
            straights[end] += step * round(float(made.straights[end] - straights[end]) / step)
    carried = replace(
        legible, program=replace(legible.program, straights=straights), corners=made.corners(), chain=made
    )
    if legible.marks is None:
        return carried
    numbers = np.round(setting.set_for(np.concatenate([straights, made.rotations[1:], made.angles])))
    *marks, far_end = setting.in_units(numbers)[setting.straights].tolist()
    return replace(carried, marks=np.array(marks), far_end=far_end)


def _passing(meeting: Meeting, by: float, within: float, bench: Bench) -> Notice:
    return Notice(
        f"end-aside-{meeting.end}",
        "caution",
        f"At the {meeting.end} end the centreline passes that of {meeting.on[0]} by {bench.whole(by)}, known within "
        f"{bench.whole(within)}: the cut is made for that. If it is not meant, check the places beside it.",
    )


def _untouched(end: str, name: str) -> Notice:
    return Notice(
        f"end-not-touching-{end}-{name}",
        "caution",
        f"The {end} end is said to be on {name} as well, but its cut does not touch it. Check where {name} lies, or "
        "take it out.",
    )
