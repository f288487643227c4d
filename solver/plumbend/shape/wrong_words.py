"""What is said of points and readings that are wrong, or may be, and of slips that nothing would show."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from plumbend.frames import wrap_angle
from plumbend.notices import Notice, listed
from plumbend.shape.fit import Fit
from plumbend.shape.measured import Measured
from plumbend.shape.suspects import Accused, Found, Out, Suspect, Wrong
from plumbend.shape.tube_readings import BendRotation
from plumbend.units import Units, format_angle

MOST_NAMED = 3
"""Where more may be wrong than this, naming them all is no help."""

_MOST_LISTED = 6
"""Points that are listed by name, at most."""


def what_is_wrong(found: Found, measured: Measured, units: Units) -> list[Notice]:
    """A caution for each wrong point or reading that was left out, with all that it might be; one for all where they
    are many."""
    if len(found.wrong) > MOST_NAMED:
        return [_many_wrong(found, measured)]
    return [Notice("wrong-point", "caution", _said(wrong, found, measured, units)) for wrong in found.wrong]


def _said(wrong: Wrong, found: Found, measured: Measured, units: Units) -> str:
    first, *others = wrong.accused
    name = first.suspect.name(measured)
    own = [accused.suspect for accused in wrong.accused]
    also = [suspect.name(measured) for suspect in _in_order(found.out.difference(own))]
    said = [_looks(accused, found.fit, measured, units) for accused in wrong.accused]
    looks = "".join(f"{sentence} " for sentence in said if sentence)
    agree = "all others agree within their accuracies"
    if not others:
        # a point is called as it is painted on the vehicle
        begin = name.capitalize() if first.suspect.is_reading else name
        again = "Read" if first.suspect.is_reading else "Measure"
        return (
            f"{begin} is probably wrong: without {listed(['it', *also])} {agree}. The tube was fitted without {name}. "
            f"{looks}{again} it again; if it is right after all, say "
            f"--keep {_quoted(first.suspect.typed(measured))}."
        )
    names = listed([suspect.name(measured) for suspect in own])
    gone = [suspect.name(measured) for suspect in own] if wrong.all_out else [name]
    return (
        f"One of {names} is wrong; the others do not tell which. Without {listed([*gone, *also])} {agree}, and the "
        f"tube was fitted so. {looks}Measure {names} again, or say by --keep which is right."
    )


def _many_wrong(found: Found, measured: Measured) -> Notice:
    names = [suspect.name(measured) for suspect in _in_order(found.out)]
    what = "points and readings" if measured.readings else "points"
    open_ = [listed([one.suspect.name(measured) for one in wrong.accused]) for wrong in found.wrong if wrong.is_open]
    either = "".join(f" Of {names} only one is wrong; the others do not tell which." for names in open_)
    return Notice(
        "wrong-points",
        "caution",
        f"{len(found.wrong)} of the {len(measured.points) + len(measured.readings)} {what} are probably wrong: without "
        f"{listed(names)} all others agree within their accuracies, and the tube was fitted so.{either} Measure them "
        "again; if one is right after all, say --keep and its name.",
    )


def not_one_tube(out: Out, measured: Measured) -> Notice:
    """The refusal where so many are off the tube that most agree on that it is not sure which tube they are of."""
    names = listed([suspect.name(measured) for suspect in _in_order(out)])
    what = "points and readings" if measured.readings else "points"
    return Notice(
        "points-not-one-tube",
        "refusal",
        f"{len(out)} of the {len(measured.points) + len(measured.readings)} {what} are off the tube that most of the "
        f"others agree on: {names}. With so many it is not sure which tube they are of. Ways out: measure them again "
        "from one base, or correct bends and clr.",
    )


def _in_order(suspects: Iterable[Suspect]) -> list[Suspect]:
    return sorted(suspects, key=lambda one: (one.is_reading, one.index))


def _quoted(name: str) -> str:
    return f'"{name}"' if " " in name else name


def _looks(accused: Accused, fit: Fit, measured: Measured, units: Units) -> str:
    """What one looks like, a sentence; "" where nothing is known of that."""
    if accused.misread is not None:
        return accused.misread.said(accused.suspect.name(measured), units)
    return _other_sense(accused.suspect, fit, measured)


def _other_sense(suspect: Suspect, fit: Fit, measured: Measured) -> str:
    """What to say of a turn that was read the wrong way round."""
    reading = measured.readings[suspect.index] if suspect.is_reading else None
    if not isinstance(reading, BendRotation):
        return ""
    turn = float(fit.chain.rotations[reading.bend - 1])
    if abs(float(wrap_angle(turn + reading.rotation))) > 3 * reading.sd or abs(reading.rotation) < 3 * reading.sd:
        return ""
    way = "clockwise" if turn > 0 else "counter-clockwise"
    return f"It fits if the turn goes the other way, {format_angle(abs(reading.rotation))} degrees {way}."


def kept_as_asked(accused: Accused, measured: Measured, units: Units) -> Notice:
    """The caution about a point or reading that looks wrong and was kept."""
    name = accused.suspect.name(measured)
    begin = name.capitalize() if accused.suspect.is_reading else name
    looks = "" if accused.misread is None else accused.misread.said(name, units)
    said = f"{begin} goes ill with all others, and is kept as you asked. {looks}"
    return Notice("kept-point", "caution", said.strip())


def bent_without(likely: Sequence[Suspect], measured: Measured) -> list[Notice]:
    """Caution, beside a refusal, that one wrong point or reading may be behind it; nothing where many might."""
    names = [suspect.name(measured) for suspect in likely]
    if not 0 < len(names) <= MOST_NAMED:
        return []
    return [
        Notice(
            "wrong-point",
            "caution",
            f"A wrong point may be behind this: without {' or '.join(names)} all others agree within their "
            f"accuracies, and the tube can be bent. Measure {listed(names)} again first.",
        )
    ]


def not_seen_along(fit: Fit) -> list[Notice]:
    """What is not checked at points that only say where the tube runs past them."""
    names = [point.name for point in fit.evidence.points if point.what in ("centre", "outside", "touch")]
    if not names or fit.dof <= 0:
        return []
    if len(names) > _MOST_LISTED:
        names = [*names[: _MOST_LISTED - 1], f"{len(names) - _MOST_LISTED + 1} more"]
    said = f"Slips along the tube are not seen at {listed(names)}: only ends and corners check those."
    return [Notice("along-tube", "not-checked", said)]
