"""What a man may have read or written wrong in one figure: every figure that should have stood there instead."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final

from plumbend.measuring.tapes import TapeHabits
from plumbend.records import record
from plumbend.units import MM_PER_INCH, Axis, Units, format_length, format_place

_STEPS: Final[dict[Units, tuple[tuple[str, str, float], ...]]] = {
    "in": (
        ("inch", "an inch", MM_PER_INCH),
        ("ten-inches", "ten inches", 10 * MM_PER_INCH),
        ("foot", "a foot", 12 * MM_PER_INCH),
    ),
    "mm": (("10-mm", "10 mm", 10.0), ("100-mm", "100 mm", 100.0), ("metre", "a metre", 1000.0)),
}
_LINES: Final[dict[Units, tuple[str, float]]] = {"in": ("1-inch", MM_PER_INCH), "mm": ("10 cm", 100.0)}

_EXACT: Final = 1e-6
"""mm; what differs by less is the same figure."""


@record
class Figure:
    """A length as it was read.

    Attributes:
        mm: the length, either sign.
        axis: the vehicle's axis along which it was read; None where there is none.
        opposite: how its two senses are called, such as "left and right"; None for a plain length.
        tape: how the tape was read; None where it was no tape or rule.
    """

    mm: float
    axis: Axis | None = None
    opposite: str | None = None
    tape: TapeHabits | None = None

    def text(self, units: Units) -> str:
        """As a man would write it: "34-3/8", "L 12-1/2", "873"."""
        return text_of(self.mm, units, self.axis)


def text_of(mm: float, units: Units, axis: Axis | None = None) -> str:
    """A length as a man would write it, with as much of it as there is: to 64ths, or to tenths of a mm."""
    steps = mm / MM_PER_INCH
    parts = next((parts for parts in (16, 32) if abs(steps * parts - round(steps * parts)) < 1e-3), 64)
    decimals = 0 if abs(mm - round(mm)) < 0.05 else 1
    if axis is None:
        return format_length(mm, units, parts, decimals)
    return format_place(mm, units, axis, parts, decimals)


@record
class Slip:
    """What should have been read.

    Attributes:
        code: a short stable name of the kind.
        mm: the figure that should have stood there.
        text: that figure as a man would write it.
        words: how it came to be misread, to follow the figure: "with the digits swapped".
    """

    code: str
    mm: float
    text: str
    words: str


def slips(figure: Figure, units: Units, ods: Sequence[float] = ()) -> list[Slip]:
    """Every slip that ``figure`` may be, in a job in ``units``; ``ods`` in mm are those of what was measured to."""
    found = [
        *_by_length(figure, units, ods),
        *_by_digits(figure, units),
        *_by_unit(figure, units),
    ]
    if figure.opposite and abs(figure.mm) > _EXACT:
        found.append(_slip("sign", -figure.mm, f"with {figure.opposite} swapped", figure, units))
    # what a man reads has no sign of its own: no slip turns it round
    return [slip for slip in found if slip.code in ("sign", "outside") or slip.mm * figure.mm > 0]


def _slip(code: str, mm: float, words: str, figure: Figure, units: Units) -> Slip:
    return Slip(code, mm, text_of(mm, units, figure.axis), words)


def _by_length(figure: Figure, units: Units, ods: Sequence[float]) -> Iterator[Slip]:
    """Whole inches and feet, the line that the tape was held at, and the outside touched for the centre."""
    sign = -1.0 if figure.mm < 0 else 1.0
    if abs(figure.mm) > _EXACT:
        for code, words, step in _STEPS[units]:
            yield _slip(code, figure.mm + sign * step, f"read {words} short", figure, units)
            yield _slip(code, figure.mm - sign * step, f"read {words} long", figure, units)
        if figure.tape and figure.tape.read_from:
            at = figure.tape.read_from
            words = f"read from the end of the tape and not from its line at {text_of(at, units)}"
            yield _slip("tape-line", figure.mm + sign * at, words, figure, units)
        elif figure.tape:
            line, at = _LINES[units]
            words = f"read from the tape's {line} line (not taken off)"
            yield _slip("tape-line", figure.mm - sign * at, words, figure, units)
    for od in ods:
        for part, words in (
            (od / 2, "to the outside instead of the centre (half the OD)"),
            (od, "to the other side (a whole OD)"),
        ):
            for way in (1.0, -1.0):
                yield _slip("outside", figure.mm + way * part, f"read {words}", figure, units)


def _by_digits(figure: Figure, units: Units) -> Iterator[Slip]:
    """Digits swapped, fractions taken for each other, a fraction typed as decimals, feet and inches run together."""
    sign = -1.0 if figure.mm < 0 else 1.0
    unit = MM_PER_INCH if units == "in" else 1.0
    shown = abs(figure.mm) / unit
    whole, rest = divmod(shown, 1.0)
    if rest > 1 - 1e-6:
        whole, rest = whole + 1, 0.0
    for swapped in _swapped(str(int(whole))):
        yield _slip("digits-swapped", sign * (swapped + rest) * unit, "with the digits swapped", figure, units)
    if units == "mm":
        return
    sixteenths = round(rest * 16)
    if rest > 1e-6 and abs(rest * 16 - sixteenths) < 1e-3:
        own = text_of(rest * unit, units)
        # a fraction counted from the next inch, or in the wrong steps
        for other in sorted({16 - sixteenths, *_counted_wrong(sixteenths)} - {sixteenths}):
            meant = text_of(other / 16 * unit, units)
            mm = sign * (whole + other / 16) * unit
            yield _slip("fraction", mm, f"with {meant} taken for {own}", figure, units)
    else:
        for fraction in _typed_as_decimals(f"{rest:.4f}"[2:].rstrip("0")):
            mm = sign * (whole + fraction) * unit
            yield _slip("decimals", mm, "with the fraction typed as decimals", figure, units)
    if 10 < whole < 100 and int(whole) % 10:
        feet, inches = divmod(int(whole), 10)
        yield _slip(
            "feet-run-in", sign * (12 * feet + inches + rest) * unit, "with feet and inches run together", figure, units
        )


def _swapped(digits: str) -> list[int]:
    """Numbers with two neighbouring digits swapped; none that then begins with 0."""
    swapped = {digits[:k] + digits[k + 1] + digits[k] + digits[k + 2 :] for k in range(len(digits) - 1)} - {digits}
    return sorted(int(number) for number in swapped if number[0] != "0")


def _counted_wrong(sixteenths: int) -> list[int]:
    """Sixteenths that eighths were taken for and the other way: 3/16 for 3/8, 5/8 for 5/16."""
    others = [2 * sixteenths] if sixteenths < 8 and sixteenths % 2 else []
    return others + ([sixteenths // 2] if sixteenths % 4 == 2 else [])


def _typed_as_decimals(digits: str) -> list[float]:
    """Fractions that would be typed as these decimals: .38 for 3/8, .316 for 3/16."""
    found = []
    for bottom in (2, 4, 8, 16, 32):
        top = digits.removesuffix(str(bottom))
        if top != digits and top.isdigit() and 0 < int(top) < bottom:
            found.append(int(top) / bottom)
    return found


def _by_unit(figure: Figure, units: Units) -> Iterator[Slip]:
    """Millimetres taken for inches, and inches for millimetres."""
    if abs(figure.mm) <= _EXACT:
        return
    if units == "in":
        mm = figure.mm / MM_PER_INCH
        yield Slip("unit", mm, f"{text_of(mm, 'mm', figure.axis)} mm", "taken as inches")
    else:
        mm = figure.mm * MM_PER_INCH
        yield Slip("unit", mm, f"{text_of(mm, 'in', figure.axis)} in", "taken as mm")
