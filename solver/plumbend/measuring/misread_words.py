"""What is said of misreads, for the fabricator."""

from __future__ import annotations

import math

import numpy as np

from plumbend.measuring.accused import Accused, Explanation, Suspect
from plumbend.measuring.human_errors import figures_of, shown
from plumbend.notices import Notice
from plumbend.units import MM_PER_INCH, Units, format_length

_WORTH_SAYING = 1000.0
"""What is less likely than the best by more than this is not mentioned."""


def named(suspect: Suspect, units: Units) -> Notice:
    """The caution that names a misread, or the readings of which one is it."""
    first, *others = suspect.accused
    if not others:
        said = f"{_looks(first, units)} It is left out. Read it again."
        return Notice("misread", "caution", said)
    titles = [_within(one.reading.title) for one in suspect.accused]
    listed = f"{', '.join(titles[:-1])} or {titles[-1]}"
    each = " ".join(_looks(one, units) for one in suspect.accused)
    if suspect.all_out:
        after = f"{'Both' if len(others) == 1 else 'All'} are left out."
    else:
        after = "Only the first is left out, for the places need the rest: they may be wrong by as much."
    again = "Read them again: one reading more of another kind would tell."
    return Notice(
        "misread",
        "caution",
        f"One of these is wrong, and the others cannot tell which: {listed}. {each} {after} {again}",
    )


def kept_as_asked(accused: Accused, units: Units) -> Notice:
    """The caution about a reading that looks wrong and was kept."""
    return Notice("kept-reading", "caution", f"{_looks(accused, units)} It is kept as you asked.")


def disagreeing(scale: float) -> list[Notice]:
    """The caution that every ± is wider than the accuracies say; none where ``scale`` is 1."""
    if scale <= 1:
        return []
    said = (
        f"The readings miss each other by more than they are said to be good to, and no slip accounts for it. Every ± "
        f"is taken {scale:.1f} times as wide. Check what the readings are good to, and the bases."
    )
    return [Notice("readings-disagree", "caution", said)]


def _looks(accused: Accused, units: Units) -> str:
    """What a reading looks like, in one or two sentences."""
    reading = accused.reading
    title = reading.title
    if not reading.typed and shown(reading, units):
        title = f"{title}, {shown(reading, units)},"
    if not accused.explanations:
        return f"{title} is {_size(accused, units)}, and no usual slip explains it."
    ways = [explanation.error.words for explanation in accused.explanations]
    listed = f"{', or '.join(ways)}" if len(ways) < 3 else f"{', '.join(ways[:-1])}, or {ways[-1]}"
    said = f"{title} looks like {listed}: then it fits within {_fit(accused.explanations, units)}."
    if accused.following and accused.odds < _WORTH_SAYING:
        said += f" The next best guess, {accused.following.words}, is {max(accused.odds, 1):.0f} times less likely."
    return said


def _size(accused: Accused, units: Units) -> str:
    """By how much a reading is off."""
    known = np.isfinite(accused.doubt)
    size = _with_unit(float(np.linalg.norm(accused.off[known])), units)
    figures = list(figures_of(accused.reading).values())
    if len(figures) != 1 or not figures[0].mm or accused.reading.components > 1:
        return f"off by about {size}"
    too_much = accused.off[0] * figures[0].mm > 0
    return f"about {size} too {'much' if too_much else 'little'}"


def _fit(explanations: tuple[Explanation, ...], units: Units) -> str:
    """The misfit rounded up, so that "within" is true: to sixteenths or whole mm."""
    step = MM_PER_INCH / 16 if units == "in" else 1.0
    worst = max(explanation.misfit for explanation in explanations)
    return _with_unit(max(math.ceil(worst / step - 1e-6), 1) * step, units)


def _with_unit(mm: float, units: Units) -> str:
    return format_length(mm, units) if units == "in" else f"{format_length(mm, units)} mm"


def _within(title: str) -> str:
    """A title inside a sentence."""
    return title if title.startswith('"') else title[0].lower() + title[1:]
