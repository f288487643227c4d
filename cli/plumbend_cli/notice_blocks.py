"""Notices on a page: refusals first, then cautions, notes, and what was not checked."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from plumbend.notices import END_NOT_CUT, Level, Notice
from plumbend_cli.page import Block, Heading, Paragraph

LEADS: dict[Level, str] = {
    "refusal": "CANNOT BE BENT: ",
    "caution": "Caution: ",
    "note": "Note: ",
    "not-checked": "- ",
}


def notice_blocks(notices: Iterable[Notice]) -> Iterator[Block]:
    """Refusals first, whatever their order; then cautions, notes, and what was not checked."""
    by_level: dict[Level, list[Notice]] = {level: [] for level in LEADS}
    for notice in notices:
        by_level[notice.level].append(notice)
    unchecked = by_level.pop("not-checked")
    if any(by_level.values()):
        yield Heading("Notices")
    for level, said in by_level.items():
        yield from (Paragraph(notice.text, lead=_lead(notice), loud=level == "refusal") for notice in said)
    if unchecked:
        yield Heading("Not checked or not made")
        yield from (Paragraph(notice.text, lead=LEADS["not-checked"]) for notice in unchecked)


def _lead(notice: Notice) -> str:
    return "CANNOT BE CUT: " if notice.code.startswith(END_NOT_CUT) else LEADS[notice.level]
