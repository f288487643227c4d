"""``plumbend calibrate``: test bends typed in, what they tell of a die, and that written into the shop file."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from pathlib import Path

from plumbend.errors import BadFile, BadText, BadValue, Mistake
from plumbend.job.begun_job import typed_value
from plumbend.job.calibrating import ShopInHand, figures_of
from plumbend.job.toml_text import Value
from plumbend.making.calibration import WIDE, Calibration, Figure, TriedBend, calibrated, next_angle
from plumbend.notices import listed
from plumbend.typed import parse_angle, parse_length
from plumbend.units import Units, format_angle, length_with_unit
from plumbend_cli.page import Block, Column, Heading, Paragraph, Table
from plumbend_cli.session.terminal import Terminal

_HOW = (
    "A test bend: saw a piece square, scribe a mark, put it on the bender's reference, take up the slack, zero the "
    "pointer, bend, read the pointer, let off. Then read the angle off the bend itself, and with a square how far the "
    "piece reaches along each leg, from its end to the outside of the bend; of a U, the width over both legs too."
)
_ENDED = (EOFError, KeyboardInterrupt)


def run_calibration(terminal: Terminal, shop: str, die: str | None, today: str) -> None:
    """Take test bends, show what they tell, and write that where it is wanted.

    Args:
        terminal: what is talked through.
        shop: the shop file.
        die: the die's name; None to ask where there are several.
        today: the day, as 2026-05-31.

    Raises:
        BadFile: the shop file cannot be understood or written, or has no such die.
    """
    hand = ShopInHand(Path(shop))
    try:
        index = hand.index(die) if die is not None else _which(terminal, hand)
    except _ENDED:
        terminal.draw([""])
        return
    chosen = hand.dies[index]
    if chosen.od is None:
        mend = 'Write od = "1-3/4" below its name: legs are read to the outside.'
        raise BadFile([Mistake(shop, None, f'die "{chosen.name}"', "the shop file does not give its od", mend)])
    batch = (hand.test_bends(index) or [TriedBend(0, 0, 0)])[-1].batch
    terminal.show(Paragraph(_HOW))
    refused: Mapping[str, Value] = {}
    try:
        while (row := _typed_bend(terminal, hand.units, today, batch, refused)) is not None:
            try:
                hand.add_test_bend(index, row)
            except BadFile as fault:
                terminal.show(*map(Paragraph, map(_said, fault.mistakes)))
                terminal.show(
                    Paragraph("It was not kept. Type what is wrong anew; Enter keeps the rest as you had it.")
                )
                refused = row
            else:
                batch, refused = str(row.get("batch", "")), {}
                terminal.show(Paragraph(f"Kept in {shop}."))
        ended = False
    except _ENDED:
        terminal.draw([""])
        ended = True
    bends = hand.test_bends(index)
    if not bends:
        terminal.show(Paragraph("There are no test bends yet, so nothing is known."))
        return
    if chosen.retyped:
        terminal.show(
            Paragraph(
                f"In the file {listed(list(chosen.retyped))} was typed over since test bends told it: what is written "
                "here replaces that, and it is kept with the earlier figures."
            )
        )
    radius, sd = (chosen.clr, None) if chosen.bent_clr is None else (chosen.bent_clr, 0.5)
    told = calibrated(bends, chosen.od, radius, sd)
    terminal.show(*_page(chosen.name, bends, told, hand.units))
    kept = [bend for number, bend in enumerate(bends) if number != told.wrong]
    largest = math.pi if chosen.max_wrap is None else chosen.largest_angle
    if told.widened == 1:  # else reading them again comes first
        terminal.show(Paragraph(_next_text(next_angle(kept, chosen.od, radius, largest, kept[-1].batch))))
    if ended or not figures_of(told, hand.units):
        return
    try:
        yes = terminal.ask(f"Write these figures into {shop}? [y] > ").strip().lower() in ("", "y", "yes")
    except _ENDED:
        terminal.draw([""])
        yes = False
    if not yes:
        terminal.show(Paragraph("Not written."))
        return
    try:
        hand.write_figures(index, told, today, kept[-1].batch)
    except BadFile as fault:
        terminal.show(*map(Paragraph, map(_said, fault.mistakes)))
        terminal.show(Paragraph("Not written. Read the test bends again, and correct them in the file."))
    else:
        terminal.show(Paragraph(f"Written into {shop}; figures that stood there before are kept."))


def _which(terminal: Terminal, hand: ShopInHand) -> int:
    if len(hand.dies) == 1:
        return 0
    terminal.show(Paragraph("Which die? Type its number."))
    terminal.draw([f"{number}  {die.name}" for number, die in enumerate(hand.dies, 1)])
    while True:
        line = terminal.ask("Die > ").strip()
        if line.isdecimal() and 0 < int(line[:9]) <= len(hand.dies):
            return int(line) - 1
        terminal.show(Paragraph(f"Type a number from 1 to {len(hand.dies)}."))


def _said(mistake: Mistake) -> str:
    """What is wrong with a figure that is in no file yet, or with the file."""
    if mistake.line is None:
        return str(mistake)
    figure = mistake.place.rpartition(", ")[2].replace("_", " ")
    return f"{figure[:1].upper()}{figure[1:]}: {mistake.what}. {mistake.mend}"


def _typed_bend(
    terminal: Terminal, units: Units, today: str, batch: str, refused: Mapping[str, Value]
) -> dict[str, Value] | None:
    """A test bend by its keys; None where there is none to come. Enter keeps what one that was ``refused`` had."""

    def length(line: str) -> object:
        return parse_length(line, units)

    had = {key: str(value) for key, value in refused.items()}
    more = "none to leave this bend out" if had else "Enter for no more"
    sawn = _ask(terminal, f"Sawn length, {more}", length, had.get("sawn"), may_be_left=True)
    if sawn is None:
        return None
    row: dict[str, Value] = {"date": today}
    batch = had.get("batch", "") if had else batch
    typed = terminal.ask(f"Batch or heat of the tube [{batch or 'none'}] > ").strip() or batch
    if typed:
        row["batch"] = typed
    row["sawn"] = typed_value(sawn)
    questions: tuple[tuple[str, str, Callable[[str], object], bool], ...] = (
        ("mark", "Mark, from the end that was clamped", length, False),
        ("pointer", "Pointer, where it stopped", parse_angle, True),
        ("angle", "Angle, read off the bend", parse_angle, False),
        ("clamp_leg", "Leg from the clamped end", length, True),
        ("tail_leg", "Leg from the other end", length, True),
    )
    for key, prompt, parse, may_be_left in questions:
        line = _ask(terminal, prompt, parse, had.get(key), may_be_left=may_be_left)
        if line is not None:
            row[key] = typed_value(line)
    if parse_angle(str(row["angle"])) >= WIDE:
        line = _ask(terminal, "Width over both legs", length, had.get("width"), may_be_left=True)
        if line is not None:
            row["width"] = typed_value(line)
    return row


def _ask(
    terminal: Terminal, prompt: str, parse: Callable[[str], object], had: str | None, *, may_be_left: bool
) -> str | None:
    """A line that can be read, or what it ``had`` before for Enter alone; None where it is left out."""
    shown = f"{prompt} > " if had is None else f"{prompt} [{had}] > "
    while True:
        line = terminal.ask(shown).strip() or had or ""
        if may_be_left and line.lower() in ("", "none"):
            return None
        try:
            parse(line)
        except (BadText, BadValue) as fault:
            terminal.show(Paragraph(str(fault)))
        else:
            return line


def _page(name: str, bends: list[TriedBend], told: Calibration, units: Units) -> list[Block]:
    blocks: list[Block] = [Heading(f"Die {name}, from {len(bends)} test bend{'s' if len(bends) > 1 else ''}")]
    if told.wrong is not None:
        blocks.append(
            Paragraph(
                f"Test bend {told.wrong + 1} ({format_angle(bends[told.wrong].angle)} degrees) does not go with the "
                "others and was left out. Read it again, or take it out of the file.",
                loud=True,
            )
        )
    if told.widened > 1:
        blocks.append(Paragraph("The test bends do not agree with each other: every ± is widened. Read them again."))
    rows = [
        ("reference offset", *_length(told.reference_offset, units)),
        ("radius of a finished bend", *_length(told.bent_clr, units)),
        ("stock used in a 90", *_length(told.stock_per_radian, units, math.pi / 2)),
    ]
    for degrees, at in ((30, 0), (90, 1)):
        rows.append((f"springback of a {degrees}", *_angle(told.springback[at] if told.springback else None)))
    blocks.append(Table((Column("figure"), Column("value", numeric=True), Column("±")), tuple(rows)))
    if told.bent_clr is None:
        blocks.append(Paragraph("No U tells the radius: the die's own was taken, and what that leaves open counts."))
    blocks.append(Paragraph("Each ± holds for 19 of 20."))
    return blocks


def _length(figure: Figure | None, units: Units, times: float = 1.0) -> tuple[str, str]:
    if figure is None:
        return "not told", ""
    value, within = times * figure.value, 2 * times * figure.sd
    text, margin = (length_with_unit(mm, units, parts=64, decimals=1) for mm in (value, within))
    return text, margin


def _angle(figure: Figure | None) -> tuple[str, str]:
    return ("not told", "") if figure is None else (format_angle(figure.value), format_angle(2 * figure.sd))


def _next_text(angle: float | None) -> str:
    if angle is None:
        return "No further test bend is called for."
    return f"Next test bend, which helps most: {format_angle(angle, 0)} degrees."
