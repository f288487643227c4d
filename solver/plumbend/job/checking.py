"""One table or row checked against what it may hold; every fault becomes a mistake in plain words."""

from __future__ import annotations

import difflib
from collections.abc import Mapping, Sequence
from typing import Any, TypeVar

from pydantic import ValidationError

from plumbend.job.places import Mistakes, Spot, shortened
from plumbend.job.tables import Table
from plumbend.job.values import Reading

T = TypeVar("T", bound=Table)

_ABOVE_ALL_TABLES = ("title", "units", "shop", "readings")


def read_table(model: type[T], typed: Mapping[str, Any], spot: Spot, reading: Reading, mistakes: Mistakes) -> T:
    """The table as ``model``; keys that are missing or wrong are None, and their mistakes are noted.

    A key that is misspelt counts as said in a way that cannot be read, so that nobody misses it as well.
    """
    bad: set[str] = set()
    misspelt: set[str] = set()
    try:
        table = model.model_validate(typed, context=reading)
    except ValidationError as faults:
        for fault in faults.errors(include_url=False, include_input=False):
            key = str(fault["loc"][0])
            bad.add(key)
            if fault["type"] == "extra_forbidden":
                note_unknown(model, key, spot, mistakes)
                misspelt.update(_nearest(key, list(model.typed_keys())))
            else:
                _note_wrong(key, typed[key], fault["ctx"], spot, mistakes)
        good = {key: value for key, value in typed.items() if key not in bad}
        table = model.model_validate(good, context=reading)
    for key in model.needed:
        if key not in typed and key not in misspelt:
            mistakes.add(spot, (), f'"{key}" is missing', f"Write {model.typed_keys()[key].description}.")
    return table.as_typed(typed, misspelt)


def _note_wrong(key: str, value: Any, told: dict[str, Any], spot: Spot, mistakes: Mistakes) -> None:
    keys: tuple[str | int, ...] = (key,)
    if told["entry"] is not None:
        keys, value = (key, told["entry"]), value[told["entry"]]
    text = shortened(spot.as_typed(keys, value)) if value != "" else ""
    mistakes.add(spot, keys, f'"{text}" {told["why"]}', told["mend"])


def note_unknown(model: type[Table], key: str, spot: Spot, mistakes: Mistakes, known_here: Sequence[str] = ()) -> None:
    """Note a key that the table does not have: not read yet, hung on the wrong table, or misspelt.

    ``known_here`` are the keys to suggest; left out, those of ``model``.
    """
    known, typed = known_here or list(model.typed_keys()), shortened(key)
    near = _nearest(key, known)
    if key in model.later:
        what, mend = f'"{typed}" is not read yet', "Take it out for now."
    elif key in _ABOVE_ALL_TABLES and spot.words and not known_here:
        note_below_heading(key, spot, mistakes)
        return
    elif near:
        what, mend = f'"{typed}" is not known here', f'Did you mean "{near[0]}"?'
    else:
        what, mend = f'"{typed}" is not known here', f"Known here: {', '.join(known)}."
    mistakes.add(spot, (key,), what, mend)


def _nearest(key: str, known: Sequence[str]) -> list[str]:
    """The known key that a misspelt one is most like, or none."""
    return difflib.get_close_matches(key.lower().replace(" ", "_").replace("-", "_"), known, n=1, cutoff=0.6)


def note_below_heading(key: str, spot: Spot, mistakes: Mistakes) -> None:
    """Note a key of the whole file that is typed below a heading, where TOML counts it as part of that table."""
    what = f'"{key}" stands below a heading in brackets, so it counts as part of that table'
    mistakes.add(spot, (key,), what, "Move it to the top of the file, above the first heading.")
