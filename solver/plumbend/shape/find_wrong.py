"""The points and readings that are wrong, where what was measured cannot all be right.

Whoever stands out in the fit of all is left out in turn and the rest fitted afresh; to go on from the spoilt fit
would stay in its hollow. Wrong is that without which the rest agree within their accuracies and none of them stands
out. Where no one point is enough two at once are tried, and then one after another. Whatever else would do nearly as
well is named beside it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Container
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from plumbend.estimate.chances import beyond_chance, log_chance
from plumbend.measuring.snooping import log_level_each
from plumbend.shape.fit import Fit
from plumbend.shape.invented import price_of_a_wrong_point, resting_on_one
from plumbend.shape.measured import Measured
from plumbend.shape.search import FEW
from plumbend.shape.standing import LEVEL, Standing
from plumbend.shape.structure import PRICE
from plumbend.shape.suspects import Accused, Found, Out, Suspect, Wrong, all_of, standing_out, without

if TYPE_CHECKING:  # only a tube with a wrong point pays for it
    from plumbend.shape.slips_of_points import Misread

MOST_OUT = 3
"""More wrong points than so many are not looked for,"""
_ONE_IN = 5
"""nor more than one in so many."""

MOST_PART_OUT = 0.35
"""Of many that are sorted: with more of them off the tube it is not sure which tube the rest are of."""

_FIRST, _EVERY, _SINGLES, _PAIRS, _RIVALS = 8, 40, 4, 6, 6
"""Left out in turn: the likeliest; then all, where there are no more than so many; of two at once; of rivals."""

_IN_PART = 0.25
"""Part of the one's fall that a rival's is at least, by the rows of the spoilt fit."""

_UNEXPLAINED = 6.0
"""Twice the logarithm of how many times likelier a wrong point is one that a usual slip explains."""

_CLOSE = 2 * math.log(20)
"""Two points are not told apart where one is less than 20 times likelier to be the wrong one."""

LooksLike = Callable[[Suspect, Fit], "Misread | None"]
"""What a suspect looks like beside the fit without it."""


def find_wrong(
    measured: Measured,
    fit: Fit,
    fit_rest: Callable[[Measured], Fit | None],
    looks_like: LooksLike,
    kept: Container[Suspect] = (),
    *,
    counting: bool = False,
    spoilt: bool = True,
) -> Found | None:
    """The points and readings that are wrong; None where leaving out a few is no help.

    Args:
        measured: what cannot all be right, or is explained by bends alone that may be none.
        fit: of all of it.
        fit_rest: fits what is left, from a first guess of its own; None where that is no better.
        looks_like: what a suspect looks like.
        kept: never left out.
        counting: ``fit_rest`` counts the bends as well, and each of them may stand for a wrong point.
        spoilt: all of it cannot be right; else nothing but such bends is gone into.
    """
    search = _Search(measured, fit, fit_rest, kept, counting)
    out = (search.instead_of_bends() if counting else None) or (search.wrong() if spoilt else None)
    return None if out is None else _named(search, out, looks_like)


def wrong_as_sorted(
    measured: Measured,
    fit: Fit,
    fit_rest: Callable[[Measured], Fit | None],
    looks_like: LooksLike,
    out: Out,
    kept: Container[Suspect] = (),
) -> Found | None:
    """The same of many that were sorted (:mod:`plumbend.shape.many_wrong`), ``out`` being those that are not on the
    tube; None where the rest do not agree all the same. ``fit_rest`` does not count the bends."""
    search = _Search(measured, fit, fit_rest, kept, counting=False)
    settled = search.settled(out)
    return None if settled is None else _named(search, settled, looks_like)


def _named(search: _Search, out: Out, looks_like: LooksLike) -> Found:
    """What is wrong, by all that may be it."""
    groups = []
    for suspect in sorted(out, key=lambda one: (one.is_reading, one.index)):
        group = search.rivals(suspect, out, looks_like)
        out = out - {suspect} | {group[0].suspect}
        groups.append(group)
    wrong = []
    for group in groups:
        together = search.as_good_without(out, frozenset(accused.suspect for accused in group))
        wrong.append(Wrong(tuple(group), len(group) > 1 and together is not None))
        out = together or out
    rest = search.without(out)
    assert rest is not None
    return Found(tuple(wrong), out, rest)


class _Search:
    """Fits with some of what was measured left out, each made once, and the search among them."""

    def __init__(
        self,
        measured: Measured,
        fit: Fit,
        fit_rest: Callable[[Measured], Fit | None],
        kept: Container[Suspect],
        counting: bool,
    ) -> None:
        if measured.scan is not None:
            measured = replace(measured, scan=measured.scan.thinned(FEW))
        self._measured, self._fit_rest, self._kept, self._counting = measured, fit_rest, kept, counting
        self._every = all_of(measured.points, measured.readings)
        self._price = PRICE * math.log(fit.minimum.normal.count)
        self._price_wrong = price_of_a_wrong_point(len(self._every), LEVEL)
        self._fits: dict[Out, Fit | None] = {frozenset(): fit}
        self._standings: dict[Out, Standing] = {}

    def without(self, out: Out) -> Fit | None:
        """The fit without ``out``; None where there is none, or nothing checks it."""
        if out not in self._fits:
            rest = without(self._measured, out)
            fit = self._fit_rest(rest) if rest.points or rest.readings or rest.scan is not None else None
            self._fits[out] = None if fit is None or fit.dof <= 0 else fit
        return self._fits[out]

    def _left(self, out: Out) -> list[Suspect]:
        return [suspect for suspect in self._every if suspect not in out]

    def _standing(self, out: Out) -> Standing | None:
        fit = self.without(out)
        if fit is None:
            return None
        if out not in self._standings:
            self._standings[out] = Standing(fit)
        return self._standings[out]

    def _agrees(self, out: Out) -> bool:
        """Whether the rest agree as a whole."""
        fit = self.without(out)
        return fit is not None and not beyond_chance(fit.chi2, fit.dof)

    def _clean(self, out: Out) -> bool:
        """Whether the rest agree, each one with the others too."""
        standing = self._standing(out) if self._agrees(out) else None
        return standing is not None and not standing_out(standing, self._left(out), self._kept)

    def _likeliest(self, out: Out) -> list[Suspect]:
        """Those not yet ``out``, the likeliest to be wrong first."""
        standing = self._standing(out)
        if standing is None:
            return []
        left = self._left(out)
        order = np.argsort(standing.log_chances, kind="stable").tolist()
        return [left[i] for i in order if left[i] not in self._kept]

    def _behind_bends(self, out: Out) -> list[Suspect]:
        """Those not yet ``out`` that bends of the fit may stand for."""
        fit = self.without(out)
        if fit is None:
            return []
        left = [one for one in self._left(out) if not one.is_reading]
        found = [left[i] for i in resting_on_one(without(self._measured, out), fit)]
        return [one for one in found if one not in self._kept]

    def instead_of_bends(self) -> Out | None:
        """The one without which fewer bends explain the rest so well that it is the likelier fault; None where all
        bends are."""
        able = [frozenset({one}) for one in self._behind_bends(frozenset())]
        clean = [out for out in able if self._bends(out) < self._bends(frozenset()) and self._clean(out)]
        best = min(clean, key=self._cost, default=None)
        return best if best is not None and self._outdoes_bends(best, frozenset()) else None

    def _bends(self, out: Out) -> float:
        fit = self.without(out)
        return math.inf if fit is None else fit.chain.bends

    def _outdoes_bends(self, out: Out, fewer_out: Out) -> bool:
        """Whether one wrong point more is to be believed rather than the bends that stand for it.

        It is where the two are not told apart: a point that is named and measured again costs less than a bend that
        is not there.
        """
        return self._cost(out) < self._cost(fewer_out) + _CLOSE

    def wrong(self) -> Out | None:
        """The fewest without which all the rest agree; None where that is too many."""
        most = min(MOST_OUT, max(len(self._every) // _ONE_IN, 1))
        out: Out = frozenset()
        while len(out) < most:
            found = self._one(out)
            if len(out) + 2 <= most:
                found = self._two(out) if found is None else self._rather_two(out, found)
            if found is not None and self._needed(found):
                return found
            if not out:
                # of the others one may stand out by chance, and nothing be wrong with it
                tried = [one for one in self._fits if len(one) == 1 and self._agrees(one)]
                whole = min(tried, key=self._cost, default=None)
                better = whole is not None and (found is None or self._cost(whole) < self._cost(found))
                if whole is not None and better and self._needed(whole):
                    return whole
            if found is not None:
                return None
            after = [more for one in self._likeliest(out)[:_SINGLES] if self.without(more := out | {one})]
            if not after:
                return None
            out = min(after, key=self._cost)
        return None

    def settled(self, out: Out) -> Out | None:
        """``out`` with those that stand out of the rest, as far as that is likelier; None where the rest do not agree
        all the same, or all of them with more bends are likelier."""
        tried = [out]
        while (standing := self._standing(out)) and (worse := standing_out(standing, self._left(out), self._kept)):
            out = out | {worse[0]}
            tried.append(out)
        most = MOST_PART_OUT * len(self._every)
        able = [out for out in tried if len(out) <= most and self._agrees(out)]
        best = min(able, key=self._cost, default=None)
        return best if best is not None and self._outdoes_bends(best, frozenset()) else None

    def _one(self, out: Out) -> Out | None:
        """``out`` and one more, without which all the rest agree."""
        likeliest = self._likeliest(out)
        if self._counting:
            likeliest = list(dict.fromkeys([*self._behind_bends(out), *likeliest]))
        # where the bends are counted as well, the first without which all agree may take one too many
        batches = [likeliest[:_FIRST]] if self._counting else [[one] for one in likeliest[:_FIRST]]
        for batch in [*batches, likeliest[_FIRST:] if len(likeliest) <= _EVERY else []]:
            clean = [more for one in batch if self._clean(more := out | {one})]
            if clean:
                return min(clean, key=self._cost)
        return None

    def _rather_two(self, out: Out, one: Out) -> Out:
        """``one`` more than ``out``, or two that cost less than it and the bends that stand for one of them."""
        tried = [other for other in self._fits if len(other) == len(one) and out < other]
        cheapest = min(tried, key=self._cost)
        two = self._one(cheapest) if self._counting and self._cost(cheapest) < self._cost(one) else None
        return one if two is None or self._cost(two) >= self._cost(one) else two

    def _two(self, out: Out) -> Out | None:
        """``out`` and two more, without which all the rest agree."""
        standing = self._standing(out)
        if standing is None:
            return None
        left = self._left(out)
        able = np.array([suspect not in self._kept for suspect in left])
        pairs = [out | {left[pair.first], left[pair.second]} for pair in standing.pairs(able, _PAIRS)]
        # beside the likeliest by the rows of the spoilt fit, those by the rows of one that is a little less spoilt
        pairs += [
            out | {one, other} for one in self._likeliest(out)[:_SINGLES] for other in self._likeliest(out | {one})[:2]
        ]
        clean = [pair for pair in dict.fromkeys(pairs) if self._clean(pair)]
        return min(clean, key=self._cost) if clean else None

    def _cost(self, out: Out) -> float:
        """What speaks against leaving out ``out``: how ill the rest are fitted, and the bends and
        wrong points that takes."""
        fit = self.without(out)
        # leaving out more numbers would lower the sum of squares by as many
        wrong = self._price_wrong * len(out)
        return math.inf if fit is None else fit.chi2 - fit.dof + self._price * fit.chain.bends + wrong

    def _needed(self, out: Out) -> bool:
        """Whether each of ``out`` is off by more than chance allows; of several, as widely as the others scatter, for
        it may be that all are worse than they are said to be."""
        fit = self.without(out)
        assert fit is not None
        scatter = max(fit.chi2 / fit.dof, 1.0) if len(out) > 1 else 1.0
        limit = log_level_each(LEVEL, len(self._every))
        for one in out:
            back = self.without(out - {one})
            if back is not None and back.chain.bends != fit.chain.bends:
                if not self._outdoes_bends(out, out - {one}):
                    return False
            elif back is not None and log_chance((back.chi2 - fit.chi2) / scatter, back.dof - fit.dof) > limit:
                return False
        return True

    def rivals(self, suspect: Suspect, out: Out, looks_like: LooksLike) -> list[Accused]:
        """Those any one of which may be wrong where ``suspect`` of ``out`` is taken to be, the likeliest first."""
        others = out - {suspect}
        tried = dict.fromkeys([suspect, *self._near(others, suspect)])
        scored = []
        for one in tried:
            fit = self.without(others | {one})
            if fit is not None and (one == suspect or self._agrees(others | {one})):
                misread = looks_like(one, fit)
                explained = misread is not None and bool(misread.ways)
                scored.append(
                    (self._cost(others | {one}) + (0.0 if explained else _UNEXPLAINED), Accused(one, misread))
                )
        scored.sort(key=lambda one: one[0])
        return [accused for score, accused in scored if score - scored[0][0] < _CLOSE]

    def _near(self, out: Out, suspect: Suspect) -> list[Suspect]:
        """Those whose leaving out may do nearly as well as that of ``suspect``, beside ``out``."""
        standing = self._standing(out)
        if standing is None:
            return []
        falls = dict(zip(self._left(out), standing.falls.tolist(), strict=True))
        return [one for one in self._likeliest(out)[:_RIVALS] if falls[one] >= falls[suspect] * _IN_PART]

    def as_good_without(self, out: Out, group: Out) -> Out | None:
        """``out`` with a whole group, where the rest fix every number as well without it."""
        if group <= out:
            return out
        now, then = self.without(out), self.without(out | group)
        if now is None or then is None or then.chain.bends != now.chain.bends:
            return None
        return out | group if then.doubt.loose.sum() == now.doubt.loose.sum() else None
