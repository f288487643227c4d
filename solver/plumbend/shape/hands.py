"""Which way a tube's bends turn, where it is given by readings of itself alone and so by no place."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.notices import Notice
from plumbend.shape.chain import layout
from plumbend.shape.fit import Fit, FormingLimits, fit_from
from plumbend.shape.tube_readings import BendRotation


def mirrored_twin(fit: Fit) -> list[Notice]:
    """Refusal of readings that a tube and its mirror image fit alike.

    Without points or a scan nothing but a signed turn tells the two apart, and a tube in one plane has no other hand.
    """
    rotations = fit.chain.rotations[1:]
    if _has_places(fit) or fit.planar or not rotations.size:
        return []
    loose = fit.doubt.loose[layout(fit.chain.bends).rotations]
    if _bends_with_turn(fit) and not loose.any():
        return []
    which = " and ".join(str(k + 2) for k in np.flatnonzero(loose)) or "2"
    return [
        Notice(
            "mirrored-twin",
            "refusal",
            "These readings fit a tube and its mirror image alike: nothing says which way the bends turn out of "
            "one plane. Ways out: read the turn before bend "
            f'{which} with its sense, such as rotation = "25 cw", or say planar = true.',
        )
    ]


def way_taken(fit: Fit, limits: FormingLimits) -> list[Notice]:
    """Notes on a planar tube whose next bend may as well go the other way: a U and a Z read alike."""
    if _has_places(fit) or not fit.planar:
        return []
    read = _bends_with_turn(fit)
    return [
        _way_note(k + 1, bool(np.cos(fit.chain.rotations[k]) > 0))
        for k in range(1, fit.chain.bends)
        if k + 1 not in read and _fits_the_other_way(fit, k, limits)
    ]


def _fits_the_other_way(fit: Fit, k: int, limits: FormingLimits) -> bool:
    turned = fit.chain.rotations.copy()
    turned[k] += np.pi
    other = fit_from(replace(fit.chain, rotations=turned), fit.evidence, limits, planar=True)
    return not beyond_chance(other.chi2 - fit.chi2, 1)


def _way_note(bend: int, same: bool) -> Notice:
    taken, shape, other = ("the same way as", "U", 180) if same else ("the other way from", "Z", 0)
    return Notice(
        f"way-of-bend-{bend}",
        "note",
        f"Bend {bend} is taken to go {taken} bend {bend - 1}, as in a {shape}; the readings fit the other way as "
        f"well. If that is meant, say {{ bend = {bend}, rotation = {other} }}.",
    )


def _has_places(fit: Fit) -> bool:
    return bool(fit.evidence.points) or fit.evidence.scan is not None


def _bends_with_turn(fit: Fit) -> set[int]:
    return {reading.bend for reading in fit.evidence.readings if isinstance(reading, BendRotation)}
