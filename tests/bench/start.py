"""How long the program takes to start, side by side with the imports that it cannot do without.

Run ``python tests/bench/start.py``; best of several runs, each in a fresh interpreter. It prints ratios and asserts
nothing: a clock on a busy machine is no test. The libraries come with their bytecode, so ours is written too, as it is
for a user from the second run on: a shell that forbids it would have our side compiled anew every time.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
RUNS = 9
ENVIRONMENT = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
PROGRAM = "from plumbend_cli.main import run; run()"


def seconds(*arguments: str) -> float:
    """Wall time of one fresh interpreter."""
    begin = time.perf_counter()
    subprocess.run([sys.executable, "-c", *arguments], cwd=ROOT, env=ENVIRONMENT, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - begin


def compare(limit: float, baseline: str, *arguments: str) -> None:
    """Print the best time of ``plumbend ARGUMENTS`` over the best of ``python -c BASELINE``, run in turn."""
    pairs = [(seconds(PROGRAM, *arguments), seconds(baseline)) for _ in range(RUNS)]
    ours, theirs = (min(times) for times in zip(*pairs, strict=True))
    print(f"{ours / theirs:5.2f}  (aim: {limit})  {ours:.3f} s  plumbend {' '.join(arguments)}")
    print(f"{'':19}{theirs:.3f} s  python -c '{baseline}'")


def main() -> None:
    """Help against typer alone, each sample against the libraries that solving would use."""
    compare(1.6, "import typer", "--help")
    for job in sorted((ROOT / "samples").glob("*.toml")):
        if "[[tube]]" in job.read_text(encoding="utf-8"):
            compare(1.0, "import numpy, scipy.optimize, typer, rich.table", "solve", f"samples/{job.name}")


if __name__ == "__main__":
    main()
