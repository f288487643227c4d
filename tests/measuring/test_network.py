"""A network without some of its readings, and readings that are held against an adjustment together."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from plumbend.measuring.adjustment import adjust
from plumbend.measuring.expected import Expected
from plumbend.measuring.network import FAR_BEHIND, Network
from support.frames import CENTRE
from support.misread_jobs import measuring_job


@pytest.mark.parametrize("seed", range(8))
def test_without_some_readings_it_is_as_if_compiled_from_the_rest(seed: int) -> None:
    rng = np.random.default_rng(seed)
    job = measuring_job(rng)
    with_doubt = replace(job.places[4], at=(1.0, 2.0, 3.0), sd=(1.0, 0.0, 2.0))
    places = [*job.places[:4], with_doubt, *job.places[5:]]
    whole = Network(places, job.readings, [CENTRE])
    read, last = len(job.readings), len(whole.readings) - 1
    out = {int(i) for i in rng.choice(read, 3, replace=False)} | {last}
    rest = whole.without(out)
    # the height given with a doubt is the last reading: without it the height is not given
    left = [reading for i, reading in enumerate(job.readings) if i not in out]
    free_height = replace(with_doubt, at=(1.0, 2.0, None), sd=(1.0, 0.0, 0.0))
    afresh = Network([free_height if place is with_doubt else place for place in places], left, [CENTRE])
    assert rest.places == afresh.places
    assert rest.readings == afresh.readings
    state = rng.normal(size=whole.given.size) * 500
    for one, other in zip(rest.rows(state), afresh.rows(state), strict=True):
        assert np.array_equal(one, other)
    for name in ("owner", "measured", "sd", "held", "free"):
        assert np.array_equal(getattr(rest, name), getattr(afresh, name))
    assert len(whole.readings) == last + 1
    assert whole.without(set()) is whole


def test_a_hopeless_fit_is_left_early_and_a_good_one_is_not() -> None:
    job = measuring_job(np.random.default_rng(3))
    good = adjust(job.places, job.readings, [CENTRE])
    assert good.chi2 < good.network.hopeless
    to_the_end = good.network.settle(good.state + 20.0)
    limited = good.network.settle(good.state + 20.0, good.chi2 + FAR_BEHIND)
    assert np.array_equal(to_the_end.state, limited.state)
    far_off = [replace(reading, sd=reading.sd / 1000) for reading in job.readings]
    network = Network(job.places, far_off, [CENTRE])
    state = network.whole(good.state[network.free] + 50.0)
    full, early = network.settle(state), network.settle(state, network.hopeless)
    assert full.converged
    assert not early.converged
    assert early.iterations < full.iterations
    assert full.normal.chi2 <= early.normal.chi2 < 1.01 * full.normal.chi2


def test_readings_held_against_it_together_stand_as_each_by_itself() -> None:
    job = measuring_job(np.random.default_rng(5))
    expected = Expected(adjust(job.places, job.readings[:-4], [CENTRE]))
    for kind in {type(reading) for reading in job.readings}:
        readings = [reading for reading in job.readings if type(reading) is kind]
        for together, reading in zip(expected.of_each(readings), readings, strict=True):
            alone = expected.of(reading)
            assert together.off == pytest.approx(alone.off, abs=1e-9)
            assert together.information == pytest.approx(alone.information, rel=1e-9)
            assert (together.known, together.log_spread) == (alone.known, pytest.approx(alone.log_spread))
