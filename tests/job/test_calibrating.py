"""A shop file that calibrating writes into: all else in it stays as it was, byte by byte."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from plumbend.job.calibrating import ShopInHand
from plumbend.job.reader import read_shop
from plumbend.making.calibration import Calibration, Figure

TOLD = Calibration(Figure(12.04, 0.4), None, Figure(150.5, 0.3), None, None, None)
LAYOUTS = {
    "comments in odd places": """# mine
units = "mm" # as the tape says

[[die]]  # the big one
clr = 152.4 # stamped
  # between
reference_offset   =   9.5   # old, by eye
od = 44.45

# the next
[[die]]
name = "small"
clr = 114.3
""",
    "dies as inline tables": """units = "mm"
die = [
  { clr = 152.4, od = 44.45, reference_offset = 9.5 }, # the big one
  { name = "small", clr = 114.3 },
]
""",
    "dotted keys": """units = "mm"
bender.plane = "level" # flat
[[die]]
clr = 152.4
od = 44.45
springback.degrees = 1
springback.percent = 2
reference_offset = 9.5
""",
}


@pytest.mark.parametrize("newline", ["\n", "\r\n"])
@pytest.mark.parametrize("layout", LAYOUTS)
def test_only_what_was_told_is_written(layout: str, newline: str, tmp_path: Path) -> None:
    shop = tmp_path / "shop.toml"
    before = LAYOUTS[layout].replace("\n", newline).encode()
    shop.write_bytes(before)
    hand = ShopInHand(shop)
    hand.add_test_bend(0, {"sawn": 1000, "mark": 400, "angle": 90, "clamp_leg": 586.6})
    assert len(hand.test_bends(0)) == 1
    hand.write_figures(0, TOLD, "2026-05-31", "H1")
    after = shop.read_bytes()
    big, *others = read_shop(shop).dies
    assert big.reference_offset == pytest.approx(12.0)
    assert big.stock_per_radian == pytest.approx(150.5, abs=math.degrees(0.0005))
    assert all(other.reference_offset is None for other in others)
    assert after.count(b"\n") == after.count(newline.encode())
    # what stood there is there still, in its order, but for the figure that was replaced
    at = 0
    for piece in before.split(b"9.5"):
        for line in piece.split(newline.encode()):
            # an inline table is closed after what is added to it
            kept = line.partition(b" }")[0]
            found = after.find(kept, at)
            assert found >= at, kept
            at = found + len(kept)
