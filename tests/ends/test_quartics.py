"""Roots of many quartics against those they were made from, and against the eigenvalues that numpy takes them for."""

import numpy as np
import numpy.typing as npt
import pytest

from plumbend.ends.quartics import FLAT, quartic_roots

ComplexArray = npt.NDArray[np.complex128]

RNG = np.random.default_rng(40)
A, B, D = RNG.uniform(-1.5, 1.5, (3, 2000))
ZERO = np.zeros_like(A)


def made_from(roots: ComplexArray) -> tuple[npt.NDArray[np.float64], ...]:
    """The coefficients of quartics with these roots (m, 4), whose sum is 0 for each."""
    pairs = sum(roots[:, i] * roots[:, j] for i in range(4) for j in range(i))
    triples = sum(np.prod(np.delete(roots, i, axis=1), axis=1) for i in range(4))
    return np.real(pairs), -np.real(triples), np.real(np.prod(roots, axis=1))


@pytest.mark.parametrize(
    ("roots", "off"),
    [
        (np.stack([A, B, D, -A - B - D], axis=1), 1e-8),
        (np.stack([A + D, A - D, -A + 1j * B, -A - 1j * B], axis=1), 1e-10),
        (np.stack([A + 1j * B, A - 1j * B, -A + 1j * D, -A - 1j * D], axis=1), 1e-10),
        (np.stack([B, -B, D, -D], axis=1), 1e-8),
        (np.stack([A, A, -A, -A], axis=1), 1e-8),  # a line that touches a bend twice
        (np.stack([A, A, -A + D, -A - D], axis=1), 1e-6),  # once: a double root is known to half the digits
        (np.stack([ZERO, ZERO, D, -D], axis=1), 1e-8),
    ],
)
def test_known_roots_are_found(roots: ComplexArray, off: float) -> None:
    x, real, slope = quartic_roots(*made_from(roots))
    assert np.abs(np.sort(x, axis=1) - np.sort(np.real(roots), axis=1)).max() < off
    assert (real.sum(axis=1) == (np.abs(np.imag(roots)) < 1e-6).sum(axis=1)).all()
    # between single roots it falls and rises in turn
    single = real.all(axis=1) & (np.abs(slope) > FLAT).all(axis=1)
    signs = np.sign(np.take_along_axis(slope, np.argsort(x, axis=1), axis=1))[single]
    assert (signs == [-1, 1, -1, 1]).all()


def test_as_the_eigenvalues_of_the_companion_matrix() -> None:
    """Edelman and Murakami, Polynomial roots from companion matrix eigenvalues (1995), by numpy."""
    coefficients = RNG.uniform(-3, 3, (300, 3))
    x, _, _ = quartic_roots(*coefficients.T)
    expected = [np.sort(np.roots([1, 0, *row]).real) for row in coefficients]
    assert np.sort(x, axis=1) == pytest.approx(np.array(expected), abs=1e-7)
