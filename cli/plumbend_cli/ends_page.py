"""What each end of a tube is cut to, and how long it comes out there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from plumbend.cut_ends import PULLED_OVER
from plumbend.job.results import EndMet
from plumbend.making.steps import Making
from plumbend.notices import listed
from plumbend.units import Units, format_angle, length_with_unit
from plumbend_cli.page import Block, Paragraph

_SEEN = 0.4  # mm; no tape shows less


def ends_blocks(met: Sequence[EndMet], making: Making | None, units: Units) -> Iterator[Block]:
    """A paragraph for each end that is cut to something; ``making`` tells where the sawn ends are, if that is known."""
    for one in met:
        yield Paragraph(" ".join(_sentences(one, making, units)), lead="- ")


def _sentences(met: EndMet, making: Making | None, units: Units) -> Iterator[str]:
    if met.on:
        yield f"The {met.end} end is cut to meet {listed(list(met.on))}; its centreline stops at {met.on[0]}."
    elif met.off_square:
        yield f"The {met.end} end is mitred {format_angle(met.off_square)} degrees off square."
    else:
        yield f"The {met.end} end is cut square."
    left = ""
    if met.allowance:
        left = f", with {_length(met.allowance, units)} left on to be worked down to the joint"
    if abs(met.longest) < _SEEN:
        longest = "The longest point of the cut lies where the centreline stops"
    else:
        past = "beyond" if met.longest > 0 else "short of"
        longest = (
            f"The longest point of the cut lies {_length(abs(met.longest), units)} {past} where the centreline stops"
        )
    sawn = ""
    if making is not None:
        sawn = f", {_length(making.trims[met.far] - met.longest, units)} from the sawn end"
    yield f"{longest}{sawn}{left}."
    if met.aside is not None and met.centred and met.aside >= _SEEN:
        why = "is pulled over as it is tacked" if met.aside <= PULLED_OVER else "what was measured can tell from none"
        yield (
            f"The two centrelines pass each other by {_length(met.aside, units)}, no more than {why}: the cut is made "
            "as if they crossed."
        )


def _length(mm: float, units: Units) -> str:
    return length_with_unit(mm, units, decimals=1)
