"""The text of a TOML file to what it holds."""

from __future__ import annotations

import tomllib
from typing import Any

from plumbend.errors import BadFile, Mistake


def parse_toml(text: str, name: str) -> dict[str, Any]:
    """The document that a TOML text holds.

    Args:
        text: with line ends "\\n".
        name: the file as the user named it.

    Raises:
        BadFile: the text breaks TOML's grammar; the first mistake, in plain words, with its line, and those in
            lines below it that are wrong whatever stands around them.
    """
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise BadFile([Mistake(name, None, "", "brackets stand inside brackets too deep", "Take some out.")]) from None
    except ValueError as fault:
        from plumbend.job.toml_faults import fault_in  # a file without faults does not pay for their words

        bad = fault_in(text, name, fault)
    raise bad
