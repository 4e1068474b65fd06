"""The settled curve off which a loss is read: its start by hand, slopes by differences, the leak alone by scipy."""

from __future__ import annotations

import math
from types import SimpleNamespace

import numpy as np
import pytest

from leakdown.analysis import Limit
from leakdown.fit.model import CREEP, GROWTH, LOG_TAU, NAMES, RATE, SHARE, START, WARMTH, HoldModel
from leakdown.fit.priors import StartWarmth, priors_for
from leakdown.hold.readings import prepare
from leakdown.judge.loss import _carried_on, _leak_alone_pa, _on_curve, _over_from_below, _passed_s, _settled_size
from leakdown.uncertainty import Interval
from tests.fit import truth

AMBIENT = 101_325.0
T = np.arange(0.0, 61.0, 1.0)
HOLD = SimpleNamespace(start_s=0.0, closed_s=0.0, end_s=60.0, start_pa=40e3, end_pa=32e3)


def fitted(sign=1.0, rate=150.0, warmth=0.0, share=1.0, creep_pa=0.0, zero_pa=0.0, start_pa=40e3):
    """A fit that found these numbers; the gas follows its walls at once; rate known to 1 %, start to 20 Pa."""
    warm = StartWarmth(np.zeros(33), np.full(33, 1e-3), np.zeros(33), sign)
    model = HoldModel(
        prepare(T, sign * np.linspace(start_pa, 0.8 * start_pa, T.size), 10.0, False),
        AMBIENT, sign < 0, 35e3, priors_for(zero_pa, 1.0, warm, 250e-6),
    )  # fmt: skip
    x = np.zeros(len(NAMES))
    x[RATE], x[SHARE], x[START], x[WARMTH], x[LOG_TAU] = rate, share, AMBIENT + sign * start_pa, warmth, math.log(0.02)
    x[CREEP:] = creep_pa
    covariance = np.zeros((x.size, x.size))
    covariance[RATE, RATE], covariance[START, START] = (0.01 * rate) ** 2, 20.0**2
    return SimpleNamespace(model=model, fit=SimpleNamespace(parameters=x, covariance=covariance))


def exact(sign, rate, t, start_pa=40e3):
    """Magnitude of the leak alone from `start_pa`, by the tests' own integration (scipy)."""
    k, a = truth.geometry(rate, 1.0, AMBIENT, sign)
    return np.abs(truth.isothermal(np.asarray(t, float), AMBIENT + sign * start_pa, AMBIENT, k, a) - AMBIENT)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_it_starts_without_what_gas_and_hose_gave_back(sign):
    """p0/(1 + warmth) absolute, the hose's creep left out, the gauge's zero taken off."""
    found = fitted(sign, warmth=0.01 * sign, creep_pa=300.0, zero_pa=50.0)
    size, slopes = _settled_size(found, np.array([0.0, 30.0]))
    start = (AMBIENT + sign * 40e3) / (1.0 + 0.01 * sign)
    assert size[0] == pytest.approx(sign * (start - AMBIENT - 50.0), abs=0.5)
    assert np.all(slopes[:, CREEP:] == 0.0)
    for k, step in ((RATE, 0.5), (SHARE, 1e-3), (START, 20.0), (WARMTH, 1e-5)):
        ends = []
        for way in (1.0, -1.0):
            moved = fitted(sign, warmth=0.01 * sign, share=0.9, creep_pa=300.0, zero_pa=50.0)
            moved.fit.parameters[k] += way * step
            ends.append(_settled_size(moved, np.array([30.0]))[0][0])
        still = fitted(sign, warmth=0.01 * sign, share=0.9, creep_pa=300.0, zero_pa=50.0)
        by = sign * _settled_size(still, np.array([30.0]))[1][0, k]
        assert by == pytest.approx((ends[0] - ends[1]) / (2.0 * step), rel=2e-3)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_leak_alone_is_scipy_s(sign):
    found = fitted(sign)
    lost = _leak_alone_pa(found.model, found.fit.parameters, 40e3, 60.0)
    assert lost == pytest.approx(40e3 - exact(sign, 150.0, [0.0, 60.0])[-1], rel=2e-3)
    x = found.fit.parameters.copy()
    x[GROWTH] = 0.01  # grown by t (1 + growth t / 2): 60 s count for 78
    assert _leak_alone_pa(found.model, x, 40e3, 60.0) == pytest.approx(
        40e3 - exact(sign, 150.0, [0.0, 78.0])[-1], rel=2e-3
    )
    x[GROWTH] = -0.01  # one that shrinks is taken as it began
    assert _leak_alone_pa(found.model, x, 40e3, 60.0) == pytest.approx(lost)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_the_loss_is_read_off_between_the_limit_s_start_and_its_time(sign):
    """From 38 kPa on, 30 s: by scipy; its doubt is the rate's, as the start is the limit's own."""
    found = fitted(sign)
    fine = np.linspace(0.0, 60.0, 6001)
    curve = exact(sign, 150.0, fine)
    at = float(np.interp(-38e3, -curve, fine))
    lost = 38e3 - float(np.interp(at + 30.0, fine, curve))
    loss = _on_curve(found, HOLD, Limit("", "drop", "given", drop_pa=5e3, time_s=30.0, start_pa=38e3))
    assert (loss.from_s, loss.from_pa, loss.basis) == (pytest.approx(at, abs=0.05), 38e3, "reading")
    assert loss.measured.value == pytest.approx(lost, rel=2e-3)
    # a rate 1 % larger takes nearly 1 % more
    assert (loss.measured.high - loss.measured.value) / lost == pytest.approx(1.96 * 0.01, rel=0.15)
    plain = _on_curve(found, HOLD, Limit("", "drop", "given", drop_pa=5e3, time_s=30.0))
    assert plain.measured.value == pytest.approx(40e3 - float(np.interp(30.0, fine, curve)), rel=2e-3)
    assert plain.from_s == 0.0 and plain.from_pa == pytest.approx(40e3)
    assert _on_curve(found, HOLD, Limit("", "drop", "given", drop_pa=5e3, time_s=60.0)) is not None
    for time_s, start in ((61.0, None), (30.0, 30e3), (58.0, 38e3), (30.0, 60e3)):
        assert _on_curve(found, HOLD, Limit("", "drop", "given", drop_pa=5e3, time_s=time_s, start_pa=start)) is None


