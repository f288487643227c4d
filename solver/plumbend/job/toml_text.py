"""Values as TOML text, in the layout of job files; the writer of TOML is loaded with the first of them."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import TypeAlias

Value: TypeAlias = str | int | float | bool | Sequence["Value"] | Mapping[str, "Value"]
"""What may stand behind a key. Text is kept as it was typed: "36-9/16" stays that."""

Row: TypeAlias = Mapping[str, Value]

_BARE_KEY = re.compile(r"[A-Za-z0-9_-]+")
_NEEDS_DOUBLE_QUOTES = re.compile(r"['\x00-\x1f\x7f]")


def value_text(value: Value) -> str:
    """A value as it stands behind its key, on one line."""
    if isinstance(value, Mapping):
        pairs = [key_text(key, entry) for key, entry in value.items()]
        return f"{{ {', '.join(pairs)} }}" if pairs else "{}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return f"[{', '.join(map(value_text, value))}]"
    import tomlkit  # only what writes needs it

    if isinstance(value, str) and re.search(r'["\\]', value) and not _NEEDS_DOUBLE_QUOTES.search(value):
        return tomlkit.string(value, literal=True).as_string()  # '34-3/8"' rather than "34-3/8\""
    return tomlkit.item(value).as_string()


def key_text(key: str, value: Value) -> str:
    """A key with its value, such as ``tape = "36-9/16"``."""
    return f"{dotted((key,))} = {value_text(value)}"


def dotted(keys: Sequence[str]) -> str:
    """Keys as they stand before an equals sign or in a header."""
    return ".".join(key if _BARE_KEY.fullmatch(key) else value_text(key) for key in keys)
