"""The loss over a limit's time: read plainly, then off the settled curve. Truths by hand or by scipy."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from leakdown.judge import loss
from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.recording import Conditions, Recording
from tests.judge.test_tuned import look
from tests.study.circuit import Truth, played, pressed, weep
from tests.study.regimes import rate_for

AIR = 101_325.0
LIMIT = parse_limit("7 kPa in 60 s from 40 kPa")


def _log(truth: Truth) -> Recording:
    log = played(truth)
    told = Conditions("crankcase", "vacuum" if truth.vacuum else "pressure", truth.volume_m3, None, AIR, 293.15)
    return Recording(log.time_s, log.pressure_pa, conditions=told)


def test_what_may_be_given_back_without_a_leak():
    """Brisk filling: less than the isentropic bound, 13 kPa from 40, and hose, drift and a weak zero beside it."""
    brisk = look(_log(Truth(volume_m3=30e-6, fill_s=1.0, strokes=1, target_pa=44e3)))
    slow = look(_log(Truth(volume_m3=100e-6, fill_s=60.0, strokes=60, target_pa=44e3)))
    at_once = [loss._given_back_pa(seen.fitted, 40e3, 0.0, 60.0) for seen in (brisk, slow)]
    assert 4e3 < at_once[1] < at_once[0] < 19e3
    later = loss._given_back_pa(brisk.fitted, 40e3, 30.0, 60.0)
    assert 2e3 < later < 4e3
    wet = look(_log(Truth(vacuum=True, volume_m3=300e-6, fill_s=12.0, strokes=12, target_pa=44e3)))
    assert 13e3 < loss._given_back_pa(wet.fitted, 40e3, 30.0, 60.0) < 17e3  # vapour, a third of the vacuum


@pytest.mark.parametrize("vacuum", [False, True])
def test_a_plain_fall_needs_no_model(vacuum):
    """43 kPa to nothing in 50 s, by a law that no leak follows: the readings say it."""
    t = np.arange(0.0, 50.0, 0.1)
    size = 43e3 * (1.0 - (t / 50.0) ** 2)
    direction = "vacuum" if vacuum else "pressure"
    told = Conditions("crankcase", direction, 250e-6, None, AIR, 293.15)
    p = (-size if vacuum else size) + np.random.default_rng(3).normal(0.0, 20.0, t.size)
    result = analyse(Recording(t, p, conditions=told), Settings(limit=LIMIT))
    assert result.verdict is not None
    assert result.verdict.word == "fail" and result.verdict.basis == "reading"
    assert result.verdict.measured is not None and result.verdict.measured.low > 30e3


def test_what_is_lost_before_the_time_is_over_is_lost():
    """No fit, and a hold a second short of the limit's time: 12 kPa are gone all the same."""
    read = look(
        Recording(np.arange(0.0, 59.0, 0.2), np.linspace(39.9e3, 28e3, 295), conditions=Conditions("crankcase"))
    )
    hold = replace(read.hold, start_s=0.0, end_s=58.8)
    found = loss._read_off(LIMIT, read.fitted, hold)
    assert found is not None and found.measured.low > LIMIT.drop_pa
    assert loss._read_off(parse_limit("20 kPa in 60 s from 40 kPa"), read.fitted, hold) is None


def test_more_than_the_limit_from_below_its_start_needs_no_model_carried_back():
    """A valve that pressure holds shut, filled briskly: 36 kPa once settled, 12 kPa less a minute later (scipy)."""
    flap = pressed(weep, -7e-5)
    truth = Truth(
        volume_m3=40e-6, fill_s=1.0, strokes=1, target_pa=45e3, rate_pa_s=170.0, law=flap, hold_s=80.0, seed=2
    )
    recording = _log(truth)
    result = analyse(recording, Settings(limit=LIMIT))
    settled = recording.between(15.0, 75.0).pressure_pa
    assert settled[0] < 38e3 and settled[0] - settled[-1] > 1.3 * LIMIT.drop_pa
    assert result.verdict is not None and result.verdict.word == "fail"


@pytest.mark.parametrize("over", [0.7, 0.8])
def test_what_gas_gives_back_is_no_loss(over):
    """Filled warm, it loses far more than the limit at first; the leak alone loses less (scipy)."""
    truth = Truth(volume_m3=60e-6, fill_s=1.2, strokes=2, target_pa=50e3, hold_s=110.0, seed=4)
    leaking = Truth(**(vars(truth) | {"rate_pa_s": rate_for(over, truth.law, False, AIR)}))
    recording = _log(leaking)
    result = analyse(recording, Settings(limit=LIMIT))
    lost = np.ptp(recording.between(5.3, 65.0).pressure_pa)
    assert lost > 1.4 * LIMIT.drop_pa
    assert result.verdict is not None and result.verdict.word == "pass"


def test_a_curve_that_stands_on_the_limits_start():
    """40.0 kPa from the first row to the last: the moment of passing 40 kPa is unknown, the loss is not."""
    t = np.arange(0.0, 120.0, 10.0)
    told = Conditions("crankcase", "pressure", None, None, AIR, 293.15, resolution_pa=100.0)
    result = analyse(Recording(t, np.full(t.size, 40e3), conditions=told, by_hand=True), Settings(limit=LIMIT))
    assert result.verdict is not None and result.verdict.word == "pass"
    assert result.verdict.measured is not None and result.verdict.measured.high < 2e3


@pytest.mark.parametrize(("k_per_min", "judged"), [(0.5, True), (3.5, False)])
def test_an_engine_that_just_ran_gets_no_verdict(k_per_min, judged):
    """Cooling by a thermometer's column: a little is taken off, 3 to 4 K/min is no state to test in."""
    t = np.arange(0.0, 80.0, 0.5)
    kelvin = 320.0 - k_per_min * t / 60.0
    told = Conditions("crankcase", "pressure", 250e-6, None, AIR)
    p = (AIR + 41e3) * kelvin / 320.0 - AIR + np.random.default_rng(2).normal(0.0, 20.0, t.size)
    result = analyse(Recording(t, p, kelvin, conditions=told), Settings(limit=LIMIT))
    assert result.verdict is not None and (result.verdict.word == "pass") is judged
    assert judged or "K a minute" in result.verdict.reason
