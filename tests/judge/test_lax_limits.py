"""A default limit that is far laxer than the other direction's: the strict one is always said beside it."""

from dataclasses import replace

import numpy as np
import pytest

from leakdown.circuits import CIRCUITS, circuit
from leakdown.judge.analyse import analyse
from leakdown.judge.limits import parse_limit, practice_limit, strict_practice
from leakdown.judge.settings import Settings
from leakdown.recording import Conditions, Recording
from leakdown.words.objects import analysis_object
from leakdown.words.terminal import summary


def decay(tau_s, start_pa=-50e3, seconds=90.0, unit="kPa", circuit="crankcase"):
    """A plain exponential, by hand: what is left of it after any time needs no program."""
    t = np.arange(0.0, seconds, 0.2)
    p = start_pa * np.exp(-t / tau_s) + np.random.default_rng(1).normal(0.0, 15.0, t.size)
    direction = "vacuum" if start_pa < 0 else "pressure"
    told = Conditions(circuit, direction, 250e-6, 10e-6, 101_325.0, resolution_pa=10.0, unit=unit)
    return Recording(t, p, conditions=told)


def test_which_defaults_are_lax():
    found = {
        (name, way.direction): strict_practice(practice_limit(name, way.direction), name, way.direction)
        for name in CIRCUITS
        for way in circuit(name).ways
    }
    lax = {key for key, strict in found.items() if strict is not None}
    assert lax == {("crankcase", "vacuum"), ("intake", "vacuum")}
    # 50 to 30 kPa in 20 s: ln(5/3)/20 s = 2.55 %/s; 7 of 40 kPa in 60 s: ln(40/33)/60 s = 0.32 %/s, 8 times less
    assert found["crankcase", "vacuum"].text == circuit("crankcase").way("pressure").limit


def test_only_common_practice_is_called_lax():
    for source in ("given", "file", "job", "settings"):
        own = replace(practice_limit("crankcase", "vacuum"), source=source)
        assert strict_practice(own, "crankcase", "vacuum") is None
    assert strict_practice(parse_limit("2 cm3/min"), "crankcase", "vacuum") is None


@pytest.mark.parametrize(
    ("tau_s", "word", "said", "flagged"),
    [
        (60.0, "pass", "it FAILS", True),  # 14 kPa of 50 in 20 s, 25 of 40 in 60 s: all gone in two minutes
        (3000.0, "pass", "passes too", False),  # 0.3 kPa in 20 s, 0.8 kPa in 60 s
        (12.0, "fail", "lax already", False),  # 41 kPa in 20 s
    ],
)
def test_a_lax_verdict_says_the_strict_one(tau_s, word, said, flagged):
    found = analyse(decay(tau_s))
    assert found.verdict.word == word and said in found.verdict.reason
    assert any(flag.code == "lax-limit" for flag in found.flags) is flagged
    assert said in analysis_object(found)["verdict_detail"]["reason"]
    assert summary(found).startswith("PASS BY A LAX LIMIT") is flagged
    assert " ".join(summary(found).split()).count(said) == 1


def test_a_strict_verdict_is_that_of_the_limit_itself():
    told = analyse(decay(150.0), Settings(limit=circuit("crankcase").way("pressure").limit)).verdict
    assert told.reason in analyse(decay(150.0)).verdict.reason


def test_a_limit_of_its_own_is_not_called_lax():
    found = analyse(decay(60.0), Settings(limit="50 kPa to 30 kPa in 20 s"))
    assert found.verdict.word == "pass" and "lax" not in found.verdict.reason


def test_a_short_hold_leaves_the_strict_one_open():
    found = analyse(decay(260.0, seconds=21.0))
    assert found.verdict.word == "pass"
    assert "is lax" in found.verdict.reason
