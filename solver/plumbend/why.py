"""What drives the numbers of a tube, asked for: only a page that tells it pays for it."""

from __future__ import annotations

from plumbend.asking import Why
from plumbend.job.why_report import WhyReport
from plumbend.shape.certainty import certainty_of
from plumbend.shape.chain import Chain
from plumbend.shape.copies import Copy
from plumbend.shape.drivers import drivers_of
from plumbend.shape.fit import Fit
from plumbend.shape.landing import landing_of, reach_of


def why_of(fit: Fit, why: Why, copy: Copy | None = None) -> WhyReport:
    """What drives the numbers of a tube: of one as fitted, or of a ``copy`` of a part."""
    drivers = drivers_of(fit, certainty_of(fit), why.placed_by, copy)
    landing = None if why.gap is None else landing_of(fit, why.gap)
    return WhyReport(reach_of(fit.chain), drivers, landing, limited=bool(fit.at_limit.any()))


def why_of_program(chain: Chain) -> WhyReport:
    """The same for a tube given by its program: nothing was measured."""
    return WhyReport(reach_of(chain), None, None)
