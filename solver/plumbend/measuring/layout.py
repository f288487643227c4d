"""Places laid out by tapes alone, and planes by their pairs: first guesses where single readings do not do."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from plumbend.frames import FloatArray
from plumbend.measuring.lengths import OffPlane, Tape
from plumbend.measuring.network import Network
from plumbend.measuring.places import CentrePlane
from plumbend.measuring.readings import Reading
from plumbend.measuring.relations import SymmetricPair

_HEADINGS = 8


def attitudes(network: Network, found: Mapping[str, FloatArray]) -> list[dict[str, FloatArray]]:
    """Places that tapes tie to each other, in several attitudes, each (3,) mm by name; none where no three are tied, or
    no two of those that are not ``found``: one alone is met by what was read from the found ones.

    Classical scaling (Torgerson 1952) of the distances, those not taped taken along the shortest way over tapes. Three
    or more places already ``found`` among them settle all but the reflection.
    """
    names = _largest_tied(network, found)
    tapes = (reading for reading in network.readings if isinstance(reading, Tape))
    if len(names) < 3 or not any(set(tape.places) <= set(names) - found.keys() for tape in tapes):
        return []
    shape = _scaled(_distances(network, names))
    known = [i for i, name in enumerate(names) if name in found]
    target = np.array([found[names[i]] for i in known]).reshape(-1, 3)
    middle = target.mean(axis=0) if known else np.zeros(3)
    own_middle = shape[known].mean(axis=0) if known else np.zeros(3)
    placed = []
    flat = not shape[:, 2].any()  # its reflection is itself
    for reflected in (shape,) if flat else (shape, shape * [1.0, 1.0, -1.0]):
        centred = reflected - own_middle * ([1.0, 1.0, 1.0] if reflected is shape else [1.0, 1.0, -1.0])
        turns = [_best_turn(centred[known], target - middle)] if len(known) >= 3 else _about_up()
        placed += [centred @ turn.T + middle for turn in turns]
    return [{name: at[i] for i, name in enumerate(names) if name not in found} for at in placed]


def _largest_tied(network: Network, found: Mapping[str, FloatArray]) -> list[str]:
    """The most places that tapes tie together and that are not all found."""
    neighbours: dict[str, set[str]] = {place.name: set() for place in network.places}
    for reading in network.readings:
        if isinstance(reading, Tape):
            one, other = reading.places
            neighbours[one].add(other)
            neighbours[other].add(one)
    best: list[str] = []
    seen: set[str] = set()
    for name in neighbours:
        if name in found or name in seen:
            continue
        tied, edge = {name}, [name]
        while edge:
            new = neighbours[edge.pop()] - tied
            tied |= new
            edge += new
        seen |= tied
        if len(tied) > len(best):
            best = [place for place in neighbours if place in tied]
    return best


def _distances(network: Network, names: list[str]) -> FloatArray:
    """(n, n) mm between places, along tapes (Floyd's shortest paths)."""
    index = {name: i for i, name in enumerate(names)}
    apart = np.full((len(names), len(names)), np.inf)
    np.fill_diagonal(apart, 0.0)
    for reading in network.readings:
        if isinstance(reading, Tape) and reading.start in index:
            i, j = index[reading.point], index[reading.start]
            apart[i, j] = apart[j, i] = reading.measured()[0]
    for k in range(len(names)):
        apart = np.minimum(apart, apart[:, k : k + 1] + apart[k])
    return apart


def _scaled(apart: FloatArray) -> FloatArray:
    """(n, 3) places with about these distances, widest first."""
    count = len(apart)
    centring = np.eye(count) - 1 / count
    sizes, ways = np.linalg.eigh(-0.5 * centring @ apart**2 @ centring)
    places = np.zeros((count, 3))
    widest = np.argsort(sizes)[::-1][:3]
    places[:, : widest.size] = ways[:, widest] * np.sqrt(np.maximum(sizes[widest], 0.0))
    return places


def _best_turn(shape: FloatArray, target: FloatArray) -> FloatArray:
    """Rotation (3, 3) that brings ``shape`` nearest to ``target`` (Kabsch 1976)."""
    u, _, v = np.linalg.svd(target.T @ shape)
    turn: FloatArray = u @ np.diag([1.0, 1.0, np.sign(np.linalg.det(u @ v))]) @ v
    return turn


def _about_up() -> list[FloatArray]:
    """Turns (3, 3) about up, all round."""
    angles = 2 * np.pi * np.arange(_HEADINGS) / _HEADINGS
    return [np.array([[np.cos(a), -np.sin(a), 0.0], [np.sin(a), np.cos(a), 0.0], [0.0, 0.0, 1.0]]) for a in angles]


def plane_through(plane: CentrePlane, readings: Sequence[Reading], at: Mapping[str, FloatArray]) -> FloatArray | None:
    """Offset in mm and heading in radians of a plane, by pairs and offsets of found places; None where none are."""
    passes, across = [], []
    for reading in readings:
        if reading.plane != plane.name or any(name not in at for name in reading.places):
            continue
        if isinstance(reading, SymmetricPair):
            left, right = at[reading.left], at[reading.right]
            passes.append((left + right)[:2] / 2)
            across.append((left - right)[:2])
        elif isinstance(reading, OffPlane):
            passes.append(at[reading.point][:2] - [0.0, reading.measured()[0]])
    if not passes:
        return None
    heading = plane.heading
    x, y = np.array(passes).T
    if heading is None and across:
        dx, dy = np.sum(across, axis=0)
        heading = float(np.arctan2(-dx, dy))
    if heading is None:
        slope = float(np.polyfit(x, y, 1)[0]) if np.ptp(x) > 0 else 0.0
        heading = float(np.arctan(slope))
    offset = plane.offset if plane.offset is not None else float(np.mean(y - x * np.tan(heading)))
    return np.array([offset, heading])
