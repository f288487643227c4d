"""Legs that are to be parallel to those of a tube found before: the later tube is held to the direction found."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from plumbend.frames import unit
from plumbend.job.model import ParallelToTube, WantedTube
from plumbend.job.results import TubeResult
from plumbend.notices import Notice
from plumbend.shape.demands import LegAlong


def held_beside(tube: WantedTube, found: Mapping[str, TubeResult]) -> WantedTube | Notice:
    """The tube with its demands beside other tubes made demands of its own, or the refusal of one.

    Args:
        tube: as wanted.
        found: the tubes before it, by name.
    """
    demands = list(tube.demands)
    for beside in tube.beside:
        other = found[beside.tube]
        if other.tangents is None or not other.solved:
            return _not_found(beside)
        if not 1 <= beside.other <= len(other.tangents):
            return _no_leg(beside, len(other.tangents))
        start, stop = other.tangents[beside.other - 1]
        words = f"parallel to leg {beside.other} of {beside.tube}"
        demands.append(LegAlong(beside.leg, unit(stop - start), words, beside.sd))
    return replace(tube, demands=tuple(demands), beside=())


def _not_found(beside: ParallelToTube) -> Notice:
    return Notice(
        "other-tube-not-found",
        "refusal",
        f"Leg {beside.leg} is to be parallel to leg {beside.other} of {beside.tube}, which was not found. Ways out: "
        f"mend {beside.tube} first, or take the demand out.",
    )


def _no_leg(beside: ParallelToTube, legs: int) -> Notice:
    counted = "1 leg" if legs == 1 else f"legs 1 to {legs}"
    return Notice(
        "other-tube-no-leg",
        "refusal",
        f"Leg {beside.leg} is to be parallel to leg {beside.other} of {beside.tube}, which has {counted}. Ways out: "
        "correct the leg, or take the demand out.",
    )
