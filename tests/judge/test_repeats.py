"""Repeats pooled: by hand, against tables and scipy, and on simulated holds."""

import json
import math

import numpy as np
import pytest
from scipy import stats

from leakdown.errors import UsageError
from leakdown.judge.analyse import analyse
from leakdown.judge.repeats import chi2_chance, pool_values, pooled
from leakdown.recording import Conditions, Recording
from leakdown.uncertainty import Interval
from leakdown.words.bench_results import pooled_lines, pooled_object

Z = 1.959964


def _value(x, sd):
    return Interval(x, x - Z * sd, x + Z * sd)


def test_weighted_mean_by_hand():
    # 10(1) and 12(2): weights 1 and 1/4, mean 10.4, sd 1/sqrt(1.25) = 0.8944, chi2 = 0.16 + 0.64 = 0.8
    found = pool_values([_value(10.0, 1.0), _value(12.0, 2.0)], "Pa/s", 35e3, "pressure")
    assert found.pooled.value == pytest.approx(10.4)
    assert found.pooled.high - 10.4 == pytest.approx(Z * 0.894427, rel=1e-5)
    assert found.chi2 == pytest.approx(0.8, rel=1e-5)
    assert found.agree and found.birge < 1
    assert found.repeatability == pytest.approx(math.sqrt(2.0))
    assert found.limit == pytest.approx(2.8 * math.sqrt(2.0))


def test_holds_that_disagree_widen_the_interval():
    found = pool_values([_value(x, 0.2) for x in (8.0, 10.0, 12.0)], "Pa/s", 35e3, "pressure")
    # chi2 = (4 + 0 + 4)/0.04 = 200, Birge = 10
    assert found.chi2 == pytest.approx(200.0, rel=1e-4)
    assert found.birge == pytest.approx(10.0, rel=1e-4)
    assert not found.agree and "NOT agree" in found.sentence
    # Student's t for 2 degrees of freedom is 4.303 (tables); sd of the mean 2/sqrt(3)
    assert found.pooled.high - 10.0 == pytest.approx(4.303 * 2.0 / math.sqrt(3.0), rel=1e-3)


@pytest.mark.parametrize("dof", range(1, 12))
@pytest.mark.parametrize("chi2", [0.01, 0.5, 3.0, 11.0, 40.0])
def test_chi_squared_tail_agrees_with_scipy(dof, chi2):
    assert chi2_chance(chi2, dof) == pytest.approx(float(stats.chi2.sf(chi2, dof)), rel=1e-9)


def test_tight_holds_pool_to_a_lower_upper_limit():
    one = Interval(None, 0.0, 2.0)
    found = pool_values([one] * 4, "Pa/s", 35e3, "pressure")
    assert found.pooled.value is None and found.pooled.low == 0.0
    assert found.pooled.high == pytest.approx(1.0)  # 2/sqrt(4)
    assert "no leak seen" in pooled_lines(found)[0]
    json.dumps(pooled_object(found), allow_nan=False)


def test_coverage_of_the_pooled_interval():
    rng = np.random.default_rng(4)
    inside = 0
    for _ in range(600):
        values = [_value(10.0 + rng.normal(0, s), s) for s in (0.5, 1.0, 0.7, 0.5)]
        found = pool_values(values, "Pa/s", 35e3, "pressure")
        inside += found.pooled.low <= 10.0 <= found.pooled.high
    assert inside >= 0.93 * 600


def _hold(tau, seed, direction="pressure", circuit="crankcase"):
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, 60.1, 2.0)
    sign = 1.0 if direction == "pressure" else -1.0
    p = sign * 45e3 * np.exp(-t / tau) + rng.normal(0, 30, t.size)
    told = Conditions(circuit, direction, 250e-6, resolution_pa=10.0, barometer_pa=101_325.0)
    return analyse(Recording(t, p, conditions=told))


@pytest.mark.slow
def test_holds_of_one_leak_agree_and_others_do_not():
    same = pooled([_hold(400.0, seed) for seed in range(3)])
    assert same.agree
    assert same.pooled.high - same.pooled.low < same.values[0].high - same.values[0].low
    other = pooled([_hold(400.0, 1), _hold(200.0, 2), _hold(400.0, 3)])
    assert not other.agree


@pytest.mark.slow
def test_what_is_no_repeat_is_refused():
    with pytest.raises(UsageError, match="nothing to be compared"):
        pooled([_hold(400.0, 1)])
    with pytest.raises(UsageError, match="no repeat"):
        pooled([_hold(400.0, 1), _hold(400.0, 1, "vacuum")])
    with pytest.raises(UsageError, match="no repeat"):
        pooled([_hold(400.0, 1), _hold(400.0, 1, "pressure", "intake")])


def test_two_clear_leaks_that_disagree_are_still_a_leak():
    found = pool_values([_value(5.0, 0.02), _value(6.0, 0.02)], "Pa/s", 35e3, "pressure")
    assert not found.agree
    assert found.pooled.value == pytest.approx(5.5) and 0.0 < found.pooled.low < 5.0
    assert found.pooled.high > 6.0
