"""When half is gone, and from where a limit counts: off the fitted curve, against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.recording import Conditions, Recording
from leakdown.report.decay_chart import decay_chart
from tests.physics.closed_forms import viscous

AIR, START = 101_325.0, 45e3
LIMIT = Settings(limit=parse_limit("7 kPa in 60 s from 40 kPa"))


def _held(time_s, gauge_pa):
    noise = np.random.default_rng(5).normal(0.0, 20.0, time_s.size)
    told = Conditions("crankcase", "pressure", 250e-6, None, AIR, 293.15)
    return analyse(Recording(time_s, gauge_pa + noise, conditions=told), LIMIT)


def _weep(hold_s, k_over_v):
    t = np.arange(0.0, hold_s, 0.2)
    return _held(t, viscous(t, AIR + START, AIR, k_over_v) - AIR)


def _half_s(k_over_v):
    """Of (p - pa)/(p + pa) = r0 exp(-2 k pa t), solved for half of the start pressure."""
    r0, r1 = (g / (g + 2.0 * AIR) for g in (START, 0.5 * START))
    return math.log(r0 / r1) / (2.0 * k_over_v * AIR)


def test_half_is_read_off_the_fitted_curve():
    k = 2e-7
    assert _half_s(k) < 30.0
    assert _weep(60.0, k).half_gone_s == pytest.approx(_half_s(k), rel=0.02)


def test_beyond_the_hold_the_leak_goes_on():
    k = 2e-8
    assert _half_s(k) > 140.0
    assert _weep(90.0, k).half_gone_s == pytest.approx(_half_s(k), rel=0.1)


def test_a_leak_that_closes_before_has_no_half_and_no_mark_beside_a_fail():
    """Closes at 30 kPa with a time constant of 20 s: 45 kPa never become 22.5."""
    t = np.arange(0.0, 120.0, 0.2)
    result = _held(t, 30e3 + 15e3 * np.exp(-t / 20.0))
    assert result.half_gone_s is None
    for line in decay_chart(result).limits:
        assert result.verdict is not None and result.curve is not None
        left = np.interp(line.x[1], result.curve.time_s, result.curve.pressure_pa)
        assert result.verdict.word != "fail" or left < 1e3 * line.y[1]


@pytest.mark.parametrize("k", [2e-8, 6e-8])
def test_the_limit_counts_from_where_the_curve_passes_its_start(k):
    """Of a closed form too: when 45 kPa have become 40."""
    result = _weep(120.0, k)
    r0, r1 = (g / (g + 2.0 * AIR) for g in (START, 40e3))
    passed_s = math.log(r0 / r1) / (2.0 * k * AIR)
    assert result.verdict is not None and result.verdict.from_pa == pytest.approx(40e3)
    assert result.verdict.from_s == pytest.approx(passed_s, abs=1.0 + 0.05 * passed_s)


def test_a_hold_from_below_counts_from_when_its_leak_would_have_been_there():
    k = 3e-8
    t = np.arange(0.0, 50.0, 0.2)  # too short to be read, so the leak goes on over the limit's time
    result = _held(t, viscous(t, AIR + 36e3, AIR, k) - AIR)
    r0, r1 = (g / (g + 2.0 * AIR) for g in (40e3, 36e3))
    before_s = math.log(r0 / r1) / (2.0 * k * AIR)
    assert result.verdict is not None and result.verdict.from_s == pytest.approx(-before_s, rel=0.15)
