"""Points of tubes put where the readings say."""

from __future__ import annotations

from plumbend.job.model import WantedTube
from plumbend.notices import Notice, listed
from plumbend.survey.adjusting import Survey


def placed(tube: WantedTube, found: Survey) -> tuple[WantedTube, list[Notice]]:
    """A tube with the points that readings place, or why these cannot be placed."""
    names = [point.name for point in tube.placed]
    if not names:
        return tube, []
    adjusted = found.screened.adjusted
    where = {place.name: i for i, place in enumerate(adjusted.places)}
    loose = [name for name in names if adjusted.loose[where[name]].any()]
    if loose:
        return tube, [_not_placed(loose)]
    open_sides = [mirror for mirror in adjusted.mirrors if not mirror.at.keys().isdisjoint(names)]
    if open_sides:
        return tube, [_mirrored(mirror.asked, [name for name in names if name in mirror.at]) for mirror in open_sides]
    at, covariance = adjusted.joint(names)
    return tube.with_places(at, covariance * found.screened.scale**2), []


def _not_placed(names: list[str]) -> Notice:
    which = f"{listed(names)} {'are' if len(names) > 1 else 'is'}"
    return Notice(
        "not-placed",
        "refusal",
        f"The readings do not fix where {which}. Ways out: take the reading that is asked for above, or type where it "
        "is with at.",
    )


def _mirrored(asked: str, names: list[str]) -> Notice:
    return Notice(
        "mirror-answer",
        "refusal",
        f"The readings put {', '.join(names)} in either of two places. Ways out: say by a hint at {asked} which is "
        'meant, such as hint = "above", or take one reading more of it.',
    )
