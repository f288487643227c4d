"""What the shop needs to make one end: settings against each neighbour, where the cut's places lie, how it will fit."""

from __future__ import annotations

from plumbend.ends.cuts import EndCut
from plumbend.ends.fit_up import FitUp, fit_up, saw_depth, straight_pass
from plumbend.ends.joints import joint
from plumbend.ends.named_places import NamedPlace, named_places
from plumbend.ends.neighbours import Leg, Neighbour
from plumbend.ends.notching import NotcherCheck, When, check_notcher, when_to_cut
from plumbend.ends.outline import turning_places
from plumbend.ends.setting_up import Clocking, Reach, clocking, reach
from plumbend.errors import Refused
from plumbend.records import record
from plumbend.shop import Notcher


@record
class Settings:
    """How the cut on one neighbour is set.

    Attributes:
        name: of the neighbour; of a straight saw cut, which.
        angle: joint angle, radians; square on is 90 degrees.
        off_square: the same on the scale on which square on is 0.
        offset: mm by which the axes pass each other.
        offset_side: on which side of the tube the neighbour's axis passes; None without an offset.
        tight_side: round of the side in the tight angle of the joint, which comes out short; None where neither is.
        from_bend: the same side from the inside of the nearest bend; None without a bend.
        from_line: the same side from the reference line; None where that is not known.
        saw: hole-saw size, mm: the OD of the tube that is met; None for a plate or a straight cut.
        depth: mm that the saw's cup must be deep to cut in one pass; None likewise.
        notcher: whether the shop's notcher can make it; None for a plate or a straight cut.
    """

    name: str
    angle: float
    off_square: float
    offset: float
    offset_side: float | None
    tight_side: float | None
    from_bend: Clocking | None
    from_line: Clocking | None
    saw: float | None
    depth: float | None
    notcher: NotcherCheck | None


@record
class CutPlace:
    """One place of the cut on the tube's outside.

    Attributes:
        names: as of :class:`~plumbend.ends.named_places.NamedPlace`.
        at: how far it lies along the tube.
        round: round of it, radians.
        from_bend, from_line: from the inside of the nearest bend and from the reference line; None where not known.
    """

    names: tuple[str, ...]
    at: Reach
    round: float
    from_bend: Clocking | None
    from_line: Clocking | None


@record(eq=False)
class EndReport:
    """One end as it is to be cut.

    Attributes:
        cut: what it tells of.
        line: round on which the reference line lies on this leg, radians; None where it is not known.
        settings: against each neighbour.
        places: tips, throats, long and short point, the farthest first; empty for a square cut.
        meets: whether it meets something, or is only sawn.
        saw_gap: mm that one straight pass of a hole saw leaves open on a bent tube, infinite where it does not take the
            whole end; None on anything else.
        when: whether it is cut before or after bending; None where the shop does not say enough, and without a bend.
    """

    cut: EndCut
    line: float | None
    settings: tuple[Settings, ...]
    places: tuple[CutPlace, ...]
    meets: bool
    saw_gap: float | None
    when: When | None


def end_report(cut: EndCut, *, meets: bool, line: float | None, notcher: Notcher, grip: float | None) -> EndReport:
    """What the shop needs to make an end.

    Args:
        cut: the end.
        meets: whether it meets something, or is only sawn.
        line: round of the reference line on the leg, radians, where known.
        notcher: the shop's.
        grip: mm of straight tube that the bender must hold on this side of the nearest bend, where known.

    Raises:
        Refused: the cut cannot be made.
    """
    leg = cut.leg
    settings = tuple(_settings(leg, neighbour, line, notcher) for neighbour in cut.neighbours)
    turning = turning_places(leg, cut.neighbours, cut.fitted)
    named = named_places(turning, on_tube=any(one.saw is not None for one in settings))
    # of two as far out, as the tips of equal tubes are, rounding must not say which comes first
    farthest_first = sorted(named, key=lambda place: (-round(place.at, 6), place.round))
    places = tuple(_place(cut, place, line) for place in farthest_first)
    saw_gap = None
    if meets and len(cut.neighbours) == 1 and len(cut.neighbours[0].pieces) > 1:
        saw_gap = straight_pass(leg, cut.neighbours)
    when = None
    if leg.bend_angle is not None:
        shortest = min(place.at for place in turning) if turning else joint(leg, cut.neighbours[0]).node
        clamp = notcher.clamp if any(one.saw is not None for one in settings) else 0.0  # a saw holds the tube anywhere
        when = when_to_cut(shortest, grip, clamp)
    return EndReport(cut, line, settings, places, meets, saw_gap, when)


def gaps_of(report: EndReport) -> FitUp | None:
    """How well an end will fit; None where it meets nothing, or by a hair. It takes longer than all the rest, so only
    who shows it asks for it."""
    cut = report.cut
    try:
        return fit_up(cut.leg, cut.neighbours, cut.edges) if report.meets else None
    except Refused:
        return None


def _settings(leg: Leg, neighbour: Neighbour, line: float | None, notcher: Notcher) -> Settings:
    met = joint(leg, neighbour)
    depth = None if neighbour.od is None else saw_depth(leg, neighbour.od, met)
    return Settings(
        neighbour.name,
        met.angle,
        met.off_square,
        met.offset,
        met.offset_side,
        met.clocking,
        _from_bend(leg, met.clocking),
        _from_line(leg, met.clocking, line),
        neighbour.od,
        depth,
        None if depth is None else check_notcher(notcher, met.off_square, depth),
    )


def _place(cut: EndCut, place: NamedPlace, line: float | None) -> CutPlace:
    return CutPlace(
        place.names,
        reach(cut.leg, place.at, cut.other),
        place.round,
        _from_bend(cut.leg, place.round),
        _from_line(cut.leg, place.round, line),
    )


def _from_bend(leg: Leg, round_: float | None) -> Clocking | None:
    return None if round_ is None or leg.bend_angle is None else clocking(leg, round_)


def _from_line(leg: Leg, round_: float | None, line: float | None) -> Clocking | None:
    return None if round_ is None or line is None else clocking(leg, round_, line)
