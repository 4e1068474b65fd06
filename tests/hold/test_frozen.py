"""A gauge that stops moving altogether is no tight circuit; a tight circuit is no frozen gauge."""

import numpy as np
import pytest

from leakdown.hold.window import frozen_from
from leakdown.judge.analyse import analyse
from leakdown.recording import Conditions, Recording

pytestmark = pytest.mark.slow

TOLD = Conditions("crankcase", "pressure", 250e-6, 25e-6, 101_325.0)


def log(tau_s, noise=20.0, step=10.0, freeze=None, seed=0):
    rng = np.random.default_rng(seed)
    t = np.arange(0.0, 75.0, 0.1)
    p = np.where(t < 4, 0.0, np.where(t < 9, (t - 4) * 8e3, 40e3 * np.exp(-np.maximum(t - 9, 0) / tau_s)))
    p = np.round((p + rng.normal(0.0, noise, t.size)) / step) * step
    if freeze is not None:
        p[(t >= freeze[0]) & (t < freeze[1])] = p[int(np.searchsorted(t, freeze[0]))]
    return Recording(t, p, conditions=TOLD)


def codes(result):
    return [flag.code for flag in result.flags]


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(("start", "end"), [(9.0, 75.0), (12.0, 75.0), (10.0, 60.0)])
def test_frozen_from_the_start_is_never_a_pass(start, end, seed):
    result = analyse(log(200.0, freeze=(start, end), seed=seed))
    assert result.verdict.word == "undecided" and result.leak is None and "frozen" in codes(result)
    assert "froze" in result.verdict.reason


@pytest.mark.parametrize("seed", range(5))
def test_frozen_half_way_the_part_before_counts(seed):
    result = analyse(log(200.0, freeze=(40.0, 75.0), seed=seed))
    assert "frozen" in codes(result) and result.hold.end_s <= 40.1
    true = analyse(log(200.0, seed=seed)).leak.rate_pa_s.value
    assert result.leak.rate_pa_s.low <= true <= result.leak.rate_pa_s.high


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize(("noise", "step"), [(20.0, 10.0), (3.0, 10.0), (20.0, 100.0), (1.0, 100.0), (0.0, 100.0)])
def test_a_tight_circuit_on_any_gauge_is_alive(noise, step, seed):
    recording = log(1e9, noise, step, seed=seed)
    assert frozen_from(recording.time_s, recording.pressure_pa) is None
    assert analyse(recording).verdict.word == "pass"


def test_a_gauge_that_repeats_its_value_is_alive():
    slow = log(200.0)
    p = slow.pressure_pa[::5].repeat(5)[: slow.time_s.size]
    assert frozen_from(slow.time_s, p) is None


def test_a_sheet_is_left_alone():
    assert frozen_from(np.arange(8.0) * 10, np.full(8, 40e3)) is None


@pytest.mark.parametrize("seed", range(4))
def test_the_end_of_the_gauge_s_range_is_no_freeze_and_no_slip(seed):
    recording = log(200.0, seed=seed)
    end = np.minimum(recording.pressure_pa, 36e3)
    result = analyse(Recording(recording.time_s, end, conditions=TOLD))
    assert "saturated" in codes(result) and not {"frozen", "step"} & set(codes(result))
    true = analyse(recording).leak.rate_pa_s.value
    assert result.leak.rate_pa_s.low <= true <= result.leak.rate_pa_s.high
