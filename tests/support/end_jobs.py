"""Jobs whose tubes end on each other or on a post, as text (mm, tube of 40 x 2, and a die for it), and what comes of
them."""

from __future__ import annotations

from pathlib import Path

from plumbend.job.reader import read_job
from plumbend.job.results import EndMet, Result, TubeResult
from plumbend.solving import solve

CLR = 150.0
OUTER, POST_RADIUS = 20.0, 24.0
"""Outside radii of the tube and of the post, mm."""
TRIM = 25.0
"""mm to trim where nothing is said."""
BARE_HEAD = """
units = "mm"
[tubing]
od = 40
wall = 2
[good_to]
point = 2
[[die]]
clr = 150
od = 40
"""
"""The job's head; what follows at once are further keys of the die."""
POST = """
[[neighbour]]
name = "post"
tube = [ [1000, 500, 0], [1000, 500, 1500] ]
od = 48
"""
HEAD = f"""{BARE_HEAD}grip = 60
max_wrap = 180
tail = 0
{POST}[[neighbour]]
name = "deck"
plate = [ [0, 0, 10] ]
faces = "up"
"""
"""A head whose die says all, with the post and a deck."""


def tube_table(name: str, bends: int, *points: str) -> str:
    """A ``[[tube]]`` table; a point is its name, what it is, and its other keys as they are typed."""
    rows = "".join(
        f'  {{ name = "{called}", what = "{what}", {keys} }},\n'
        for called, what, keys in (point.split(maxsplit=2) for point in points)
    )
    return f'\n[[tube]]\nname = "{name}"\nbends = {bends}\npoints = [\n{rows}]\n'


RAIL = tube_table(
    "rail",
    1,
    "A end at = [300, 500, 50]",
    "B corner at = [300, 500, 600]",
    "c centre at = [700, 500, 600]",
    'F end on = "post", allowance = 3',
)
HOOP = tube_table(
    "hoop",
    2,
    'A end on = "deck"',
    "d centre leg = 1, at = [1000, 800, 300]",
    "B corner at = [1000, 800, 900]",
    "m centre leg = 2, at = [1000, 500, 900]",
    "C corner at = [1000, 200, 900]",
    "e centre leg = 3, at = [1000, 200, 300]",
    'F end on = "deck"',
)
ON_HOOP = tube_table("rail", 0, "A end at = [100, 500, 900]", "b centre at = [500, 500, 900]", 'F end on = "hoop"')


def result_of(folder: Path, text: str) -> Result:
    """Of a job file in a folder."""
    (folder / "job.toml").write_text(text, encoding="utf-8")
    return solve(read_job(folder / "job.toml"))


def solved(folder: Path, text: str, name: str = "rail") -> TubeResult:
    """The tube of that name."""
    return next(tube for tube in result_of(folder, text).tubes if tube.name == name)


def straights(tube: TubeResult) -> list[float]:
    """Of its program, mm."""
    assert tube.program is not None
    found: list[float] = tube.program.straights.tolist()
    return found


def met_at(tube: TubeResult, end: str) -> EndMet:
    """How an end stands to what it is on."""
    return next(met for met in tube.met if met.end == end)


def said(tube: TubeResult, code: str) -> list[str]:
    """The notices whose codes begin so."""
    return [notice.text for notice in tube.notices if notice.code.startswith(code)]
