"""How far a bend opens when it is let off: where the pointer must stop, and what elastic recovery alone makes of it.

Recovery of a tube that has yielded all through: 1/R_loaded - 1/R_free = M/(E I), with the fully plastic moment
M = Y (D^3 - d^3)/6 and I = pi (D^4 - d^4)/64; the arc keeps its length, so angles go as 1/R (Beer, Johnston and DeWolf,
Mechanics of Materials, ch. 4, residual stresses of beams; the moments are textbook integrals).
"""

from __future__ import annotations

import math
import re
from typing import Final

from plumbend.frames import FloatArray
from plumbend.making.buildable import Bench
from plumbend.notices import Notice, listed
from plumbend.records import record
from plumbend.tubing import Tubing
from plumbend.units import format_angle

CREEP_UP: Final = (2, 4)
"""Degrees that a first stop at the finished angle usually lacks (common practice, no source)."""


@record
class Metal:
    """Young's modulus, and the range of yield strengths that tube of such a metal is sold with, MPa."""

    modulus: float
    least_yield: float
    most_yield: float


_METALS: Final[tuple[tuple[str, Metal], ...]] = (
    # from memory, no source: what such tube is usually sold with; a certificate of the batch knows better
    (r"chrom\w*[ -]?mol|cr[ -]?mo\b|41[34]0|25crmo4", Metal(205e3, 450.0, 620.0)),
    (r"stainless|inox|\b30[4]l?\b|\b316l?\b|1\.4301|1\.4404", Metal(193e3, 210.0, 400.0)),
    (r"alum\w*|606[01]|6082|\b5052\b", Metal(69e3, 150.0, 280.0)),
    (r"\b(dom|cds|drawn|seamless)\b", Metal(205e3, 350.0, 520.0)),
    (r"steel|\berw\b|\bmild\b|\b10[12]\d\b", Metal(205e3, 220.0, 450.0)),
)
"""Words that a metal is known by; the first that is found counts."""


def metal_called(words: str | None) -> Metal | None:
    """The metal that the user's words name; None where they name none that is known here."""
    said = (words or "").lower()
    return next((metal for pattern, metal in _METALS if re.search(pattern, said)), None)


def elastic_recovery(tubing: Tubing, radius: float, modulus: float, strength: float) -> float | None:
    """Part of the angle under load by which a bend opens: 1 - R_loaded/R_free.

    Args:
        tubing: OD and wall in mm.
        radius: centreline radius under load, that of the die, mm.
        modulus: Young's modulus, MPa.
        strength: yield strength, MPa.

    Returns:
        None where the wall is not known.
    """
    if tubing.wall is None:
        return None
    outside, inside = tubing.od, tubing.od - 2 * tubing.wall
    moment = strength * (outside**3 - inside**3) / 6
    second = math.pi * (outside**4 - inside**4) / 64
    return radius * moment / (modulus * second)


def stop_angles(angles: FloatArray, bench: Bench) -> FloatArray | None:
    """Where the pointer stops (n,) for finished angles (n,), radians; None where no test bends told the springback."""
    line = bench.die.springback
    return None if line is None else line.constant + (1 + line.part) * angles


def not_made(bench: Bench) -> list[Notice]:
    """What is not made, or only by a guess, for want of figures of the die, and how to come by them; stops apart."""
    die = bench.die
    untold = [
        words
        for figure, words in (
            (die.reference_offset, "reference_offset (no pen marks)"),
            (die.stock_per_radian, "stock_per_degree (each bend is taken to use the length of its arc)"),
        )
        if figure is None
    ]
    notices = []
    if untold:
        text = (
            f"What test bends tell of the die {die.name}: the shop file lacks {listed(untold)}. Bend a scrap or two "
            "and run plumbend calibrate on the shop file."
        )
        notices.append(Notice("no-test-bends", "not-checked", text))
    if die.tail is None:
        text = (
            f"The saw length: the shop file lacks the tail of the die {die.name}. Measure the straight that your "
            "bender must hold behind the last bend, and write it there as tail."
        )
        notices.append(Notice("no-tail", "not-checked", text))
    return notices


def typed_over(bench: Bench) -> list[Notice]:
    """That figures of the die are no longer what test bends told, so that no ± of theirs holds."""
    die = bench.die
    if not die.retyped:
        return []
    when = "" if die.calibrated is None else f" on {die.calibrated}"
    are, they = ("are", "They count as they stand") if len(die.retyped) > 1 else ("is", "It counts as it stands")
    stops = ", and no ± is told of the stops" if "springback" in die.retyped else ""
    text = (
        f"Of the die {die.name}, {listed(list(die.retyped))} {are} no longer what test bends told{when}: typed over "
        f"since. {they}{stops}. To go back to the test bends, run plumbend calibrate on the shop file."
    )
    return [Notice("figures-typed-over", "note", text)]


def no_stops(largest: float, bench: Bench) -> list[Notice]:
    """That no stop angles are given, and how to bend without; ``largest`` is the largest bend, radians."""
    if bench.die.springback is not None:
        return []
    low, high = CREEP_UP
    text = (
        f"Where to stop: the shop file has no springback of the die {bench.die.name} (plumbend calibrate works it "
        "out), so no stop angles are given. First stop = finished angle; let off, read, creep up; expect "
        f"{low} to {high} degrees more."
    )
    return [Notice("no-springback", "not-checked", f"{text} {_for_information(largest, bench)}")]


def _for_information(largest: float, bench: Bench) -> str:
    metal = metal_called(bench.tubing.metal)
    if metal is None or bench.tubing.wall is None:
        want = "the wall" if bench.tubing.wall is None else "a metal that is known here"
        return f"For an estimate of what the tube itself springs, the job must say {want}."
    opens = []
    for strength in (metal.least_yield, metal.most_yield):
        part = elastic_recovery(bench.tubing, bench.die.clr, metal.modulus, strength) or 0.0
        opens.append(format_angle(largest * part / (1 - part)))
    return (
        f"For information: of {bench.tubing.metal}, a bend of {format_angle(largest)} degrees springs about {opens[0]} "
        f"to {opens[1]} by itself, as strong as such tube is usually sold; slack in the bender comes on top."
    )
