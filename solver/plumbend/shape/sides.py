"""On which side a tube passes places on the body, and whether another side would do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.frames import FloatArray
from plumbend.notices import Notice, listed
from plumbend.shape.fit import Fit, FormingLimits, fit_free, fit_kept
from plumbend.shape.held import HeldEvidence, as_measured, drawn_over, passed_on, wrong_sides

_WORDS = (("front", "behind"), ("left", "right"), ("above", "below"))


def side_word(toward: FloatArray) -> str:
    """The word of ``tube_is`` that comes nearest to a direction (3,) from a place to the tube."""
    axis = int(np.argmax(np.abs(toward)))
    return _WORDS[axis][int(toward[axis] < 0)]


def remarks_on_sides(fit: Fit, limits: FormingLimits) -> list[Notice]:
    """Refusals of a side that is not kept or not told where more than one would do; notes on a better one."""
    wrong = wrong_sides(fit.chain, fit.evidence)
    if wrong:
        return [_not_kept(fit, i) for i in wrong]
    return [*_open_sides(fit, limits), *_better_sides(fit, limits)]


def _not_kept(fit: Fit, index: int) -> Notice:
    point = fit.evidence.points[index]
    told = point.standoff.tube_is
    assert told is not None
    passes = side_word(passed_on(fit.chain, fit.evidence, [index])[0])
    return Notice(
        f"wrong-side-{point.name}",
        "refusal",
        f"The tube is told to lie on the side of {point.name} that is {side_word(told)} it, and all else that was "
        f"measured has it on the other, {passes}. Ways out: check tube_is at {point.name} and its place, or measure "
        "the places beside it again.",
    )


def _open_sides(fit: Fit, limits: FormingLimits) -> Iterator[Notice]:
    """Refusals of places to touch that the tube may as well touch from the other side."""
    points = fit.evidence.points
    untold = [i for i, point in enumerate(points) if point.what == "touch" and point.standoff.tube_is is None]
    asked: list[int] = []
    for together in [[i] for i in untold] + ([untold] if len(untold) > 1 else []):
        if set(together) & set(asked):
            continue
        other = _on_other_side(fit, together, limits)
        if other is not None and not beyond_chance(other.chi2 - fit.chi2, 1):
            asked += together
            toward = passed_on(fit.chain, fit.evidence, together)
            names = listed([points[i].name for i in together])
            one, back = side_word(toward[0]), side_word(-toward[0])
            yield Notice(
                f"which-side-{points[together[0]].name}",
                "refusal",
                f"The tube may touch {names} from {_from(one)} or from {_from(back)}: all else that was measured fits "
                f'both. Ways out: say on which side it lies there, such as tube_is = "{one}", or measure another '
                "place beside it.",
            )


def _from(word: str) -> str:
    return f"the {word}" if word in ("front", "left", "right") else word


def _better_sides(fit: Fit, limits: FormingLimits) -> Iterator[Notice]:
    """Notes on places kept clear of that push the tube, and would push it less on their other side."""
    for i in pushing(fit):
        point = fit.evidence.points[i]
        if point.what != "clear" or point.standoff.tube_is is not None:
            continue
        other = _on_other_side(fit, [i], limits)
        if other is not None and beyond_chance(fit.chi2 - other.chi2, 1):
            toward = passed_on(fit.chain, fit.evidence, [i])[0]
            here, there = side_word(toward), side_word(-toward)
            yield Notice(
                f"other-side-{point.name}",
                "caution",
                f"The tube passes {point.name} on the side that is {here} it, as it would if nothing were in its way. "
                f'On the other side, {there}, it would keep nearer to what was measured: say tube_is = "{there}" at '
                f"{point.name} if it may pass there.",
            )


def pushing(fit: Fit) -> list[int]:
    """Points whose limit holds the tube where it would not lie of itself, each once."""
    if fit.held is None or fit.evidence.limiting is None:
        return []
    # what is met exactly always holds the tube, and that goes without saying
    pushed = (fit.held.multipliers > 0) & ~fit.held.demanded.equal
    owners = HeldEvidence(fit.evidence).owners()
    return sorted({point for point, on in zip(owners, pushed, strict=True) if on and point is not None})


def _on_other_side(fit: Fit, members: Sequence[int], limits: FormingLimits) -> Fit | None:
    """The fit that passes some points on the other side, all demands kept; None where there is none."""
    away = -passed_on(fit.chain, fit.evidence, members)
    start = fit_free(fit.chain, drawn_over(as_measured(fit.evidence), members, away), limits, planar=fit.planar)
    keep = fit_kept if fit.evidence.is_held else fit_free
    other = keep(start.chain, fit.evidence, limits, planar=fit.planar)
    there = passed_on(other.chain, fit.evidence, members)
    on_it = bool((np.einsum("mi,mi->m", there, away) > 0).all())
    return other if on_it and other.demands_met and other.converged else None
