"""Plain data that is cheap to define.

The standard library writes and compiles some six methods for every frozen dataclass, about a millisecond of them for
each. A program that starts anew for every answer and knows two hundred records feels that: here only ``__init__`` is
compiled, and every record shares the rest.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import Field, FrozenInstanceError, dataclass, field
from typing import Any, TypeVar, dataclass_transform, overload

T = TypeVar("T")


def _set_once(self: object, name: str, value: object) -> None:
    if hasattr(self, name):
        raise FrozenInstanceError(f"cannot assign to field {name!r}")
    object.__setattr__(self, name, value)


def _never_deleted(_self: object, name: str) -> None:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _shown(self: Any) -> str:
    values = (f"{name}={getattr(self, name)!r}" for name, of in self.__dataclass_fields__.items() if of.repr)
    return f"{type(self).__qualname__}({', '.join(values)})"


def _compared(self: Any) -> tuple[Any, ...]:
    return tuple(getattr(self, name) for name, of in self.__dataclass_fields__.items() if of.compare)


def _equal(self: object, other: object) -> bool:
    return _compared(self) == _compared(other) if type(self) is type(other) else NotImplemented


def _hashed(self: object) -> int:
    return hash(_compared(self))


@overload
def record(cls: type[T], /) -> type[T]: ...
@overload
def record(*, eq: bool = True, kw_only: bool = False) -> Callable[[type[T]], type[T]]: ...
@dataclass_transform(frozen_default=True, field_specifiers=(field, Field))
def record(
    cls: type[T] | None = None, /, *, eq: bool = True, kw_only: bool = False
) -> type[T] | Callable[[type[T]], type[T]]:
    """A class decorator: as ``dataclasses.dataclass`` with ``frozen`` and ``slots``, and with its ``fields``,
    ``replace`` and ``asdict``.

    Args:
        cls: the class, whose annotations are its fields.
        eq: records with equal fields are equal, and may be hashed where their fields may; else each is itself alone,
            as where it holds arrays.
        kw_only: its fields are given by name alone.

    Raises:
        FrozenInstanceError: by the records, where a field is set anew or deleted.
    """

    def made(plain: type[T]) -> type[T]:
        shared: dict[str, object] = {"__setattr__": _set_once, "__delattr__": _never_deleted, "__repr__": _shown}
        if eq:
            shared |= {"__eq__": _equal, "__hash__": _hashed}
        for name, method in shared.items():
            if name not in vars(plain):
                setattr(plain, name, method)
        return dataclass(slots=True, eq=False, repr=False, kw_only=kw_only)(plain)

    return made if cls is None else made(cls)
