"""How a tube is made, as JSON: every direction is a word with its viewpoint."""

from __future__ import annotations

import math
from typing import Any

from plumbend.making.steps import SQUARE, Making, Mark, Step

VIEWPOINT = "looking from the tail to the die, with the bent part beyond the die"
_NOTHING = 1e-12  # radians


def making_to_json(making: Making) -> dict[str, Any]:
    """Lengths in mm, angles in degrees."""
    return {
        "marks": making.habit.marks,
        "measured": "from one hooked end" if making.habit.measured == "end" else "from the last bend",
        "hooked": making.hooked,
        "bender": {"plane": making.bender.plane, "swings": making.bender.swings},
        "viewpoint": VIEWPOINT,
        "stock": making.stock,
        "saw_length": making.saw_length,
        "trim": list(making.trims),
        "stop_doubt": max((_stop_doubt(step) or 0.0 for step in making.steps), default=0.0) or None,
        "steps": [_step(step) for step in making.steps],
    }


def _stop_doubt(step: Step) -> float | None:
    return None if step.stop_sd is None else math.degrees(step.stop_sd)


def way_of(angle: float) -> str:
    """The word for a turn in (-pi, pi], + clockwise."""
    if abs(angle) < _NOTHING:
        return "none"
    if angle == math.pi:
        return "either way"
    return "clockwise" if angle > 0 else "counter-clockwise"


def side_of(line: float) -> str:
    """The word for where a new line lies, + to the left of the last one."""
    words = {"none": "same line", "either way": "opposite", "clockwise": "left", "counter-clockwise": "right"}
    return words[way_of(line)]


def _turn(angle: float) -> dict[str, Any]:
    return {"degrees": math.degrees(abs(angle)), "way": way_of(angle)}


def _seam_from_inside(step: Step) -> float | None:
    """None where the shop does not say enough of the bender to tell inside from outside."""
    if step.seam_toward is None:
        return None if step.seam > SQUARE else 90.0
    return 90.0 + math.degrees(step.seam if step.seam_toward == "outside" else -step.seam)


def _mark(mark: Mark) -> dict[str, Any]:
    return {
        "at": mark.at,
        "from": f"end of bend {mark.after}" if mark.end is None else mark.end,
        "is": "middle of bend" if mark.middle else "start of bend",
        "behind_reference": mark.behind,
    }


def _step(step: Step) -> dict[str, Any]:
    level = step.level
    return {
        "bend": step.bend,
        "front": step.front,
        "tail": step.tail,
        "end_for_end": step.swapped,
        "zero": step.zero,
        "tangent": _mark(step.starts),
        "marks": [_mark(mark) for mark in step.marks] or None,
        "turn": _turn(step.turn),
        "running": _turn(step.running),
        "line": {"arc": step.arc, "side": side_of(step.line)},
        "level": None
        if level is None
        else {
            "leg": level.leg,
            "reads": math.degrees(level.reads),
            "points": level.points,
            "sideways": level.sideways,
            "past_plumb": level.past_plumb,
        },
        "stop_doubt": _stop_doubt(step),
        "seam_from_inside": _seam_from_inside(step),
        "seam_from_side": math.degrees(step.seam),
        "finished": math.degrees(step.angle),
        "stop": None if step.stop is None else math.degrees(step.stop),
    }
