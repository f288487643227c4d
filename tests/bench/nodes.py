"""How long a node of four tubes takes to solve, beside the same four tubes with their ends measured.

Run ``python tests/bench/nodes.py``; best of several runs in one interpreter, after all imports. It prints seconds of
the processor, which are those of the clock on a machine that has nothing else to do, and asserts nothing.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from plumbend.cutting import cuts_of
from plumbend.job.model import Job
from plumbend.job.reader import read_job
from plumbend.solving import solve
from support import end_jobs

RUNS = 9
HEAD = f"{end_jobs.HEAD}grip = 60\n"
THROUGH = """
[[tube]]
name = "through"
bends = 2
points = [
  { name = "A", what = "end", at = [0, 0, 0] },
  { name = "a", what = "centre", leg = 1, at = [300, 1, 1] },
  { name = "B", what = "corner", at = [600, 0, 0] },
  { name = "b", what = "centre", leg = 2, at = [900, 151, 50] },
  { name = "C", what = "corner", at = [1400, 400, 134] },
  { name = "c", what = "centre", leg = 3, at = [1800, 401, 134] },
  { name = "F", what = "end", at = [2200, 400, 134] },
]
"""
BRANCHES = {  # two places, the end, and what it is on
    "post": ("[598, 6, 602]", "[599, 6, 151]", "[598, 7, 2]", "through"),
    "stay": ("[248, -415, 247]", "[512, -99, 62]", "[598, 7, 2]", '["through", "post"]'),
    "brace": ("[949, -415, 247]", "[687, -99, 62]", "[598, 7, 2]", '["through", "post", "stay"]'),
}


def job_of(folder: Path, *, joined: bool) -> Job:
    """The four tubes, their ends in a node or where they were measured."""
    text = HEAD + THROUGH
    for name, (first, second, end, on) in BRANCHES.items():
        on = on if on.startswith("[") else f'"{on}"'
        text += f"""
[[tube]]
name = "{name}"
bends = 0
points = [
  {{ name = "A", what = "end", at = {first} }},
  {{ name = "b", what = "centre", at = {second} }},
  {{ name = "F", what = "end", at = {end}{f", on = {on}" if joined else ""} }},
]
"""
    file = folder / "job.toml"
    file.write_text(text, encoding="utf-8")
    return read_job(file)


def best(job: Job) -> float:
    """Seconds of the fastest of several runs."""
    times = []
    for _ in range(RUNS):
        begin = time.process_time()
        result = solve(job)
        times.append(time.process_time() - begin)
        if result.exit_status:
            refusals = [n.text for tube in result.tubes for n in tube.notices if n.level == "refusal"]
            raise SystemExit("\n".join(refusals))
    assert len(cuts_of(job, result)) == sum(len(tube.meetings) for tube in job.tubes)
    return min(times)


def main() -> None:
    """A node of four tubes, and the same apart."""
    with tempfile.TemporaryDirectory() as folder:
        together, apart = (best(job_of(Path(folder), joined=joined)) for joined in (True, False))
    print(f"{together:.3f} s  a node of four tubes (aim: 0.2)")
    print(f"{apart:.3f} s  the same tubes, their ends measured")


if __name__ == "__main__":
    main()
