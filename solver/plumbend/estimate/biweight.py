"""Tukey's biweight: a loss that counts a large miss no more than a moderate one.

A miss r counts rho(r) = w^2/3 (1 - (1 - (r/w)^2)^3), and w^2/3 beyond the width w (Beaton & Tukey, Technometrics 16
(1974)); near 0 that is r^2.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray


def biweight(misses: FloatArray, width: float) -> tuple[float, FloatArray]:
    """What misses (m,) count together, and the factors (m,) on their rows with which least squares fall alike.

    The squares of these factors are the weights of iteratively reweighted least squares.
    """
    rest: FloatArray = np.maximum(1 - (misses / width) ** 2, 0.0)
    return width**2 / 3 * float((1 - rest**3).sum()), rest
