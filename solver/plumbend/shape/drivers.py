"""What drives the doubt of a tube's numbers: the share that each measurement has in it.

To first order the numbers of a fit move by E = C J^T for every unit of its whitened residuals, C their covariance and
J the whitened rows. Whitened residuals are independent and of variance 1, so a number's variance is the sum of the
squares of its row of E: E E^T = C J^T J C = C, also where limits and demands leave only some directions free (then
C = Z (Z^T H Z)^-1 Z^T). A share is what one measurement adds to that sum; shares of one number add up to 1. Points that
readings place are followed back to the readings: the places move by F = S A^T for every unit of a reading's own doubt,
S their covariance and A the readings' whitened rows (Koch, Parameter Estimation and Hypothesis Testing in Linear
Models, 2.7: propagation of errors through linear functions).

What was measured of an existing part drives its own numbers and the radius of its bends, and these together those of
the copy: with D their derivatives E = D C J^T, C and J being those of the part with its radius as one number more.
"""

from __future__ import annotations

import numpy as np

from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.certainty import Certainty
from plumbend.shape.chain import layout
from plumbend.shape.copies import Copy
from plumbend.shape.evidence import Weights
from plumbend.shape.fit import Fit
from plumbend.shape.known_together import PlacedBy, spread

SCAN = "the scan"
"""What a scan is called among the measurements; its points together are one."""


@record(eq=False)
class Drivers:
    """Shares of q measurements in the variance of every number; they add up to 1. A row is NaN where the number has
    no doubt of its own: nothing fixes it, or a limit or a demand holds it.

    Attributes:
        measured: (q,) names: points as typed, readings of the vehicle as typed, those of the tube and demands in words.
        straights: (n + 1, q).
        rotations: (n, q), the first NaN.
        angles: (n, q).
        developed_length: (q,).
        own_radius: (q,), that of an existing part's bends; NaN where nothing tells it, None for what is no copy.
    """

    measured: tuple[str, ...]
    straights: FloatArray
    rotations: FloatArray
    angles: FloatArray
    developed_length: FloatArray
    own_radius: FloatArray | None = None


def drivers_of(fit: Fit, certainty: Certainty, placed_by: PlacedBy | None = None, copy: Copy | None = None) -> Drivers:
    """Shares of all measurements in the doubt of a fitted tube's numbers.

    Args:
        fit: at its least sum of squares.
        certainty: of the same fit.
        placed_by: the readings that place some of its points; None where all were typed.
        copy: the same tube where it is one.
    """
    chain, where = fit.chain, layout(fit.chain.bends)
    numbers = np.eye(where.size)
    length = np.zeros(where.size)
    length[where.straights] = 1.0
    length[where.angles] = chain.radius
    rows = np.concatenate(
        [numbers[where.straights], numbers[where.rotations], numbers[where.angles], length[None]], axis=0
    )
    known = np.concatenate(
        [certainty.straights, certainty.rotations[1:], certainty.angles, [certainty.developed_length]]
    )
    if copy is None:
        cause = _of_fit(fit, rows)
    else:
        cause, known = _of_part(copy, rows), np.append(known, copy.part.sd)
    named = _variances(cause, placed_by)
    parts = np.array([part for _, part in named]).reshape(len(named), len(known)).T
    whole = parts.sum(axis=1, keepdims=True)
    told = np.isfinite(known) & (known > 0) & (whole[:, 0] > 0)
    shares = np.where(told[:, None], parts / np.where(whole > 0, whole, 1.0), np.nan)
    straights, rotations, angles, last = np.split(
        shares, np.cumsum([where.straights.stop - where.straights.start, max(chain.bends - 1, 0), chain.bends])
    )
    none = np.full((min(1, chain.bends), len(named)), np.nan)
    return Drivers(
        tuple(name for name, _ in named),
        straights,
        np.concatenate([none, rotations]),
        angles,
        last[0],
        None if copy is None else last[1],
    )


@record(eq=False)
class _Cause:
    """How some k numbers follow from what was measured, q being those that were fitted to it.

    Attributes:
        fit: of what was measured.
        moved: (k, q), how far they move for each unit of the gradient.
        jacobian: (m, q) whitened rows of points, readings and demands.
        of_scan: (q, q), covariance of the gradient of a scan; None where there is none.
    """

    fit: Fit
    moved: FloatArray
    jacobian: FloatArray
    of_scan: FloatArray | None


