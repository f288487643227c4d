"""Records are frozen dataclasses in all that their users see."""

from __future__ import annotations

import copy
import pickle
from dataclasses import FrozenInstanceError, asdict, dataclass, field, fields, replace

import pytest

from plumbend.records import record


@record
class Bend:
    """A record with equality."""

    angle: float
    name: str = "bend"
    note: str = field(default="", compare=False, repr=False)


@record(eq=False)
class Held:
    """A record that is itself alone."""

    values: list[float]


@record(kw_only=True)
class Named:
    """Fields by name, one of them checked."""

    radius: float

    def __post_init__(self) -> None:
        if self.radius <= 0:
            raise ValueError("radius")


@dataclass(frozen=True, slots=True)
class Standard:
    """What the standard library makes of the same fields."""

    angle: float
    name: str = "bend"
    note: str = field(default="", compare=False, repr=False)


def test_a_field_is_set_once() -> None:
    bend = Bend(90.0)
    with pytest.raises(FrozenInstanceError, match="cannot assign to field 'angle'"):
        setattr(bend, "angle", 45.0)  # noqa: B010 - what a type checker would not let pass
    with pytest.raises(FrozenInstanceError, match="cannot delete field 'angle'"):
        del bend.angle
    with pytest.raises(AttributeError):
        setattr(bend, "angel", 45.0)  # noqa: B010 - likewise, and no field at all
    assert bend.angle == 90.0


def test_records_compare_and_show_as_the_standard_ones_do() -> None:
    same, other = Bend(90.0, note="first"), Bend(45.0)
    assert Bend(90.0) == same
    assert Bend(90.0) != other
    alike: object = Standard(90.0)
    assert Bend(90.0) != alike
    assert len({Bend(90.0), same, other}) == 2
    assert hash(Bend(90.0)) == hash(Standard(90.0))
    assert repr(same) == repr(Standard(90.0)).replace("Standard", "Bend")


def test_records_without_equality_are_themselves_alone() -> None:
    held = Held([1.0])
    assert held != Held([1.0])
    assert held in {held}


def test_the_tools_for_dataclasses_take_records() -> None:
    bend = Bend(90.0, "last", "note")
    assert replace(bend, angle=45.0) == Bend(45.0, "last")
    assert asdict(bend) == {"angle": 90.0, "name": "last", "note": "note"}
    assert [each.name for each in fields(bend)] == ["angle", "name", "note"]
    assert copy.deepcopy(bend) == bend
    assert pickle.loads(pickle.dumps(bend)) == bend
    assert not hasattr(bend, "__dict__")


def test_fields_by_name_alone_are_checked_after() -> None:
    assert Named(radius=140.0).radius == 140.0
    with pytest.raises(ValueError, match="radius"):
        Named(radius=0.0)
    with pytest.raises(TypeError):
        Named(140.0)  # type: ignore[call-arg]  # what is refused
