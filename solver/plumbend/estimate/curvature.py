"""What curvature a quadratic lacks: learnt from steps that were taken, or from differences of the gradient."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import numpy.typing as npt

from plumbend.frames import FloatArray


def learnt(known: FloatArray | None, off: FloatArray, step: FloatArray, scale: FloatArray) -> FloatArray | None:
    """The curvature lacking, as ``known`` so far, after a step: a symmetric update of rank one.

    (Davidon 1959; Conn, Gould & Toint, Mathematical Programming 50 (1991), from memory.)

    Args:
        known: (p, p), None where nothing was learnt yet.
        off: (p,) how the gradient changed along the step, less what the quadratic without ``known`` had foretold.
        step: (p,).
        scale: (p,) doubts, in which both are judged.
    """
    if known is not None:
        off = off - known @ step
    seen, way = off * scale, step / scale
    along = float(seen @ way)
    if abs(along) <= 1e-3 * float(np.linalg.norm(seen)) * float(np.linalg.norm(way)):
        return known
    update = np.outer(off, off) / along
    return update if known is None else known + update


def by_differences(
    gradient: Callable[[FloatArray], FloatArray], movable: npt.NDArray[np.bool_], steps: FloatArray
) -> FloatArray:
    """(p, p) symmetric derivative of a gradient, by forward differences.

    Args:
        gradient: (p,) after a step (p,).
        movable: (p,) coordinates along which it is wanted; the rest are as if it did not change.
        steps: (p,) how far to go along each.
    """
    base = gradient(np.zeros(steps.size))
    hessian = np.zeros((steps.size, steps.size))
    for i in np.flatnonzero(movable).tolist():
        step = np.zeros(steps.size)
        step[i] = steps[i]
        hessian[i] = (gradient(step) - base) / step[i]
    return (hessian + hessian.T) / 2