def _of_fit(fit: Fit, rows: FloatArray) -> _Cause:
    """Of numbers with derivatives ``rows`` (k, p) by those of a fit."""
    evidence, of_scan = fit.evidence, None
    _, jacobian = evidence.whitened(fit.chain, fit.minimum.weights)
    if evidence.scan is not None:
        motion = fit.chain.motion(evidence.reference)
        if evidence.scan.errs_together:
            from plumbend.shape.alike import gradient_noise  # few scans say that neighbours are off together

            of_scan = gradient_noise(evidence.scan.scan, fit.chain, motion)
        else:
            of_scan = evidence.scan.normal(fit.chain, motion).hessian
    return _Cause(fit, rows @ fit.answer, jacobian, of_scan)


def _of_part(copy: Copy, rows: FloatArray) -> _Cause:
    """Of numbers with derivatives ``rows`` (k, p) by those of a copy, and last of the part's own radius."""
    from plumbend.shape.own_radius import rows_with_radius, scan_noise_with_radius  # only a copy pays for it

    part = copy.part
    radius = np.zeros((1, part.fit.evidence.size + 1))
    radius[0, -1] = 1.0
    moved = np.concatenate([rows @ copy.by_part, radius]) @ part.answer
    of_scan = None if part.fit.evidence.scan is None else scan_noise_with_radius(part.fit)
    return _Cause(part.fit, moved, rows_with_radius(part.fit), of_scan)


def _variances(cause: _Cause, placed_by: PlacedBy | None) -> list[tuple[str, FloatArray]]:
    """Every measurement with what it adds to the variances (k,) of the numbers, unwidened."""
    fit = cause.fit
    evidence, weights = fit.evidence, fit.minimum.weights
    effect = cause.moved @ cause.jacobian.T
    named: list[tuple[str, FloatArray]] = []
    first = 0
    if evidence.joint is None:
        for group in evidence.groups:
            count = group.rows(fit.chain, fit.chain.motion(evidence.reference), None).residuals.shape[1]
            for member in group.members:
                named.append((evidence.points[member].name, _squares(effect[:, first : first + count])))
                first += count
    else:
        assert placed_by is not None, "points that go together are placed by readings"
        first = len(weights.whitening[0])
        named += _of_readings(fit, effect[:, :first], weights, placed_by)
    for reading in evidence.readings:
        named.append((reading.name, _squares(effect[:, first : first + 1])))
        first += 1
    for demand in evidence.demands:
        if demand.sds is not None:
            named.append((demand.name, _squares(effect[:, first : first + demand.count])))
            first += demand.count
    if cause.of_scan is not None:
        named.append((SCAN, np.einsum("ki,ij,kj->k", cause.moved, cause.of_scan, cause.moved)))
    return named


def _of_readings(fit: Fit, effect: FloatArray, weights: Weights, placed_by: PlacedBy) -> list[tuple[str, FloatArray]]:
    """The same of points some of which readings place: of these readings, and of the points that were typed.

    ``effect`` (k, r) is that of the points' whitened rows.
    """
    evidence, adjusted = fit.evidence, placed_by.adjusted
    by_places = (effect @ weights.whitening[0] @ spread(evidence, weights.directions)).reshape(
        len(effect), len(evidence.points), 3
    )
    by_state = np.zeros((len(effect), adjusted.state.size))
    named = []
    for i, point in enumerate(evidence.points):
        own = point.cov
        if point.name in placed_by.points:
            column = adjusted.network.column[point.name]
            by_state[:, column : column + 3] += by_places[:, i]
            # what a place to touch within so much leaves open is no reading's
            own = own - adjusted.full_covariance[column : column + 3, column : column + 3] * placed_by.scale**2
            if not np.any(np.abs(own) > 1e-9 * np.abs(point.cov).max()):
                continue
        named.append((point.name, np.einsum("ki,ij,kj->k", by_places[:, i], own, by_places[:, i])))
    network = adjusted.network
    single = by_state[:, network.free] @ adjusted.doubt.covariance @ adjusted.rows.T * placed_by.scale
    for i, reading in enumerate(network.readings):
        named.append((reading.typed or reading.words, _squares(single[:, network.owner == i])))
    return named


def _squares(effect: FloatArray) -> FloatArray:
    """Sum of squares (k,) along the last axis."""
    squares: FloatArray = np.einsum("ki,ki->k", effect, effect)
    return squares
