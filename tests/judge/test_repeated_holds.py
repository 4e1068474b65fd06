"""One log with several holds: each is found, and they are pooled as if they were files of their own."""

import numpy as np
import pytest

from leakdown.judge.repeats import analysed_holds, pool_values, pooled
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.uncertainty import Interval
from tests.judge.bench import held, orifice_pa_m3_s, told


def log_of(holes_m, times, seconds=40.0):
    """Zero, pump, hold, vent, zero; again and again."""
    t, p, now = [], [], 0.0
    for k in range(times):
        one = held(holes_m, 250e-6, 45e3, seconds=seconds, every=0.1, seed=k)
        rise, fall = np.linspace(0.0, 45e3, 40), one.pressure_pa[-1] * np.exp(-np.arange(1, 15) * 0.1 / 0.2)
        part = np.concatenate((np.zeros(30), rise, one.pressure_pa, fall, np.zeros(30)))
        p.append(part)
        t.append(now + 0.1 * np.arange(part.size))
        now = t[-1][-1] + 0.1
    return Recording(np.concatenate(t), np.concatenate(p), conditions=told("crankcase", 250e-6))


@pytest.mark.slow
@pytest.mark.parametrize("times", [1, 2, 4])
def test_each_hold_of_a_log_counts(times):
    holds = analysed_holds(log_of([0.1e-3], times), Settings())
    assert len(holds) == times
    assert all(h.hold.end_s - h.hold.closed_s > 35.0 for h in holds)


def test_pooled_they_hold_the_truth_and_are_narrower():
    holds = analysed_holds(log_of([0.1e-3], 4), Settings())
    found = pooled(holds)
    true = orifice_pa_m3_s(0.1e-3, 136_325.0, 101_325.0)
    assert found.throughput_pa_m3_s.low <= true <= found.throughput_pa_m3_s.high
    one, all_ = holds[0].leak.rate_pa_s, found.pooled
    assert all_.high - all_.low < one.high - one.low


def test_the_volume_s_doubt_is_not_averaged_away():
    found = pooled(analysed_holds(log_of([0.1e-3], 4), Settings())).throughput_pa_m3_s
    assert (found.high - found.low) / (2 * found.value) == pytest.approx(0.05, rel=0.2)  # 5 % was given


def test_without_a_volume_there_is_no_leak_rate():
    assert pool_values([Interval(1.0, 0.9, 1.1)] * 2, "Pa/s", 35e3, "pressure").throughput_pa_m3_s is None
