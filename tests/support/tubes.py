"""Random plausible tubes and points on them; every draw comes from a generator that the test seeds."""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.making.crossing import nearest_parts
from plumbend.shape.chain import Chain
from plumbend.shape.points import Point

RADIUS = 140.0
OD = 44.45


def random_frame(rng: np.random.Generator) -> FloatArray:
    """A right-handed frame (3, 3), any way round alike."""
    frame, triangle = np.linalg.qr(rng.normal(size=(3, 3)))
    frame = frame * np.sign(np.diagonal(triangle))
    return frame * np.linalg.det(frame)


def random_tube(
    rng: np.random.Generator,
    bends: int,
    *,
    angles: tuple[float, float] = (15.0, 110.0),
    straights: tuple[float, float] = (150.0, 750.0),
    radius: float = RADIUS,
) -> Chain:
    """A tube somewhere within a few metres; angles in degrees, straights in mm."""
    rotations = rng.uniform(-np.pi, np.pi, bends)
    rotations[:1] = 0.0
    return Chain(
        rng.uniform(-1500, 1500, 3),
        random_frame(rng),
        rng.uniform(*straights, bends + 1),
        rotations,
        np.radians(rng.uniform(*angles, bends)),
        radius,
    )


def corner_points(tube: Chain, sd: float = 2.5) -> list[Point]:
    """Both ends and every corner, free of error, good to ``sd`` each."""
    corners = tube.corners()
    last = len(corners) - 1
    return [
        Point(f"P{k}", "end" if k in (0, last) else "corner", place, np.eye(3) * sd**2)
        for k, place in enumerate(corners)
    ]


def leg_points(tube: Chain, per_leg: int, rng: np.random.Generator, sd: float, *, told: bool = False) -> list[Point]:
    """Ends, and points spread over every straight, each with errors of ``sd`` mm along every axis."""
    points = []
    for k, (start, stop) in enumerate(tube.tangents()):
        for j in range(per_leg):
            is_end = (k == 0 and j == 0) or (k == tube.bends and j == per_leg - 1)
            part = 0.0 if k == 0 and j == 0 else 1.0 if is_end else (j + 0.5) / per_leg
            at = start + part * (stop - start) + sd * rng.normal(size=3)
            what, leg = ("end", None) if is_end else ("centre", k + 1 if told else None)
            points.append(Point(f"p{k}.{j}", what, at, np.eye(3) * max(sd, 1e-3) ** 2, leg=leg))
    return points


def outside_points(tube: Chain, per_leg: int, rng: np.random.Generator, sd: float) -> list[Point]:
    """Both ends, and points spread along and round every straight, on its outside, with errors of ``sd`` mm."""
    places = [("end", tube.origin)]
    for k, (start, stop) in enumerate(tube.tangents()):
        _, n, a = tube.frames[2 * k].T
        first = rng.uniform(0, 2 * np.pi)
        for j in range(per_leg):
            way = first + 2.4 * j
            round_it = OD / 2 * (np.cos(way) * n + np.sin(way) * a)
            places.append(("outside", start + (j + 0.5) / per_leg * (stop - start) + round_it))
    places.append(("end", tube.far_end))
    return [
        Point(f"o{i}", what, at + sd * rng.normal(size=3), np.eye(3) * max(sd, 1e-3) ** 2)
        for i, (what, at) in enumerate(places)
    ]


def scan_places(tube: Chain, count: int, rng: np.random.Generator, sd: float, od: float = OD) -> FloatArray:
    """Places (count, 3) anywhere on the outside of a tube, in any order, with errors of ``sd`` mm."""
    lengths = np.empty(2 * tube.bends + 1)
    lengths[::2], lengths[1::2] = tube.straights, tube.radius * tube.angles
    element = rng.choice(lengths.size, count, p=lengths / lengths.sum())
    along, way = rng.uniform(0, lengths[element]), rng.uniform(0, 2 * np.pi, count)
    frames, origins = tube.frames[element], tube.origins[element]
    bent = (element % 2 == 1)[:, None]
    u, n, a = (frames[:, :, i] for i in range(3))
    turned = (along / tube.radius)[:, None]
    outward = np.where(bent, np.sin(turned) * u - np.cos(turned) * n, -n)
    axis = origins + np.where(bent, tube.radius * outward, along[:, None] * u)
    off = od / 2 * (np.cos(way)[:, None] * outward + np.sin(way)[:, None] * a)
    return axis + off + sd * rng.normal(size=(count, 3))


def clear_of_itself(tube: Chain, clearance: float = OD) -> bool:
    """Whether no two parts of a tube come nearer to each other than ``clearance``, axis to axis.

    Parts count from twice the clearance apart along the tube: on the way round a bend all nearer ones are near.
    """
    return nearest_parts(*tube.polyline(0.5), 2 * clearance).distance >= clearance


def turn_apart(one: FloatArray, other: FloatArray) -> FloatArray:
    """Difference of rotations modulo a full turn, radians in [-pi, pi]."""
    return np.angle(np.exp(1j * (one - other)))


def assert_same_program(chain: Chain, wanted: Chain, mm: float, degrees: float) -> None:
    """Straights within ``mm``; rotations and angles within ``degrees``."""
    assert np.abs(chain.straights - wanted.straights).max() <= mm
    if wanted.bends:
        assert np.degrees(np.abs(turn_apart(chain.rotations, wanted.rotations))).max() <= degrees
        assert np.degrees(np.abs(chain.angles - wanted.angles)).max() <= degrees
