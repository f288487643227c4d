"""Random tubes that places on the body and the die's grip hold where they would not lie of themselves."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from plumbend.frames import FloatArray
from plumbend.shape.chain import Chain
from plumbend.shape.evidence import Evidence
from plumbend.shape.fit import FormingLimits
from plumbend.shape.points import Point, Standoff
from support.tubes import OD, RADIUS, clear_of_itself, leg_points, random_tube


@dataclass(frozen=True)
class Limited:
    """A tube as it was measured, and what it must keep.

    Attributes:
        evidence: centre points four to a leg, good to 1.6 mm, with places to touch exactly and to keep clear of.
        limits: with a grip that is longer than some straight, on half of the tubes with a straight between bends.
        start: a first guess beside the truth.
    """

    evidence: Evidence
    limits: FormingLimits
    start: Chain


def limited_tube(rng: np.random.Generator) -> Limited:
    """A tube of one to five bends and one to three places beside it, some 1-8 mm too near."""
    while True:
        tube = random_tube(rng, int(rng.integers(1, 6)), angles=(20.0, 110.0))
        if clear_of_itself(tube):
            break
    points = leg_points(tube, 4, rng, 1.6)
    for k in range(int(rng.integers(1, 4))):
        points.insert(-1, _beside(tube, f"body {k}", rng))
    grip = 0.0
    if tube.bends > 1 and rng.random() < 0.5:
        grip = float(tube.straights[1:-1].min() + rng.uniform(2.0, 12.0))
    return Limited(Evidence(points, tube.bends, OD), FormingLimits(RADIUS, grip), nearby(tube, rng))


def _beside(tube: Chain, name: str, rng: np.random.Generator) -> Point:
    """A place to keep clear of by some gap, or to touch exactly, where the tube stands 1-8 mm too near."""
    k = int(rng.integers(0, tube.bends + 1))
    _, n, a = tube.frames[2 * k].T
    way = rng.uniform(0, 2 * np.pi)
    gap = rng.uniform(0.0, 15.0)
    off = OD / 2 + gap - rng.uniform(1.0, 8.0)
    start, stop = tube.tangents()[k]
    at = start + rng.uniform(0.1, 0.9) * (stop - start) + off * (np.cos(way) * n + np.sin(way) * a)
    touch = rng.random() < 0.3
    return Point(name, "touch" if touch else "clear", at, np.eye(3) * 1.6**2, standoff=Standoff(gap, exact=touch))


def nearby(tube: Chain, rng: np.random.Generator) -> Chain:
    """The tube with every number some way off: 10 mm, 3 degrees, its place by 10 mm and 1 degree."""
    step = np.zeros(tube.parameters().size)
    step[:3], step[3:6] = rng.normal(0, 10.0, 3), rng.normal(0, np.radians(1.0), 3)
    step[6:] = rng.normal(0, np.radians(3.0), step.size - 6)
    step[6 : 7 + tube.bends] = rng.normal(0, 10.0, tube.bends + 1)
    moved: Chain = tube.moved(step, tube.origin)
    return moved


def turning_rate(turned: FloatArray) -> FloatArray:
    """(3, 3) how fast a rotation vector's own change turns the body: the left Jacobian of the rotation group.

    Barfoot, State Estimation for Robotics, 7.1.5 (from memory); to first order in tiny turns.
    """
    size = float(np.linalg.norm(turned))
    x, y, z = turned
    spin = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    if size < 1e-8:
        return np.eye(3) + spin / 2
    rate: FloatArray = np.eye(3) + (1 - np.cos(size)) / size**2 * spin + (size - np.sin(size)) / size**3 * (spin @ spin)
    return rate
