"""Tubes measured by points typed with their places, and slips in one of them."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from plumbend.job.model import Job, WantedTube
from plumbend.job.results import TubeResult
from plumbend.shape.chain import Chain
from plumbend.shape.points import Point
from plumbend.shop import Die
from plumbend.solving import solve
from plumbend.tubing import Tubing
from plumbend.units import Units
from support.tubes import OD, RADIUS, clear_of_itself, random_tube, turn_apart

SD = 1.6
"""mm: good to 1/8 in."""

DIE = Die("140", clr=RADIUS, od=OD, max_wrap=np.pi, grip=60.0)


@dataclass(frozen=True, slots=True, eq=False)
class MeasuredTube:
    """A tube, and its points as measured: both ends and 4 places on the axis of every leg."""

    tube: Chain
    points: tuple[Point, ...]

    def solved(self, *, units: Units = "in", told: bool = True, keep: tuple[str, ...] = ()) -> TubeResult:
        """Solved, with the number of bends ``told`` or not."""
        wanted = WantedTube("tube", DIE, self.points, bends=self.tube.bends if told else None)
        return solve(Job("test", units, Tubing(OD), (wanted,)), keep=keep).tubes[0]

    def index(self, rng: np.random.Generator) -> int:
        """One of the places on the legs."""
        return int(rng.integers(1, len(self.points) - 1))

    def slipped(self, i: int, size: float, rng: np.random.Generator) -> MeasuredTube:
        """Point ``i`` off by ``size`` mm in some direction square to the tube."""
        _, n, a = self.tube.frames[2 * ((i - 1) // 4)].T
        way = rng.uniform(0, 2 * np.pi)
        return self.moved(i, self.points[i].at + size * (np.cos(way) * n + np.sin(way) * a))

    def moved(self, i: int, at: np.ndarray) -> MeasuredTube:
        """Point ``i`` typed as ``at`` (3,)."""
        points = list(self.points)
        points[i] = replace(points[i], at=at)
        return MeasuredTube(self.tube, tuple(points))


def measured_tube(rng: np.random.Generator, bends: int, step: float = 0.0) -> MeasuredTube:
    """A random tube that does not run into itself, its points rounded to ``step`` mm."""
    while True:
        tube = random_tube(rng, bends)
        if clear_of_itself(tube):
            break
    places = [("A", "end", tube.origin)]
    for k, (start, stop) in enumerate(tube.tangents()):
        places += [(f"c{k + 1}.{j}", "centre", start + (j - 0.5) / 4 * (stop - start)) for j in range(1, 5)]
    places.append(("F", "end", tube.far_end))
    points = []
    for name, what, at in places:
        read = at + SD * rng.normal(size=3)
        read = step * np.round(read / step) if step else read
        points.append(Point(name, "end" if what == "end" else "centre", read, np.eye(3) * SD**2))
    return MeasuredTube(tube, tuple(points))


def suspects(tube: TubeResult) -> list[str]:
    """Names of the points that were left out."""
    assert tube.fit is not None
    return [point.name for point in tube.fit.points if point.suspect]


def doubts_apart(found: TubeResult, right: TubeResult) -> float:
    """The largest difference of two programs in doubts of the first; infinite where one was not found, or they have
    not the same bends or not the same numbers fixed."""
    if found.program is None or right.program is None or found.certainty is None or right.certainty is None:
        return np.inf
    if found.program.bends != right.program.bends:
        return np.inf
    known, both = found.certainty, (found.program, right.program)
    lost = [
        (np.isnan(mine) & ~np.isnan(clean)).any()
        for mine, clean in ((known.straights, right.certainty.straights), (known.angles, right.certainty.angles))
    ]
    if any(lost):
        return np.inf
    apart = [
        (both[0].straights - both[1].straights) / known.straights,
        turn_apart(both[0].rotations, both[1].rotations)[1:] / known.rotations[1:],
        (both[0].angles - both[1].angles) / known.angles,
    ]
    return float(np.nanmax(np.abs(np.concatenate(apart))))
