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
from support.end_jobs import BARE_HEAD, tube_table

RUNS = 9
HEAD = f"{BARE_HEAD}grip = 60\n"
THROUGH = tube_table(
    "through",
    2,
    "A end at = [0, 0, 0]",
    "a centre leg = 1, at = [300, 1, 1]",
    "B corner at = [600, 0, 0]",
    "b centre leg = 2, at = [900, 151, 50]",
    "C corner at = [1400, 400, 134]",
    "c centre leg = 3, at = [1800, 401, 134]",
    "F end at = [2200, 400, 134]",
)
BRANCHES = {  # two places, the end, and what it is on
    "post": ("[598, 6, 602]", "[599, 6, 151]", "[598, 7, 2]", '"through"'),
    "stay": ("[248, -415, 247]", "[512, -99, 62]", "[598, 7, 2]", '["through", "post"]'),
    "brace": ("[949, -415, 247]", "[687, -99, 62]", "[598, 7, 2]", '["through", "post", "stay"]'),
}


def job_of(folder: Path, *, joined: bool) -> Job:
    """The four tubes, their ends in a node or where they were measured."""
    text = HEAD + THROUGH
    for name, (first, second, end, on) in BRANCHES.items():
        far = f"F end at = {end}" + f", on = {on}" * joined
        text += tube_table(name, 0, f"A end at = {first}", f"b centre at = {second}", far)
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
