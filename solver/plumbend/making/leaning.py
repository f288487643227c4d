"""How the numbers of a fitted tube lean on each other: what the misses grow by as its program is changed, and how the
tube then shifts to lie as well as it can."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from plumbend.estimate.normal import Normal, column_scale
from plumbend.frames import FloatArray
from plumbend.records import record
from plumbend.shape.chain import POSE, Chain
from plumbend.shape.fit import Fit

FIRM = float(np.radians(0.02))
"""Standard deviation for a direction that a demand asks for, where tape and dial may not give it exactly."""
FIRM_STEPS = 0.25
"""The same for a place that must be met or kept clear of, in steps of the tape."""
AS_GOOD = 1e-7
"""A change of place that lowers the sum of squares by less than this part of it is not made."""
MOST_SHIFTS = 8


@record(eq=False)
class Laid:
    """A tube where it lies best: weighted squares missed, without and with what it must be kept to."""

    chain: Chain
    chi2: float
    weighed: float


class Leaning:
    """The misses of a fit as a quadratic of its program (q,), and as they really are."""

    def __init__(self, fit: Fit, tape_step: float, *, is_copy: bool = False) -> None:
        """Take a fit; a copy's chain is no longer where its evidence, which is of the part, would have it."""
        self.fit, self.is_copy = fit, is_copy
        self._room = FIRM_STEPS * tape_step
        hessian = self._hessian()
        scale = column_scale(hessian[:POSE, :POSE])
        pose = hessian[:POSE, :POSE] * scale[:, None] * scale
        inverse = np.linalg.pinv(pose, rcond=1e-12, hermitian=True) * scale[:, None] * scale
        follows = -inverse @ hessian[:POSE, POSE:]
        metric = hessian[POSE:, POSE:] + hessian[POSE:, :POSE] @ follows
        self.metric: FloatArray = (metric + metric.T) / 2
        self.follows: FloatArray = follows
        """(6, q): how the pose follows a change of the program."""
        self.pull = self._pull()
        """(q,) half of what the squares missed grow by for each unit, at limits that hold the program."""

    def _hessian(self) -> FloatArray:
        fit = self.fit
        if self.is_copy:
            covariance = fit.doubt.covariance
            scale = column_scale(covariance)
            inverse = np.linalg.pinv(covariance * scale[:, None] * scale, rcond=1e-12, hermitian=True)
            hessian: FloatArray = inverse * scale[:, None] * scale
            return hessian
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

    def weighed(self, program: FloatArray) -> float:
        """What a tube of a program (q,) misses where it lies best, all but its last shift made."""
        chain = self._moved(program, program - self.fit.chain.parameters()[POSE:])
        whole = self._normals(chain)[1]
        return whole.chi2 + float(_pose_step(whole) @ whole.gradient[:POSE])

    def laid(self, program: FloatArray) -> Laid:
        """A tube of a program (q,), shifted and turned to where it misses least."""
        chain = self._moved(program, program - self.fit.chain.parameters()[POSE:])
        best: Laid | None = None
        for _ in range(MOST_SHIFTS):
            normal, whole = self._normals(chain)
            if best is not None and whole.chi2 >= best.weighed:
                break
            best = Laid(chain, normal.chi2, whole.chi2)
            step = np.zeros(whole.gradient.size)
            step[:POSE] = _pose_step(whole)
            if -float(step @ whole.gradient) < AS_GOOD * (1 + whole.chi2):
                break
            chain = _exactly(self.fit.evidence.move(chain, step), program)
        assert best is not None
        return best

    def _normals(self, chain: Chain) -> tuple[Normal, Normal]:
        """Normal equations of what is missed, without and with what must be kept."""
        normal = self.fit.evidence.normal(chain, self.fit.minimum.weights)
        kept = self._kept(chain)
        return normal, normal if kept is None else normal + kept

    def _moved(self, program: FloatArray, change: FloatArray) -> Chain:
        chain = self.fit.evidence.move(self.fit.chain, np.concatenate([self.follows @ change, change]))
        return _exactly(chain, program)


def _pose_step(normal: Normal) -> FloatArray:
    scale = column_scale(normal.hessian[:POSE, :POSE])
    pose = normal.hessian[:POSE, :POSE] * scale[:, None] * scale
    step: FloatArray = -scale * (np.linalg.pinv(pose, rcond=1e-12, hermitian=True) @ (normal.gradient[:POSE] * scale))
    return step


def _exactly(chain: Chain, program: FloatArray) -> Chain:
    """The chain with the numbers of a program (q,), to the last digit."""
    bends = chain.bends
    straights, turns, angles = np.split(program, [bends + 1, bends + 1 + max(bends - 1, 0)])
    return replace(
        chain, straights=straights, rotations=np.concatenate([np.zeros(min(bends, 1)), turns]), angles=angles
    )
