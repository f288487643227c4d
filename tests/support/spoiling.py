"""Small faults in a text, of the kinds that hands make."""

from __future__ import annotations

import numpy as np

SNIPPETS = [
    "0",
    "-",
    "1e9",
    "L",
    '"',
    "[",
    "]",
    "{",
    "}",
    ",",
    "=",
    "nan",
    "5-1/2",
    "\n",
    "#",
    "true",
    "'",
    ".",
    "é",
    ";",
]


def spoiled(text: str, rng: np.random.Generator) -> str:
    """The text with one to three small faults of the kinds that hands make."""
    for _ in range(rng.integers(1, 4)):
        lines = text.splitlines(keepends=True)
        at = int(rng.integers(0, len(text)))
        line = int(rng.integers(0, len(lines)))
        match int(rng.integers(0, 6)):
            case 0:
                text = text[:at] + text[at + 1 :]
            case 1:
                text = text[:at] + str(rng.choice(SNIPPETS)) + text[at:]
            case 2:
                text = "".join(lines[:line] + lines[line + 1 :])
            case 3:
                text = "".join([*lines[:line], lines[line], *lines[line:]])
            case 4:
                text = "".join(str(rng.integers(0, 10)) if c.isdigit() and rng.random() < 0.02 else c for c in text)
            case _:
                other = int(rng.integers(0, len(lines)))
                lines[line], lines[other] = lines[other], lines[line]
                text = "".join(lines)
        text = text or " "
    return text
