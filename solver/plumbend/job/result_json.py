"""Results as JSON of format "plumbend-result/1": mm and degrees, null where a number is not known."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from plumbend.frames import FloatArray
from plumbend.job.frame_report import frame_to_json
from plumbend.job.results import EndMet, FitReport, Result, TubeResult
from plumbend.shape.certainty import Certainty

if TYPE_CHECKING:  # what cannot be made costs no import
    from plumbend.making.legible import Legible
    from plumbend.making.steps import Making

RESULT_FORMAT = "plumbend-result/1"
"""Keys may be added; none is renamed or dropped without a new number."""


def result_to_json(result: Result) -> dict[str, Any]:
    """The result as a JSON object: mm, degrees, null where a number is not known."""
    return {
        "format": RESULT_FORMAT,
        "units": {"length": "mm", "angle": "deg"},
        "job": result.job,
        "frame": frame_to_json(result.frame),
        "tubes": [_tube_to_json(tube) for tube in result.tubes],
    }


def _rows(array: FloatArray | None) -> Any:
    """Nested lists of an array, with null for a whole row that holds NaN."""
    if array is None:
        return None
    return [None if np.isnan(row).any() else row.tolist() for row in array]


def _known(values: FloatArray) -> list[float | None]:
    """A list of numbers with null for NaN."""
    return [None if np.isnan(value) else value for value in values.tolist()]


def _doubt_to_json(certainty: Certainty) -> dict[str, Any]:
    return {
        "straights": _known(certainty.straights),
        "rotations": _known(np.degrees(certainty.rotations)),
        "angles": _known(np.degrees(certainty.angles)),
        "corners": _rows(certainty.corners),
        "developed_length": None if np.isnan(certainty.developed_length) else certainty.developed_length,
    }


def _covariance_to_json(certainty: Certainty) -> list[list[float | None]]:
    """In mm and degrees, all digits: it is inverted later, and its condition number reaches 1e8."""
    units = np.ones(len(certainty.covariance))
    units[certainty.straights.size :] = np.degrees(1.0)
    return [_known(row) for row in certainty.covariance * np.outer(units, units)]


def _held(certainty: Certainty, kind: str, doubts: FloatArray) -> FloatArray:
    """Doubts with 0 for the numbers that a limit holds: these are known for all that no doubt is given."""
    held = [f"{kind}-{k}" in certainty.held for k in range(1, doubts.size + 1)]
    return np.where(held, 0.0, doubts)


def _where_known(values: FloatArray, doubts: FloatArray) -> FloatArray:
    """Values with NaN where what was measured does not fix them."""
    known: FloatArray = np.where(np.isnan(doubts), np.nan, values)
    return known


def _numbers_to_json(tube: TubeResult) -> dict[str, Any]:
    """The tube's numbers, null where nothing that was measured fixes them.

    A tube given by readings of itself alone lies nowhere; its places are those of a frame of its own.
    """
    program, known = tube.program, tube.certainty
    if program is None or tube.corners is None or tube.tangents is None or tube.developed_length is None:
        return dict.fromkeys(("corners", "tangents", "straights", "rotations", "angles", "developed_length"))
    straights, rotations, angles = program.straights, np.degrees(program.rotations), np.degrees(program.angles)
    corners, tangents, length = tube.corners, tube.tangents, tube.developed_length
    if known is not None:
        straights = _where_known(straights, _held(known, "straight", known.straights))
        rotations = _where_known(rotations, _held(known, "turn", known.rotations))
        angles = _where_known(angles, _held(known, "bend", known.angles))
        length = float(_where_known(np.array(length), np.array(known.developed_length)))
        if tube.fit is not None and (tube.fit.points or tube.fit.scan is not None):
            corners, tangents = _where_known(corners, known.corners), _where_known(tangents, known.stops)
    return {
        "corners": _rows(corners),
        "tangents": [_rows(pair) for pair in tangents],
        "straights": _known(straights),
        "rotations": _known(rotations),
        "angles": _known(angles),
        "developed_length": None if np.isnan(length) else length,
    }


def _stops_to_json(tube: TubeResult) -> list[float | None] | None:
    """Degrees, null where nothing fixes the angle or no springback is known."""
    if tube.stops is None:
        return None
    stops: FloatArray = np.degrees(tube.stops)
    known = tube.certainty
    return _known(stops if known is None else _where_known(stops, _held(known, "bend", known.angles)))


def _tube_to_json(tube: TubeResult) -> dict[str, Any]:
    numbers = _numbers_to_json(tube)
    return {
        "name": tube.name,
        "solved": tube.solved,
        "die": None if tube.dies else {"name": tube.die.name, "clr": tube.die.clr},
        "od": tube.od,
        "ends": list(tube.ends),
        **{key: numbers[key] for key in ("corners", "tangents", "straights", "rotations", "angles")},
        "doubt": None if tube.certainty is None else _doubt_to_json(tube.certainty),
        "covariance": None if tube.certainty is None else _covariance_to_json(tube.certainty),
        "developed_length": numbers["developed_length"],
        "fit": None if tube.fit is None else _fit_to_json(tube.fit),
        "legible": None if tube.legible is None else _legible_to_json(tube.legible),
        "met": [_met_to_json(met) for met in tube.met],
        "cuts": _cuts_to_json(tube),
        "stops": _stops_to_json(tube),
        "making": None if tube.making is None else _making_to_json(tube.making),
        "checks": None if tube.checks is None else asdict(tube.checks),
        "copied": None
        if tube.part is None
        else dict(zip(("radius", "doubt"), _known(np.array([tube.part.radius, tube.part.doubt])), strict=True)),
        "drivers": _why_to_json(tube),
        "dies": _dies_to_json(tube),
        "notices": [{"code": n.code, "level": n.level, "text": n.text} for n in tube.notices],
    }


def _cuts_to_json(tube: TubeResult) -> list[dict[str, Any]]:
    if not tube.end_reports:
        return []
    from plumbend.job.ends_json import report_to_json  # only a tube whose ends meet something pays for it

    return [report_to_json(report) for report in tube.end_reports]


def _met_to_json(met: EndMet) -> dict[str, Any]:
    return {
        "end": met.end,
        "on": list(met.on),
        "off_square": None if met.off_square is None else np.degrees(met.off_square).item(),
        "allowance": met.allowance,
        "place": met.place.tolist(),
        "off": met.off,
        "longest": met.longest,
        "from_tangent": met.at,
        "aside": met.aside,
        "centred": met.centred,
    }


def _why_to_json(tube: TubeResult) -> dict[str, Any] | None:
    if tube.why is None:
        return None
    from plumbend.job.why_report import why_to_json  # only who asks why pays for it

    return why_to_json(tube.why)


def _dies_to_json(tube: TubeResult) -> list[dict[str, Any]] | None:
    if not tube.dies:
        return None
    from plumbend.job.die_choice import cost_to_json  # only a choice of dies pays for it

    return [cost_to_json(cost) for cost in tube.dies]


def _making_to_json(making: Making) -> dict[str, Any]:
    from plumbend.job.making_json import making_to_json  # only a tube that is made pays for it

    return making_to_json(making)


def _set(values: FloatArray | None) -> list[float] | None:
    """Numbers on a grid without what arithmetic leaves in their last digits."""
    return None if values is None else np.round(values, 9).tolist()


def _legible_to_json(legible: Legible) -> dict[str, Any]:
    program, steps = legible.program, legible.steps
    turns = _set(np.degrees(program.rotations))
    return {
        "straights": _set(program.straights),
        "rotations": turns,
        "angles": _set(np.degrees(program.angles)),
        "chi2_added": legible.chi2_added,
        "chi2_added_by_rounding": legible.plain_added,
        "steps": {
            "length": steps.length,
            "rotation": round(np.degrees(steps.rotation).item(), 9),
            "angle": round(np.degrees(steps.angle).item(), 9),
        },
        "set": {
            "marks": _set(legible.marks),
            "far_end": None if legible.far_end is None else round(legible.far_end, 9),
            "turns": turns,
            "stops": None if legible.stops is None else _set(np.degrees(legible.stops)),
        },
        "laid": _rows(legible.corners),
        "points": [asdict(point) for point in legible.points],
    }


def _fit_to_json(fit: FitReport) -> dict[str, Any]:
    points = [
        {
            "name": p.name,
            "what": p.what,
            "miss": p.miss,
            "doubt": p.doubt,
            "suspect": p.suspect,
            "misread": p.misread,
        }
        for p in fit.points
    ]
    readings = [
        {
            "name": r.name,
            "miss": np.degrees(r.miss).item() if r.is_angle else r.miss,
            "unit": "deg" if r.is_angle else "mm",
            "suspect": r.suspect,
        }
        for r in fit.readings
    ]
    return {
        "chi2": fit.chi2,
        "dof": fit.dof,
        "points": points,
        "scan": None if fit.scan is None else asdict(fit.scan),
        "readings": readings,
    }