def test_from_a_little_below_the_limit_s_start_the_law_says_how_much_more():
    found = fitted()
    loss = _on_curve(found, HOLD, Limit("", "drop", "given", drop_pa=5e3, time_s=30.0, start_pa=40.2e3))
    assert loss.from_s == 0.0 and loss.from_pa == pytest.approx(40e3)
    assert loss.measured.value == pytest.approx(40.2e3 - exact(1.0, 150.0, [0.0, 30.0], 40.2e3)[-1], rel=2e-3)


def test_more_than_the_limit_lost_from_below_its_start_is_enough():
    found, fast = fitted(), fitted(rate=400.0)
    limit = Limit("", "drop", "given", drop_pa=7e3, time_s=30.0, start_pa=50e3)
    assert _over_from_below(found, HOLD, limit) is None  # 4.5 kPa lost
    over = _over_from_below(fast, HOLD, limit)
    assert over is not None and over.measured.low > 7e3
    begun_above = Limit("", "drop", "given", drop_pa=7e3, time_s=30.0, start_pa=30e3)
    assert _over_from_below(fast, HOLD, begun_above) is None
    assert _over_from_below(fast, HOLD, Limit("", "drop", "given", drop_pa=7e3, time_s=30.0)) is None


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_carried_on_it_is_what_every_plausible_leak_takes(sign):
    found = fitted(sign)
    plausible = tuple(fitted(sign, rate).fit.parameters for rate in (150.0, 140.0, 165.0))
    loss = _carried_on(found, plausible, HOLD, Limit("", "drop", "given", drop_pa=5e3, time_s=90.0, start_pa=50e3))
    value, low, high = (50e3 - exact(sign, rate, [0.0, 90.0], 50e3)[-1] for rate in (150.0, 140.0, 165.0))
    assert (loss.measured.value, loss.measured.low, loss.measured.high) == pytest.approx((value, low, high), rel=3e-3)
    assert loss.basis == "model" and loss.from_pa == 50e3 and loss.from_s < 0.0
    # as the leak alone would have: down to 40 kPa that long before
    before = -loss.from_s
    assert exact(sign, 150.0, [0.0, before], 50e3)[-1] == pytest.approx(40e3, rel=1e-3)
    own = _carried_on(found, plausible, HOLD, Limit("", "drop", "given", drop_pa=5e3, time_s=90.0))
    assert own.from_pa == 40e3 and own.from_s == pytest.approx(0.0, abs=0.2)
    tight = tuple(fitted(sign, rate).fit.parameters for rate in (0.0, 0.0, 20.0))
    bound = _carried_on(found, tight, HOLD, Limit("", "drop", "given", drop_pa=5e3, time_s=90.0)).measured
    assert (bound.value, bound.low) == (None, 0.0) and bound.high > 500.0 and isinstance(bound, Interval)
    later = _passed_s(found, 38e3)
    assert exact(sign, 150.0, [0.0, later])[-1] == pytest.approx(38e3, rel=1e-3) and _passed_s(found, 20e3) is None
