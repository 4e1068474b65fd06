"""Circuits that will not pump up: strokes by Boyle's law against an orifice, sized from the strokes."""

import numpy as np
import pytest

from leakdown.hold.strokes import pumping_in_vain
from leakdown.judge.analyse import analyse

from .bench import pumped


def figure(result, key):
    return next(f.interval for x in result.findings for f in x.figures if f.key == key)


@pytest.mark.parametrize("vacuum", [False, True])
@pytest.mark.parametrize(("hole_mm", "pace"), [(0.5, 1.0), (0.8, 1.0), (1.2, 1.5), (2.0, 1.2)])
def test_the_hole_is_told_by_the_strokes(hole_mm, pace, vacuum):
    result = analyse(pumped(hole_mm * 1e-3, 250e-6, 30, pace, vacuum=vacuum))
    assert result.verdict.word == "fail" and "would not build above" in result.verdict.reason
    hole = figure(result, "pumped_hole_mm")
    assert hole.low <= hole_mm <= hole.high
    if result.leak is not None:  # the fall after pumping is used only where it tells the same
        assert result.leak.hole_m.low * 1e3 <= 1.1 * hole_mm and hole_mm <= 1.1e3 * result.leak.hole_m.high


def test_the_throughput_is_the_worked_example():
    """One stroke of 15 cm3 a second at 101.325 kPa is 1.52 Pa m3/s (q = n V p_a)."""
    result = analyse(pumped(0.6e-3, 250e-6, 30, 1.0))
    assert figure(result, "pumped_leak_cm3_per_min").value == pytest.approx(1.52 / 101_325 * 6e7, rel=0.05)


def test_without_a_hold_at_the_end_it_is_still_a_result():
    result = analyse(pumped(0.8e-3, 250e-6, 25, 1.0, after=0.0))
    assert result.verdict.word == "fail" and result.leak is None
    assert "would-not-build" in [finding.name for finding in result.findings]


@pytest.mark.parametrize("hole_mm", [0.0, 0.05, 0.2])
def test_a_circuit_that_builds_is_a_hold(hole_mm):
    result = analyse(pumped(hole_mm * 1e-3, 250e-6, 9, 1.0, after=60.0))
    assert "would-not-build" not in [finding.name for finding in result.findings]
    assert result.leak is not None


def test_no_strokes_in_a_smooth_fill_or_in_noise():
    t = np.arange(0.0, 60.0, 0.1)
    smooth = np.minimum(t * 2e3, 40e3)
    assert pumping_in_vain(t, smooth, 10.0) is None
    assert pumping_in_vain(t, np.random.default_rng(1).normal(5e3, 200.0, t.size), 10.0) is None
