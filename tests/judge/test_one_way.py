"""Vents and needles examined whole: each healthy one passes, each fault fails for its own reason."""

import json
from dataclasses import replace

import numpy as np
import pytest

from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit
from leakdown.judge.settings import Settings
from leakdown.recording import Recording
from leakdown.report.analysis_page import analysis_page
from leakdown.report.decay_chart import decay_chart
from leakdown.words.objects import analysis_object
from leakdown.words.terminal import terminal_report
from tests.judge.test_needle import pumped as popped
from tests.judge.test_vent import CM3_MIN, tank

from .bench import told


def needle_log(openings, seed=1, **more):
    log = popped(openings, 0.05, 50.0, 10e3, 3.0, 0.6, seed)
    return Recording(log.time_s, log.pressure_pa, conditions=told("carburettor-inlet", None, **more))


def relieving():
    still = tank(15e3, 0.0, every=0.5)
    return replace(still, pressure_pa=9e3 + (still.pressure_pa - 9e3) * np.exp(-still.time_s / 4.0))


CASES = {
    "healthy in": (tank(-8e3, 300 * CM3_MIN, 1.5e3, every=0.2), "pass", "Air gets in"),
    "healthy, gone in a second": (tank(-8e3, 3000 * CM3_MIN, 500.0, every=0.2), "pass", "Air gets in"),
    "blocked": (tank(-8e3, 0.0), "fail", "BLOCKED"),
    "nearly blocked": (tank(-8e3, 8 * CM3_MIN), "fail", "BLOCKED"),
    "holds out": (tank(15e3, 0.0), "pass", "within the limit"),
    "relieves": (relieving(), "pass", "relieves"),
    "leaks out": (tank(15e3, 60 * CM3_MIN), "fail", "LEAKS OUTWARD"),
    "opens alike": (needle_log([90e3, 92e3, 91e3, 90.5e3, 91.5e3]), "pass", "agree"),
    "opens unlike": (needle_log([90e3, 60e3, 110e3, 95e3, 80e3]), "fail", "differ"),
    "beyond the gauge": (needle_log([90e3] * 5, extra=(("range", "90 kPa"),)), "undecided", "end of the gauge"),
}


@pytest.mark.parametrize("name", CASES)
def test_each_is_judged_for_its_own_reason(name):
    recording, word, reason = CASES[name]
    result = analyse(recording)
    assert result.verdict.word == word, result.verdict.reason
    assert reason in result.verdict.reason


@pytest.mark.slow
@pytest.mark.parametrize("name", CASES)
def test_each_can_be_shown(name):
    result = analyse(CASES[name][0])
    plain = analysis_object(result)
    json.dumps(plain, allow_nan=False)
    assert plain["verdict"] == CASES[name][1]
    assert result.verdict.reason[:20] in " ".join(terminal_report(result, 300).split())
    assert decay_chart(result).series
    assert "<html" in analysis_page(result)


def test_a_given_limit_wins_over_what_the_vent_should_do():
    settings = Settings(limit=parse_limit("1 kPa in 10 s"))
    assert analyse(tank(-8e3, 300 * CM3_MIN), settings).verdict.word == "fail"
    assert analyse(tank(-8e3, 0.0), settings).verdict.word == "pass"


def test_a_needle_that_only_holds_is_judged_by_its_hold():
    t = np.arange(0.0, 70.0, 0.5)
    p = np.where(t < 5, t * 10e3, 50e3) + np.random.default_rng(1).normal(0, 30, t.size)
    result = analyse(Recording(t, p, conditions=told("carburettor-inlet", 20e-6)))
    assert result.verdict.word == "pass" and result.leak is not None
