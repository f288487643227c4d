"""A shop file while a die is calibrated: test bends put in, figures written, the earlier ones kept."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from plumbend.errors import BadFile, BadText, Mistake
from plumbend.job.dies import SAME_SIZE, read_dies
from plumbend.job.places import Document, Mistakes, toml_spot
from plumbend.job.reader import read_shop
from plumbend.job.test_bends import read_test_bends
from plumbend.job.toml_text import Row, Value
from plumbend.job.values import Reading
from plumbend.job.writing import JobDocument, Snapshot
from plumbend.job.written_rows import WrittenRows
from plumbend.making.calibration import Calibration, TriedBend
from plumbend.shop import KNOWN_AT, Die
from plumbend.typed import parse_length
from plumbend.units import MM_PER_INCH, Units

FIGURES = ("reference_offset", "bent_clr", "stock_per_degree", "springback")
"""Keys of a die that test bends tell."""


class ShopInHand:
    """A shop file with its dies; every change is read back before it counts.

    Attributes:
        document: the file, its remarks and layout kept.
        units: of bare figures in it.
        dies: in the file's order.

    Raises:
        BadFile: with every mistake of the file.
    """

    def __init__(self, path: Path | str) -> None:
        self.document = JobDocument.open(path)
        self.dies = read_shop(path).dies
        self.units: Units = self.document.data["units"]

    def index(self, name: str) -> int:
        """Which die is called so, or else is the only one of that radius.

        Raises:
            BadFile: none is.
        """
        names = [die.name for die in self.dies]
        if name in names:
            return names.index(name)
        try:
            clr = parse_length(name, self.units)
        except BadText:
            found = []
        else:
            found = [index for index, die in enumerate(self.dies) if abs(die.clr - clr) <= SAME_SIZE]
        if len(found) == 1:
            return found[0]
        listed = ", ".join(f'"{name}"' for name in names)
        what = f'there is no die "{name}"' if not found else f'"{name}" is the radius of {len(found)} dies'
        raise BadFile([Mistake(str(self.document.path), None, "", what, f"There are: {listed}.")])

    def test_bends(self, index: int) -> list[TriedBend]:
        """The test bends of a die.

        Raises:
            BadFile: with every mistake in them.
        """
        mistakes = Mistakes()
        die: Die = self.dies[index]
        place = Document(str(self.document.path), self.document.text().replace("\r\n", "\n"))
        spot = toml_spot(place, ("die", index), f'die "{die.name}"')
        rows = self.document.data["die"][index].get("test_bends", [])
        bends = read_test_bends(rows, spot, die.clr, die.od, Reading(self.units), mistakes)
        mistakes.raise_any()
        return bends

    def add_test_bend(self, index: int, row: Row) -> None:
        """Add a test bend and save the file.

        Raises:
            BadFile: it cannot stand, and is not in the file; or the file cannot be written.
        """
        before = self.document.snapshot()
        text = WrittenRows(before.text, ("die", index, "test_bends"), str(self.document.path)).insert(None, row)
        self.document.restore(Snapshot(text, before.sheets))
        try:
            self.test_bends(index)
            self.document.save()
        except BadFile:
            self.document.restore(before)
            raise

    def write_figures(self, index: int, told: Calibration, date: str, batch: str) -> None:
        """Write what test bends told into a die, with date and batch, and save the file; earlier figures are kept.

        Raises:
            BadFile: the figures are none that a die has, or the file cannot be written; then it stays as it was.
        """
        first = self.document.snapshot()
        figures = figures_of(told, self.units)
        die: Mapping[str, Any] = self.document.data["die"][index]
        was = {key: die[key] for key in FIGURES if key in figures and key in die}
        if was:
            # figures typed over since then are of no known day
            told_then = {} if self.dies[index].retyped else die.get("calibrated", {})
            when = {key: told_then.get(key) for key in ("date", "batch")}
            earlier: dict[str, Value] = {**{key: str(value) for key, value in when.items() if value}, **was}
            before = self.document.snapshot()
            text = WrittenRows(before.text, ("die", index, "earlier"), str(self.document.path)).insert(None, earlier)
            self.document.restore(Snapshot(text, before.sheets))
        for key, value in figures.items():
            self.document.set_value(("die", index, key), value)
        when_now: dict[str, Value] = {"date": date, **({"batch": batch} if batch else {})}
        self.document.set_value(
            ("die", index, "calibrated"), {**when_now, "good_to": _good_to(told, self.units), "figures": figures}
        )
        try:
            self._check_dies()
            self.document.save()
        except BadFile:
            self.document.restore(first)
            raise

    def _check_dies(self) -> None:
        """Raise what is wrong with the dies as they stand now."""
        mistakes = Mistakes()
        place = Document(str(self.document.path), self.document.text().replace("\r\n", "\n"))
        read_dies(self.document.data["die"], toml_spot(place), self.units, mistakes)
        mistakes.raise_any()


def figures_of(told: Calibration, units: Units) -> dict[str, Value]:
    """What test bends told by the keys of a die, in the file's units, those that they did not left out."""
    unit, places = (1.0, 1) if units == "mm" else (MM_PER_INCH, 3)
    figures: dict[str, Value] = {}
    if told.reference_offset:
        figures["reference_offset"] = round(told.reference_offset.value / unit, places)
    if told.bent_clr:
        figures["bent_clr"] = round(told.bent_clr.value / unit, places)
    if told.stock_per_radian:
        figures["stock_per_degree"] = round(math.radians(told.stock_per_radian.value) / unit, places + 2)
    if told.constant and told.part:
        degrees, percent = math.degrees(told.constant.value), 100 * told.part.value
        figures["springback"] = {"degrees": round(degrees, 2), "percent": round(percent, 2)}
    return figures


def _good_to(told: Calibration, units: Units) -> dict[str, Value]:
    """The ± of the figures by their keys, in the file's units; of the springback in degrees, at three bends."""
    unit, places = (1.0, 1) if units == "mm" else (MM_PER_INCH, 3)
    within: dict[str, Value] = {}
    if told.reference_offset:
        within["reference_offset"] = round(2 * told.reference_offset.sd / unit, places)
    if told.bent_clr:
        within["bent_clr"] = round(2 * told.bent_clr.sd / unit, places)
    if told.stock_per_radian:
        within["stock_per_degree"] = round(2 * math.radians(told.stock_per_radian.sd) / unit, places + 2)
    if told.springback:
        within["springback"] = {
            f"at_{degrees}": max(round(math.degrees(2 * figure.sd), 2), 0.01)
            for degrees, figure in zip(KNOWN_AT, told.springback, strict=True)
        }
    return within
