"""What is said of a reading that is probably wrong: how far it is off, and what should have stood there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.adjustment import Adjusted
from plumbend.measuring.expected import Expectation, Expected, all_unlikely
from plumbend.measuring.explaining import ALIKE, distances, rank
from plumbend.measuring.human_errors import HumanError, human_errors
from plumbend.measuring.places import Place
from plumbend.measuring.readings import Reading
from plumbend.records import record
from plumbend.units import Units


@record
class Explanation:
    """A human error that explains a misread.

    Attributes:
        error: the error, with the reading as it should have been.
        misfit: mm by which that reading would still miss, the largest of its numbers.
    """

    error: HumanError
    misfit: float


@record(eq=False)
class Accused:
    """One reading that is probably wrong.

    Attributes:
        index: its place among the readings; what is given with a doubt comes after them.
        reading: as it was read.
        off: (c,) mm by which it is off, measured less what the others say.
        doubt: (c,) mm, one standard deviation of that; infinite where the others say nothing.
        explanations: human errors that explain it and that the others cannot tell apart, the best first.
        following: the likeliest of those that they can tell from it.
        odds: how many times likelier the best is than that.
    """

    index: int
    reading: Reading
    off: FloatArray
    doubt: FloatArray
    explanations: tuple[Explanation, ...]
    following: HumanError | None
    odds: float

    @property
    def explained(self) -> bool:
        """Whether a slip in its own figures explains it; that it fits some other place as well may be chance."""
        return any(not explanation.error.elsewhere for explanation in self.explanations)


@record
class Suspect:
    """A misread, by the readings any one of which may be it.

    Attributes:
        accused: the likeliest first; more than one where the readings cannot tell.
        all_out: all of them are left out; else the first alone, as without all some place would not be fixed.
    """

    accused: tuple[Accused, ...]
    all_out: bool


def accuse(
    index: int, reading: Reading, rest: Adjusted, units: Units, od: float | None, places: Sequence[Place]
) -> Accused:
    """Hold a reading against the adjustment of the ``rest`` and try every human error on it.

    ``index`` is passed on; ``od`` is that of the tube wanted, in mm; ``places`` may have been mistaken for its own.
    """
    errors = human_errors(reading, units, od, places)
    in_figures = [error for error in errors if not error.elsewhere]
    elsewhere = [error for error in errors if error.elsewhere]
    stands, *others = Expected(rest).of_each([reading, *(error.corrected for error in elsewhere)])
    changes = np.array([error.corrected.measured() for error in in_figures]).reshape(-1, stands.off.size)
    changes -= reading.measured()
    # so small a slip as cannot be told from none is left aside, and another place where too little is known to tell
    tells = stands.unlikely(changes) >= ALIKE**2
    tried = [
        *((error, stands.changed(by)) for error, by, told in zip(in_figures, changes, tells, strict=True) if told),
        *((error, at) for error, at in zip(elsewhere, others, strict=True) if at.known == stands.known),
    ]
    variants = Counter(error.code for error, _ in tried)
    # a reading of other places stands for whatever this one is off by
    sizes = [stands.off if error.elsewhere else stands.off - at.off for error, at in tried]
    ranking = rank(
        all_unlikely([at for _, at in tried]),
        stands.known,
        distances(np.array(sizes).reshape(-1, stands.off.size), stands.information),
        # a place known badly is as good as many places
        np.array([variants[error.code] * np.exp((at.log_spread - stands.log_spread) / 2) for error, at in tried]),
    )
    return Accused(
        index,
        reading,
        stands.off,
        stands.doubt,
        tuple(Explanation(tried[i][0], _misfit(*tried[i])) for i in ranking.best),
        None if ranking.following is None else tried[ranking.following][0],
        ranking.odds,
    )


def _misfit(error: HumanError, at: Expectation) -> float:
    """What the reading as it should have been would miss by, once it takes part in the adjustment."""
    return float(np.abs(error.corrected.doubt**2 * at.information @ at.off).max())
