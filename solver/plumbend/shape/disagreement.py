"""What is said where the things that were measured cannot all be right, and which of them stands out."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from plumbend.estimate.chances import beyond_chance
from plumbend.frames import FloatArray
from plumbend.notices import Notice
from plumbend.shape.chain import Chain
from plumbend.shape.evidence import Miss
from plumbend.shape.fit import Fit
from plumbend.shape.measured import Measured
from plumbend.shape.scan import Scan
from plumbend.shape.suspects import Suspect
from plumbend.shape.tube_readings import TubeReading
from plumbend.units import Axis, Units, format_place, length_with_unit

NOTHING_MM, NOTHING_RAD = 0.05, np.radians(0.05)
"""A miss of less is as good as none."""


def worst_of(misses: Sequence[Miss], readings: Sequence[TubeReading], off: Sequence[float]) -> Suspect | None:
    """The point or reading with the largest miss for its accuracy; None where every miss is as good as nothing.

    Args:
        misses: of the points.
        readings: of the tube itself.
        off: reading less tube, mm or radians, of each.
    """
    weighed = [
        *((miss.weighed, Suspect(i)) for i, miss in enumerate(misses) if abs(miss.size) > NOTHING_MM and miss.weighed),
        *(
            (abs(by) / reading.sd, Suspect(i, is_reading=True))
            for i, (reading, by) in enumerate(zip(readings, off, strict=True))
            if abs(by) > (NOTHING_RAD if reading.is_angle else NOTHING_MM)
        ),
    ]
    return max(weighed, key=lambda one: one[0])[1] if weighed else None


def readings_off(chain: Chain, reference: FloatArray, readings: Sequence[TubeReading]) -> list[float]:
    """Reading less tube, mm or radians, of readings of a tube."""
    motion = chain.motion(reference)
    return [reading.residual(chain, motion)[0] for reading in readings]


def disagreement(fit: Fit, measured: Measured, units: Units) -> list[Notice]:
    """Caution that what was measured disagrees, naming what is missed worst."""
    if not beyond_chance(fit.chi2, fit.dof):
        return []
    readings = fit.evidence.readings
    worst = worst_of(fit.misses(), readings, readings_off(fit.chain, fit.evidence.reference, readings))
    if fit.evidence.scan is not None:
        said = _scan_disagrees(fit, measured.scan, units)
    elif worst is None:
        said = "The readings disagree by more than their accuracies allow. Read them again before bending."
    else:
        what = "readings" if not measured.points else "points and readings" if readings else "points"
        name, verb = worst.name(measured), "Read" if worst.is_reading else "Measure"
        again = "it" if worst.is_reading else name
        said = (
            f"The {what} disagree by more than their accuracies allow; {name} is missed worst. "
            f"{verb} {again} again before bending."
        )
    wider = f" Every ± was made {fit.widening:.1f} times wider for it." if fit.widening > 1 else ""
    return [Notice("points-disagree", "caution", said + wider)]


def _scan_disagrees(fit: Fit, whole: Scan | None, units: Units) -> str:
    """Which place of those fitted is missed worst, numbered in the ``whole`` scan."""
    assert fit.evidence.scan is not None
    assert whole is not None
    misses = fit.evidence.scan.misses(fit.chain)
    worst = int(np.argmax(np.abs(misses)))
    at = fit.evidence.scan.scan.at[worst]
    number = int(np.argmax((whole.at == at).all(axis=1))) + 1
    side = "off the tube" if misses[worst] > 0 else "inside it"
    return (
        f"The scan does not lie on one tube of this OD within its accuracy. Worst is place {number} of the scan, "
        f"{place_text(at, units)}: {length_with_unit(abs(float(misses[worst])), units, decimals=1)} {side}."
        " Take out places that are not on the tube, or say by scan_good_to how far off they may be."
    )


def other_radius(part_radius: float, die_radius: float, units: Units) -> Notice:
    """Caution that a scan is of a tube with bends of another radius than the die's."""
    read, die = (length_with_unit(mm, units, decimals=1) for mm in (part_radius, die_radius))
    return Notice(
        "other-radius",
        "caution",
        f"The scan agrees with bends of a centreline radius of {read}, and the die bends {die}. Check clr and od; "
        "if an existing part was scanned that another die has bent, say copied = true.",
    )


def not_flat() -> Notice:
    """Caution that everything agrees on a tube that does not lie flat, though it is told to."""
    return Notice(
        "not-flat",
        "caution",
        "The tube is told to lie flat, but as one that does not everything agrees within its accuracy. Take planar "
        "out before blaming a point.",
    )


def other_count(bends: int, told: int) -> Notice:
    """Caution that everything agrees on a tube with another number of bends than was told."""
    count = "1 bend" if bends == 1 else f"{bends} bends"
    return Notice(
        "other-bend-count",
        "caution",
        f"{told} {'is' if told == 1 else 'are'} told, but with {count} everything agrees within its accuracy. "
        "Count the bends again before blaming a point.",
    )


def place_text(at: FloatArray, units: Units) -> str:
    """A place (3,) mm in words: "forward 12-1/2, left 3, up 40"."""
    axes: tuple[Axis, Axis, Axis] = ("forward", "left", "up")
    return ", ".join(
        f"{axis} {format_place(mm, units, axis, decimals=1)}" for axis, mm in zip(axes, at.tolist(), strict=True)
    )
