"""The search itself: fits that begin badly, and a second view of the same hold."""

from __future__ import annotations

import math

import numpy as np
import pytest

from leakdown.fit.choose import choose
from leakdown.fit.leak import Vessel
from leakdown.fit.model import OPENING, RATE, HoldModel
from leakdown.fit.priors import priors_for, waited_warmth
from leakdown.fit.search import search
from leakdown.hold.readings import prepare
from tests.fit import truth

QUOTE_PA = 35e3
VESSEL = Vessel(250e-6, None, 293.15, 0.61)


def plain_model(case: truth.Case, ambient_pa: float) -> HoldModel:
    readings = prepare(case.time_s, case.pressure_pa, case.resolution_pa or 0.0, False)
    warmth = waited_warmth(float(case.pressure_pa[0]), ambient_pa, 0.0, -1.0 if case.vacuum else 1.0)
    priors = priors_for(0.0, 150.0, warmth, case.volume_m3)
    return HoldModel(readings, ambient_pa, case.vacuum, QUOTE_PA, priors)


def closing(closes_at_pa: float, tau_s: float) -> truth.Case:
    """A leak that closes above the room's pressure: the plain law cannot follow it at all."""
    ambient, t = 100e3, np.arange(0.0, 45.0, 0.1)
    back = ambient + closes_at_pa
    viscous, orifice = truth.geometry(35e3 / tau_s, 0.5, ambient, 1.0)
    clean = truth.isothermal(t, ambient + 42e3, back, viscous, orifice) - ambient
    noisy = clean + np.random.default_rng(8).normal(0.0, 20.0, t.size)
    rate = truth.throughput(ambient + QUOTE_PA, back, viscous, orifice)
    return truth.Case(t, noisy, ambient, 250e-6, False, rate)


@pytest.mark.parametrize("tau_s", [15.0, 30.0])
@pytest.mark.parametrize("closes_at_pa", [12e3, 16e3, 20e3])
def test_a_fit_that_began_badly_does_not_blame_the_readings(closes_at_pa, tau_s):
    """Once the right valley is met, the widening that the wrong one asked for is given back."""
    case = closing(closes_at_pa, tau_s)
    model = plain_model(case, case.ambient_pa)
    plain = search(model).fit.parameters
    for part, speed in ((0.95, 6.0), (0.6, 2.0)):
        start = plain.copy()
        start[OPENING], start[RATE] = part * abs(case.pressure_pa[-1]), speed * plain[RATE]
        found = search(model.in_shape("opening"), "opening", start)
        assert found.inflation <= 3.0 * max(found.misfit, 1.0)


@pytest.mark.parametrize("make", [truth.dense, truth.fast])
@pytest.mark.parametrize("seed", range(4))
def test_other_air_is_searched_from_the_first_choice_to_the_same_end(make, seed):
    """Nothing is lost of the whole search: the same interval, and no worse a fit."""
    case = make(np.random.default_rng([105, seed]))
    first = choose(plain_model(case, 101_325.0), QUOTE_PA, VESSEL)
    near = choose(plain_model(case, 84_500.0), QUOTE_PA, VESSEL, first)
    alone = choose(plain_model(case, 84_500.0), QUOTE_PA, VESSEL)
    assert near.sized is not None and alone.sized is not None
    assert near.found.fit.chi2 <= alone.found.fit.chi2 + 0.1
    got, expected = near.sized.estimate.rate_pa_s, alone.sized.estimate.rate_pa_s
    width = expected.high - expected.low
    assert math.isclose(got.low, expected.low, abs_tol=0.03 * width)
    assert math.isclose(got.high, expected.high, abs_tol=0.03 * width)


@pytest.mark.parametrize("seed", range(3))
def test_a_quick_leak_ends_in_the_same_valley_from_its_own_best_fit(seed):
    """Starts that meet are followed once; the best of all must still be found."""
    case = truth.fast(np.random.default_rng([106, seed]))
    model = plain_model(case, case.ambient_pa)
    found = search(model)
    again = search(model, "plain", found.fit.parameters)
    assert found.fit.converged
    assert found.fit.chi2 <= again.fit.chi2 + 0.1


def test_a_false_valley_is_left():
    """From the prior's centre alone this leak ends with gas that imitates another flow law (chi2 of 261)."""
    case = truth.fast(np.random.default_rng([103, 15]))
    found = search(plain_model(case, case.ambient_pa))
    assert found.fit.converged and found.fit.chi2 < 150.0
