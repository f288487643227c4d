"""What is said of the places of a scan that are not on the tube."""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.notices import Level, Notice
from plumbend.shape.disagreement import place_text
from plumbend.shape.robust import FEW_STRAYS, MOST_STRAYS, Sorted
from plumbend.units import Units

HEAP = 2.0
"""Radius in ODs within which places count as one heap."""
MOST_LOOKED_AT = 500
LEAST_HEAP = 0.2
"""Part of all places off the tube that make a heap worth telling."""


def remarks_on_strays(found: Sorted, od: float, units: Units) -> list[Notice]:
    """How many places of a scan were left out, and where most of them lie; a refusal where too many were."""
    assert found.measured.scan is not None
    out, kept = len(found.strays), len(found.measured.scan.at)
    if not out:
        return []
    said = f"{out:,} of the {out + kept:,} places of the scan {'is' if out == 1 else 'are'} not on the tube"
    heap = _heap(found.strays, od, units)
    if found.part_off > MOST_STRAYS:
        return [
            Notice(
                "scan-not-one-tube",
                "refusal",
                f"{said}: with so many it is not sure that the rest are of the tube you want.{heap} Ways out: take "
                "out of the scan what is not the tube, give the tube's ends as points, or correct bends and clr.",
            )
        ]
    level: Level = "note" if found.part_off <= FEW_STRAYS else "caution"
    see = " See that this is no part of the tube." if heap else ""
    were = "was" if out == 1 else "were"
    return [Notice("scan-left-out", level, f"{said} and {were} left out.{heap}{see}")]


def _heap(strays: FloatArray, od: float, units: Units) -> str:
    """Where most of the places off the tube lie together, in words; empty where they lie apart."""
    at = strays
    if len(at) > MOST_LOOKED_AT:
        at = at[np.random.default_rng(0).integers(0, len(at), MOST_LOOKED_AT)]
    together = np.linalg.norm(at[:, None] - at[None], axis=2) <= HEAP * od
    largest = int(np.argmax(together.sum(axis=1)))
    if together[largest].sum() < max(2.0, LEAST_HEAP * len(at)):
        return ""
    middle = np.median(at[together[largest]], axis=0)
    near = int((np.linalg.norm(strays - middle, axis=1) <= HEAP * od).sum())
    return f" {near:,} of them lie together round {place_text(middle, units)}."
