"""From points measured on a vehicle to the bend program of a tube.

The public surface is ``__all__``. Each name is imported from its own module when first asked for, so that
``import plumbend`` costs next to nothing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from plumbend.asking import Why
    from plumbend.ends.cuts import EndCut
    from plumbend.ends.template import Template, template
    from plumbend.errors import BadFile, BadText, BadValue, Mistake, PlumbendError, Refused
    from plumbend.job.model import Job, WantedTube
    from plumbend.job.reader import read_job, read_shop
    from plumbend.job.result_json import result_to_json
    from plumbend.job.results import FitReport, PointMiss, Result, TubeResult
    from plumbend.making.corners import corners_from_program, program_from_corners
    from plumbend.making.habit import Habit
    from plumbend.notices import Notice
    from plumbend.shape.certainty import Certainty
    from plumbend.shape.points import Point
    from plumbend.shape.program import Program
    from plumbend.shape.scan import Scan
    from plumbend.shape.tube_readings import (
        BendAngle,
        BendRotation,
        CornersApart,
        LegsApart,
        LegSlope,
        OutsideToEnd,
    )
    from plumbend.shop import Die, Shop
    from plumbend.solving import solve
    from plumbend.tubing import Tubing

_HOME = {
    "asking": ("Why",),
    "ends.cuts": ("EndCut",),
    "ends.template": ("Template", "template"),
    "errors": ("BadFile", "BadText", "BadValue", "Mistake", "PlumbendError", "Refused"),
    "job.model": ("Job", "WantedTube"),
    "job.reader": ("read_job", "read_shop"),
    "job.result_json": ("result_to_json",),
    "job.results": ("FitReport", "PointMiss", "Result", "TubeResult"),
    "making.corners": ("corners_from_program", "program_from_corners"),
    "making.habit": ("Habit",),
    "notices": ("Notice",),
    "shape.certainty": ("Certainty",),
    "shape.points": ("Point",),
    "shape.program": ("Program",),
    "shape.scan": ("Scan",),
    "shape.tube_readings": ("BendAngle", "BendRotation", "CornersApart", "LegSlope", "LegsApart", "OutsideToEnd"),
    "shop": ("Die", "Shop"),
    "solving": ("solve",),
    "tubing": ("Tubing",),
}
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names}

__all__ = [
    "BadFile",
    "BadText",
    "BadValue",
    "BendAngle",
    "BendRotation",
    "Certainty",
    "CornersApart",
    "Die",
    "EndCut",
    "FitReport",
    "Habit",
    "Job",
    "LegSlope",
    "LegsApart",
    "Mistake",
    "Notice",
    "OutsideToEnd",
    "PlumbendError",
    "Point",
    "PointMiss",
    "Program",
    "Refused",
    "Result",
    "Scan",
    "Shop",
    "Template",
    "TubeResult",
    "Tubing",
    "WantedTube",
    "Why",
    "corners_from_program",
    "program_from_corners",
    "read_job",
    "read_shop",
    "result_to_json",
    "solve",
    "template",
]


def __getattr__(name: str) -> object:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from importlib import import_module

    value: object = getattr(import_module(f"{__name__}.{_MODULE_OF[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
