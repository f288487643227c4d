"""Scans whose neighbouring places are off together: for how many they count, and what that does to the doubts.

The errors of two places d mm apart are taken to be alike as exp(-d / reach) along every axis. The whole covariance of n
places is n squared; so the scan is fitted by plain least squares, with as much say as its places have together, and
only what that fit's numbers then scatter by is worked out, from the covariance of the gradient (the sandwich: White,
Econometrica 48 (1980)). Both come from some of the places, pair by pair: of a larger scan
2000 give a variance to a tenth.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.shape.chain import Chain, Motion, by_radius
from plumbend.shape.feet import feet
from plumbend.shape.scan import Scan

MOST_PAIRED = 2000
"""Places that are paired with one another."""


def shared_by_neighbours(at: FloatArray, reach: float, chain: Chain | None = None) -> float:
    """Mean correlation of the misses of two of the places (m, 3) mm.

    Beside a ``chain`` only what their errors have in common square to the tube counts, at both places; without, all of
    it, which is more.
    """
    few = _drawn(at)
    if len(few) < 2:
        return 0.0
    alike = _alike(few, reach)
    if chain is not None:
        outward = _outward(feet(chain, few).off)
        alike *= (outward @ outward.T) ** 2
    return (float(alike.sum()) - len(few)) / (len(few) * (len(few) - 1))


def gradient_noise(scan: Scan, chain: Chain, motion: Motion, *, with_radius: bool = False) -> FloatArray:
    """(p, p): covariance of the gradient of a scan's normal equations, as :meth:`plumbend.shape.scan.ScanRows.normal`
    gathers and weighs them, for places that are off together; (p + 1, p + 1) ``with_radius`` as the last number."""
    assert scan.alike is not None
    few, count = _drawn(scan.at), len(scan.at)
    foot = feet(chain, few)
    outward = _outward(foot.off)
    rows = motion.rows(outward[:, None, :], foot.place)[:, 0] * motion.layout.before[foot.element]
    if with_radius:
        rows = np.column_stack([rows, by_radius(lambda moved: np.linalg.norm(feet(moved, few).off, axis=1), chain)])
    alone = rows.T @ rows
    pairs = rows.T @ (_alike(few, scan.alike) * (outward @ outward.T)) @ rows - alone
    per_place = alone / len(few) + (count - 1) * pairs / (len(few) * max(len(few) - 1, 1))
    noise: FloatArray = count * per_place / (scan.sd * scan.off_together()) ** 2
    return noise


def _drawn(at: FloatArray) -> FloatArray:
    """Those of the places (m, 3) that are paired: drawn at random, but always the same ones."""
    if len(at) <= MOST_PAIRED:
        return at
    few: FloatArray = at[np.random.default_rng(0).choice(len(at), MOST_PAIRED, replace=False)]
    return few


def _alike(at: FloatArray, reach: float) -> FloatArray:
    """(m, m): how much the errors of places (m, 3) are alike along an axis."""
    off = at - at.mean(axis=0)
    sizes = (off**2).sum(axis=1)
    apart = np.sqrt(np.maximum(sizes[:, None] + sizes - 2 * (off @ off.T), 0.0))
    np.fill_diagonal(apart, 0.0)
    alike: FloatArray = np.exp(-apart / reach)
    return alike


def _outward(off: FloatArray) -> FloatArray:
    """Unit vectors (m, 3) from feet to places."""
    outward: FloatArray = off / np.maximum(np.linalg.norm(off, axis=1), 1e-9)[:, None]
    return outward
