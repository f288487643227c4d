"""How the numbers of a fitted tube lean on each other: what the misses grow by as its program is changed, and how the
tube then shifts to lie as well as it can."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.estimate.normal import Normal, column_scale, half_inverse
from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.chain import POSE, Chain
from plumbend.shape.fit import Fit

FIRM = float(np.radians(0.02))
"""Standard deviation for a direction that a demand asks for, where tape and dial may not give it exactly."""
FIRM_STEPS = 0.25
"""The same for a place that must be met or kept clear of, in steps of the tape."""
FORESEEN = 1e-3
"""A shift that lowers the sum of squares by less than this part of it does what its own quadratic says, to some parts
in a million: it is the last, and is not looked at again."""
MOST_SHIFTS = 8


@record(eq=False)
class Laid:
    """A tube where it lies best: weighted squares missed, without and with what it must be kept to, and by how much
    the last shift lowered the latter."""

    chain: Chain
    chi2: float
    weighed: float
    gain: float = 0.0


class Leaning:
    """The misses of a fit as a quadratic of its program (q,), and as they really are."""

    def __init__(self, fit: Fit, tape_step: float, *, is_copy: bool = False) -> None:
        """Take a fit; a copy's chain is no longer where its evidence, which is of the part, would have it."""
        self.fit, self.is_copy = fit, is_copy
        self._room = FIRM_STEPS * tape_step
        hessian = self._hessian()
        follows = -_inverse(hessian[:POSE, :POSE]) @ hessian[:POSE, POSE:]
        metric = hessian[POSE:, POSE:] + hessian[POSE:, :POSE] @ follows
        self.metric: FloatArray = (metric + metric.T) / 2
        self.follows: FloatArray = follows
        """(6, q): how the pose follows a change of the program."""
        self.pull = self._pull()
        """(q,) half of what the squares missed grow by for each unit, at limits that hold the program."""

    def _hessian(self) -> FloatArray:
        fit = self.fit
        if self.is_copy:
            return _inverse(fit.doubt.covariance)
        kept = self._kept(fit.chain)
        return fit.minimum.normal.hessian if kept is None else fit.minimum.normal.hessian + kept.hessian

    def _pull(self) -> FloatArray:
        fit = self.fit
        if self.is_copy:
            return np.zeros(self.metric.shape[0])
        slope = fit.minimum.normal.gradient if fit.held is None else fit.held.bounds
        pull: FloatArray = np.where(fit.at_limit, slope, 0.0)[POSE:]
        return pull

    def _kept(self, chain: Chain) -> Normal | None:
        """What must be kept, firmly weighed."""
        if self.fit.held is None:
            return None
        from plumbend.shape.held import HeldEvidence  # only a tube that must keep something pays for it

        held = HeldEvidence(self.fit.evidence)
        demanded = held.demanded(chain)
        asks = demanded.equal | (demanded.values < 0) | (self.fit.held.multipliers > 0)
        weight = np.array([1 / FIRM if owner is None else 1 / self._room for owner in held.owners()]) * asks
        return Normal.from_rows(demanded.values * weight, demanded.jacobian * weight[:, None])

    def guessed(self, program: FloatArray) -> Laid:
        """A tube of a program (q,) as the quadratic has it."""
        change = program - self.fit.chain.parameters()[POSE:]
        chi2 = self.fit.chi2 + float(change @ (self.metric @ change + 2 * self.pull))
        return Laid(self._moved(program, change), chi2, chi2)

    def nearly_laid(self, program: FloatArray) -> Laid:
        """A tube of a program (q,), once shifted and turned from where the quadratic would have it."""
        return self._shifted(self._moved(program, program - self.fit.chain.parameters()[POSE:]), program)

    def settled(self, laid: Laid) -> Laid:
        """A tube that is nearly laid, shifted and turned to where it misses least."""
        program = laid.chain.parameters()[POSE:]
        for _ in range(MOST_SHIFTS):
            if laid.gain < FORESEEN * (1 + laid.weighed):
                break
            better = self._shifted(laid.chain, program)
            if better.weighed >= laid.weighed:
                break
            laid = better
        return laid

    def _shifted(self, chain: Chain, program: FloatArray) -> Laid:
        """A chain shifted once; what it then misses is as its quadratic foresees."""
        normal, whole = self._normals(chain)
        shift = -_inverse(whole.hessian[:POSE, :POSE]) @ whole.gradient[:POSE]
        step = np.zeros(whole.gradient.size)
        step[:POSE] = shift
        moved = _exactly(self.fit.evidence.move(chain, step), program)
        gain = -float(shift @ whole.gradient[:POSE])
        return Laid(moved, _foreseen(normal, shift), whole.chi2 - gain, gain)

    def _normals(self, chain: Chain) -> tuple[Normal, Normal]:
        """Normal equations of what is missed, without and with what must be kept."""
        normal = self.fit.evidence.normal(chain, self.fit.minimum.weights)
        kept = self._kept(chain)
        return normal, normal if kept is None else normal + kept

    def _moved(self, program: FloatArray, change: FloatArray) -> Chain:
        chain = self.fit.evidence.move(self.fit.chain, np.concatenate([self.follows @ change, change]))
        return _exactly(chain, program)


def _foreseen(normal: Normal, shift: FloatArray) -> float:
    """Squares missed after a shift (6,) of the pose, by their quadratic."""
    return normal.chi2 + float(shift @ (2 * normal.gradient[:POSE] + normal.hessian[:POSE, :POSE] @ shift))


def _inverse(matrix: FloatArray) -> FloatArray:
    """The inverse of a normal matrix (p, p), none along directions that nothing fixes."""
    scale = column_scale(matrix)
    even = matrix * scale[:, None] * scale
    half = half_inverse(even)
    inverse = np.linalg.pinv(even, rcond=1e-12, hermitian=True) if half is None else half @ half.T
    scaled: FloatArray = inverse * scale[:, None] * scale
    return scaled


def _exactly(chain: Chain, program: FloatArray) -> Chain:
    """The chain with the numbers of a program (q,), to the last digit."""
    bends = chain.bends
    straights, turns, angles = np.split(program, [bends + 1, bends + 1 + max(bends - 1, 0)])
    return replace(
        chain, straights=straights, rotations=np.concatenate([np.zeros(min(bends, 1)), turns]), angles=angles
    )
