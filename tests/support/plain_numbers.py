"""Problems for the optimisers whose state is plain numbers, which move as they are told."""

from __future__ import annotations

from plumbend.frames import FloatArray


class PlainNumbers:
    """The state (p,) is its own values."""

    def values(self, state: FloatArray) -> FloatArray:
        return state

    def move(self, state: FloatArray, step: FloatArray) -> FloatArray:
        return state + step


class WeighedAlike(PlainNumbers):
    """What was observed weighs the same wherever the fit stands."""

    def weigh(self, state: FloatArray) -> None:
        assert state.ndim == 1
