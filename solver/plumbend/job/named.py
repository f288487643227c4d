"""What a tube's points are called, for readings of the tube that speak of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import field

from plumbend.records import record


@record
class Named:
    """What readings may call by name.

    Attributes:
        ends: whether it is the far one, by an end's name.
        corners: bend by a corner's name.
        unnumbered: corners whose bend is not known, as the points come in no order.
        is_sure: whether these are all: mistakes among the points may hide some.
    """

    ends: Mapping[str, bool] = field(default_factory=dict)
    corners: Mapping[str, int] = field(default_factory=dict)
    unnumbered: Sequence[str] = ()
    is_sure: bool = True

    def end(self, name: str) -> bool | None:
        """Whether an end is the far one; "start" and "far" serve as well as their names."""
        return self.ends.get(name, {"start": False, "far": True}.get(name.lower()))

    def called(self, far: bool) -> str:
        """An end's name, else "start" or "far"."""
        return next((name for name, is_far in self.ends.items() if is_far is far), "far" if far else "start")
