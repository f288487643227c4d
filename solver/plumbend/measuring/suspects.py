"""The search for readings that do not go with the rest: one by one, and two at once where one is not enough."""

from __future__ import annotations

from plumbend.estimate.chances import log_chance
from plumbend.measuring.expected import Expected
from plumbend.measuring.human_errors import turnable
from plumbend.measuring.snooping import log_level_each
from plumbend.measuring.trials import Out, Trial, Trials, widening

_SINGLES, _PAIRS = 4, 6
"""The most that are tried at a time, each by an adjustment of its own."""

_ONE_IN = 8
"""More misreads than one in so many readings are not looked for."""


def find_suspects(trials: Trials) -> Out:
    """The readings to leave out, one for each misread.

    What the rows of a fit say is wrong is only as good as that fit: readings that stand out are left out in turn, the
    fit is begun afresh, and the first without which all the rest agree is taken.
    """
    out: Out = frozenset()
    thorough = False
    most = max(2, len(trials.readings) // _ONE_IN)
    while len(out) < most:
        trial = trials.without(out, thorough=thorough)
        if trials.clean(trial):
            break
        more = _one(trials, trial, out) or _two(trials, trial, out, settled=thorough)
        if not more and thorough:
            break
        out |= more
        thorough = not more
    return _needed(trials, out, doubtful=len(out) >= most)


def _one(trials: Trials, trial: Trial, out: Out) -> Out:
    """A reading without which all the rest agree; none where there is no such."""
    singles = trial.worst(_SINGLES, trials.limit)
    if singles:
        # one with its sense turned round may have put a place on its wrong side, where others look wrong instead
        singles += [i for i in turnable(trials.readings, trials.readings[singles[0]]) if i in trial.candidates]
    return next((frozenset({i}) for i in singles if trials.clean(trials.without(out | {i}))), frozenset())


def _two(trials: Trials, trial: Trial, out: Out, *, settled: bool) -> Out:
    """Two readings without which all the rest agree; where the fit is as good as it gets, else the best there are."""
    singles = trial.worst(_SINGLES, trials.limit)
    count = len(trial.candidates)
    limit = log_level_each(trials.level, count * (count - 1) // 2)
    pairs = [
        frozenset({int(trial.indices[pair.first]), int(trial.indices[pair.second])})
        for pair in trial.snooping.pairs(~trial.kept, _PAIRS)
        if pair.log_chance < limit
    ]
    # beside the best by the rows of the spoilt fit, those by the rows of one that is a little less spoilt
    pairs += [frozenset({i, j}) for i in singles for j in trials.without(out | {i}).worst(1, trials.limit)]
    tried = [(trials.without(out | pair), pair) for pair in dict.fromkeys(pairs)]
    clean = [one for one in tried if trials.clean(one[0])]
    if clean or (settled and tried):
        return min(clean or tried, key=lambda one: one[0].adjusted.chi2)[1]
    return frozenset(singles[:1]) if settled else frozenset()


def _needed(trials: Trials, out: Out, *, doubtful: bool) -> Out:
    """Of readings left out, those that stand out from the rest as widely as the rest itself turns out to lie.

    Where they are so many that it is ``doubtful`` whether they are misreads, and not all readings worse than they are
    said to be, any scatter of the rest counts, else only what chance does not allow.
    """
    while out:
        rest = trials.settled(out)
        wider = widening(rest, wary=doubtful)
        if len(out) == 1 and wider == 1:
            break
        expected = Expected(rest)
        chances = {i: _chance_of(trials, expected, i, wider) for i in out}
        least = max(out, key=lambda i: chances[i])
        if chances[least] < trials.limit:
            break
        out -= {least}
    return out


def _chance_of(trials: Trials, expected: Expected, i: int, wider: float) -> float:
    """Logarithm of the chance that a reading left out is as far off as it is."""
    stands = expected.of(trials.readings[i])
    return log_chance(float(stands.unlikely(stands.off)) / wider**2, stands.known)
