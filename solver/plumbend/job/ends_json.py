"""The numbers for the ends of a tube as JSON: mm and degrees, every way round with its viewpoint."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Any

from plumbend.ends.end_report import CutPlace, EndReport, Settings, gaps_of
from plumbend.ends.setting_up import VIEWPOINT, Clocking


def report_to_json(report: EndReport) -> dict[str, Any]:
    """Under ``settings`` one for each neighbour, under ``places`` where the outline turns, under ``gaps`` the widest
    gap for each way of cutting; null where a number is not known or there is none."""
    gaps = gaps_of(report)
    return {
        "end": report.cut.end,
        "viewpoint": VIEWPOINT,
        "allowance": report.cut.allowance,
        "edge": {"outer": "outside", "inner": "inside", "both": "both"}[report.cut.edges],
        "line": None if report.line is None else math.degrees(report.line),
        "settings": [_settings(one) for one in report.settings],
        "places": [_place(place) for place in report.places],
        "gaps": None if gaps is None else asdict(gaps),
        "when": report.when,
    }


def _settings(one: Settings) -> dict[str, Any]:
    return {
        "on": one.name,
        "joint_angle": math.degrees(one.angle),
        "off_square": math.degrees(one.off_square),
        "offset": one.offset,
        "offset_side": None if one.offset_side is None else math.degrees(one.offset_side),
        "tight_side": {"from_bend": _clocking(one.from_bend), "from_line": _clocking(one.from_line)},
        "hole_saw": one.saw,
        "depth": one.depth,
        "notcher": None if one.notcher is None else asdict(one.notcher),
    }


def _place(place: CutPlace) -> dict[str, Any]:
    return {
        "names": list(place.names),
        "from_tangent": place.at.tangent,
        "from_corner": place.at.corner,
        "from_middle_of_bend": place.at.middle,
        "from_other_end": place.at.other,
        "from_bend": _clocking(place.from_bend),
        "from_line": _clocking(place.from_line),
    }


def _clocking(round_: Clocking | None) -> dict[str, Any] | None:
    """+ is clockwise."""
    return None if round_ is None else {"degrees": math.degrees(round_.turn), "arc": round_.arc}
