"""A scan: many places on the outside of the tube, in any order."""

from __future__ import annotations

from dataclasses import dataclass

from plumbend.frames import FloatArray


@dataclass(frozen=True, slots=True, eq=False)
class Scan:
    """Places (m, 3) mm on the outside of the tube, each with the standard deviation ``sd`` mm along every axis."""

    at: FloatArray
    sd: float
