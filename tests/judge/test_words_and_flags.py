"""Sentences and flags at their edges: numbers in their units, each flag raised by its own cause and by no other."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from leakdown.analysis import Limit
from leakdown.circuits import circuit
from leakdown.errors import UsageError
from leakdown.hold.parts import parts_of
from leakdown.judge.analyse import _open_doubts
from leakdown.judge.flags import FlagInputs, _about_events, _about_gauge, _about_hold, _about_shape, _standing
from leakdown.judge.judged import FittedTest
from leakdown.judge.known_leak import known_leak, stated_flow
from leakdown.judge.needle import _popped, judged_openings, needle
from leakdown.judge.settings import Settings
from leakdown.judge.vent import VentWay, _air_in, judged_out, judged_outward, volume_flags
from leakdown.judge.vent_decay import VentDecay, _air_only, vent_decay
from leakdown.judge.verdict import _reason
from leakdown.recording import Conditions, Recording
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval
from tests.judge.test_needle import FIVE, log, low
from tests.judge.test_vent import tank


def codes(flags):
    return [flag.code for flag in flags]


def test_what_was_assumed_of_a_tank_is_flagged():
    stated = tank(-8e3, 0.0)
    assert volume_flags(stated) == ()
    unsure = replace(stated, conditions=replace(stated.conditions, volume_u_m3=None))
    assert codes(volume_flags(unsure)) == ["volume-uncertainty-assumed"]
    assert codes(volume_flags(tank(-8e3, 0.0, volume=None))) == ["tank-volume-assumed"]


def test_rounding_is_the_step_s_own():
    """A uniform error of one step: step/sqrt(12)."""
    held = tank(-8e3, 0.0, every=10.0, noise=0.0)
    coarse = replace(held, conditions=replace(held.conditions, resolution_pa=500.0))
    assert vent_decay(parts_of(coarse)).rounding_pa == pytest.approx(500.0 / math.sqrt(12.0))


@pytest.mark.parametrize(
    ("levels", "end", "said"),
    [
        (6e3, 6e3, ""),
        (3e3, 3e3, "comes to rest at 3 kPa"),
        (-50.0, 0.0, "comes to rest at 0 kPa"),
        (None, 4e3, "still coming back at the end, at 4 kPa"),
        (None, -10.0, "at 0 kPa"),
    ],
)
def test_where_a_tank_came_to_rest(levels, end, said):
    sentence = _air_in(VentWay(None, levels, end, 8e3, 0.0, 60.0)).sentence
    assert said in sentence and bool(said) == bool(sentence)
    figured = _air_in(VentWay(Interval(1e-6, 0.5e-6, 2e-6), levels, end, 8e3, 0.0, 60.0))
    assert figured.figures[0].interval == Interval(*(pytest.approx(x) for x in (60.0, 30.0, 120.0)))


def test_pressures_outward_are_said_in_kpa():
    for start, end, levels, said in (
        (4e3, 1e3, None, "began at 4 kPa"),
        (15e3, 14e3, None, "falling at 14 kPa"),
        (15e3, 14.9e3, 14.9e3, "holds 14.9 kPa"),
        (15e3, 9e3, 9e3, "down to 9 kPa"),
        (15e3, 1e3, None, "from 15 to 1 kPa"),
    ):
        assert said in judged_out(VentWay(None, levels, end, start, 0.0, 60.0), "valve")[1]


def test_when_a_needle_is_judged_by_its_hold_instead():
    recording = replace(log(FIVE, [60e3] * 5), conditions=Conditions("carburettor-inlet", "pressure"))
    parts, plain = parts_of(recording), Settings(gauge_range_pa=200e3)
    practice = Limit("usual", "words", "practice")
    found = judged_openings(recording, parts, None, plain)
    assert found is not None and found.analysis.hold.start_s == recording.time_s[0]
    assert found.analysis.hold.end_s == recording.time_s[-1]
    assert judged_openings(recording, parts, practice, plain) is not None
    assert judged_openings(recording, parts, replace(practice, source="given"), plain) is None
    assert judged_openings(recording, parts, None, replace(plain, hold_s=(0.0, 5.0))) is None
    vacuum = replace(recording, conditions=Conditions("carburettor-inlet", "vacuum"))
    assert judged_openings(vacuum, parts, None, plain) is None


def test_one_opening_has_no_spread():
    assert needle(log([100e3], [60e3]), range_pa=200e3).spread is None
    assert needle(log([100e3] * 2, [60e3] * 2), range_pa=200e3).spread == pytest.approx(0.0, abs=0.01)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_nothing_lost_for_certain_is_said_where_little_fell(sign):
    limit = Limit("7 kPa in 60 s", "drop", "given", drop_pa=7e3, time_s=60.0)
    little = SimpleNamespace(start_pa=sign * 40e3, end_pa=sign * 39.9e3)
    much = SimpleNamespace(start_pa=sign * 40e3, end_pa=sign * 33e3)
    unseen = Interval(None, 0.0, 2e3)
    assert _reason("pass", limit, unseen, "reading", "kPa", little).startswith("Nothing lost for certain: within")
    assert _reason("pass", limit, unseen, "reading", "kPa", much).startswith("Up to 2.00 kPa lost, read over 60 s")
    assert _reason("fail", limit, unseen, "reading", "kPa", little).startswith("Up to")
    seen = _reason("fail", limit, Interval(8e3, 7.5e3, 8.5e3), "model", "kPa", much)
    assert seen.startswith("7.50 to 8.50 kPa lost, reckoned for 60 s: over the limit of 7 kPa in 60 s")
    practice = _reason("fail", replace(limit, source="practice"), unseen, "reading", "kPa", little)
    assert "(common practice; the maker's figure wins)" in practice
    in_inches = _reason("fail", limit, Interval(8e3, 7.5e3, 8.5e3), "model", "inHg", much)
    assert "inHg lost" in in_inches and "(2.07 inHg)" in in_inches


class Seen(FlagInputs):
    """What the flags look at, of stand-ins."""

    recording = window = odd = None

    def __init__(self, quote_pa=35e3, settled=True, hold=None, fitted=None, **parts):
        for name, value in dict(quote_pa=quote_pa, settled=settled, hold=hold, fitted=fitted, **parts).items():
            object.__setattr__(self, name, value)


def recording(pressure=(40e3, 39e3), direction="pressure"):
    return Recording(np.arange(float(len(pressure))), np.array(pressure), conditions=Conditions("crankcase", direction))


def window(**parts):
    plain = dict(steps=(), parted_at=None, fell_from_pa=None, several=False, saturated_pa=None, frozen_s=None, spikes=0)
    zero = SimpleNamespace(drift_pa=None, source="assumed", offset_pa=0.0)
    return SimpleNamespace(**({"zero": zero} | plain | parts))


HOLD = SimpleNamespace(start_pa=40e3, end_pa=39e3, start_s=10.0, closed_s=5.0, end_s=60.0, readings=50)
EVENTS = {
    "step": {"steps": (SimpleNamespace(change_pa=500.0, time_s=7.0),)},
    "split-at-mark": {"parted_at": SimpleNamespace(time_s=7.0, text="boot")},
    "fell-before-hold": {"fell_from_pa": 55e3},
    "several-holds": {"several": True},
}


@pytest.mark.parametrize("code", EVENTS)
def test_each_event_has_its_flag(code):
    assert list(_about_events(Seen(recording=recording(), hold=HOLD, window=window()))) == []
    (flag,) = _about_events(Seen(recording=recording(), hold=HOLD, window=window(**EVENTS[code])))
    assert flag.code == code and ("55" in flag.text) == (code == "fell-before-hold")


def test_a_hold_s_own_flags():
    def of(settled=True, odd=None, **changes):
        hold = SimpleNamespace(**(vars(HOLD) | changes))
        return codes(_about_hold(Seen(recording=recording(), hold=hold, settled=settled, odd=odd, window=window())))

    assert of() == [] and of(settled=False) == ["not-settled"]
    assert of(readings=2) == of(readings=3) == ["few-readings"] and of(readings=1000) == []
    assert of(start_s=500.0) == ["creep"] and of(start_s=500.0, odd=SimpleNamespace(name="creep")) == []


@pytest.mark.parametrize(
    ("zero", "code"),
    [
        ({"drift_pa": 1e3, "source": "measured"}, "zero-moved"),
        ({"drift_pa": -1e3, "source": "measured"}, "zero-moved"),
        ({"drift_pa": 0.0, "source": "measured", "offset_pa": 5e3}, "zero-offset"),
        ({"source": "given", "offset_pa": -5e3}, "zero-offset"),
        ({"source": "assumed", "offset_pa": 5e3}, None),
        ({"source": "measured", "offset_pa": 1.0}, None),
    ],
)
def test_a_zero_that_moved_or_is_off(zero, code):
    plain = {"drift_pa": None, "source": "measured", "offset_pa": 0.0}
    fitted = SimpleNamespace(used=SimpleNamespace(resolution_pa=SimpleNamespace(value=10.0)))
    at = window(zero=SimpleNamespace(**(plain | zero)))
    found = codes(_about_gauge(Seen(recording=recording(), hold=HOLD, window=at, fitted=fitted)))
    assert found == ([] if code is None else [code])
    high = SimpleNamespace(**(vars(HOLD) | {"start_pa": 200e3}))
    over = codes(_about_gauge(Seen(recording=recording(), hold=high, window=window(spikes=2), fitted=fitted)))
    assert over == ["spikes", "over-caution-pressure"]


def test_a_reading_that_stands_still():
    def of(pressure=(40e3, 39e3), **changes):
        return codes(_standing(Seen(recording=recording(pressure), window=window(**changes))))

    assert of() == [] and of(saturated_pa=40e3) == ["saturated"] and of(frozen_s=(1.0, 2.0)) == ["frozen"]
    assert of([40e3] * 200) == ["frozen"] and of([40e3] * 2) == [] and of([40e3] * 199 + [40.1e3]) == []
    assert of([40e3] * 200, frozen_s=(1.0, 2.0)) == ["frozen"]


@pytest.mark.parametrize(
    ("name", "size", "code"),
    [
        ("growth", 1.0, "leak-grows"),
        ("growth", -1.0, "leak-shrinks"),
        ("pressed", 1.0, "opened-by-pressure"),
        ("pressed", -1.0, "shut-by-pressure"),
        ("opening", 5e3, "levels-off"),
        ("creep", 0.0, "creep"),
        ("step", 500.0, "step"),
    ],
)
def test_each_odd_shape_has_its_flag(name, size, code):
    odd = SimpleNamespace(name=name, size=size, time_s=7.0)
    fitted = SimpleNamespace(leak=SimpleNamespace(opening_pa=None), climbs=False)
    (flag,) = _about_shape(Seen(recording=recording(), window=window(), fitted=fitted, odd=odd))
    assert flag.code == code
    lost = SimpleNamespace(leak=None, climbs=True)
    assert codes(_about_shape(Seen(recording=recording(), window=window(), fitted=lost))) == [
        "no-fit",
        "pressure-rises",
    ]
    frozen = window(frozen_s=(1.0, 2.0))
    assert codes(_about_shape(Seen(recording=recording(), window=frozen, fitted=lost))) == ["pressure-rises"]


def test_what_a_test_is():
    def of(leak):
        flags = (SimpleNamespace(code="creep"), SimpleNamespace(code="spikes"))
        return FittedTest(SimpleNamespace(leak=leak, flags=flags), SimpleNamespace(model=SimpleNamespace(inward=True)))

    seen, unseen = (SimpleNamespace(detected=d, rate_pa_s=Interval(1.0, 0.5, 2.0)) for d in (True, False))
    assert (of(seen).tight, of(unseen).tight, of(None).tight) == (False, True, False)
    assert (of(seen).detected, of(unseen).detected, of(None).detected) == (True, False, False)
    assert of(None).rate_pa_s == Interval(None, 0.0, math.inf) and of(seen).rate_pa_s.value == 1.0
    assert of(None).inward and of(None).has("creep") and of(None).has("spikes") and not of(None).has("frozen")


def test_a_tank_that_emptied_is_said_to_have_come_to_nothing():
    t = np.arange(0.0, 20.0, 1.0)
    told = Conditions("tank", "pressure", 500e-6, 25e-6, 101_325.0, resolution_pa=10.0)
    emptied = Recording(t, np.where(t < 2.0, 15e3, -20.0), conditions=told)
    practice = Limit("usual", "words", "practice")
    found = judged_outward(parts_of(emptied), None, practice, Settings())
    assert "from 15 to 0 kPa" in found.analysis.findings[0].sentence
    assert judged_outward(parts_of(emptied), None, replace(practice, source="given"), Settings()) is None


def test_a_float_needle_that_was_popped_says_where():
    """Held at its target, never popped: the pressures in kPa, forced or not."""
    way = circuit("float-inlet").ways[0]
    word, said = _popped(needle(low(22e3, 0.6), "float-inlet", range_pa=100e3), way)
    assert word == "undecided" and "opened at 21.6 kPa" in said and f"held at {way.target_pa / 1e3:g} kPa" in said
    forced = _popped(needle(low(60e3, 0.6), "float-inlet", range_pa=100e3), way)[1]
    assert "opened at 58." in forced and "forced" in forced and f"{way.caution_pa / 1e3:g} kPa at most" in forced


def test_a_known_leak_at_another_pressure_names_both():
    """5 kPa apart is another pressure; either sign of the test's is its magnitude."""
    rate = Interval(0.1, 0.09, 0.11)
    for at_pa in (35e3, -35e3):
        leak = SimpleNamespace(throughput_pa_m3_s=rate, at_pa=at_pa)
        analysis = SimpleNamespace(leak=leak, recording=SimpleNamespace(source="x.csv"))
        with pytest.raises(UsageError, match="stated at 50 kPa, the test is quoted at 35"):
            known_leak(analysis, stated_flow("12.0 cm3/min +/- 3 % at 50 kPa"), "certificate")
        with pytest.raises(UsageError, match="no source"):
            known_leak(analysis, stated_flow("12.0 cm3/min +/- 3 % at 35 kPa"), "  ")
    with pytest.raises(UsageError, match="no leak of a size"):
        known_leak(SimpleNamespace(leak=None, recording=SimpleNamespace(source="")), None, "certificate")


def test_the_part_of_a_fall_that_is_air():
    """Pumped slowly the gas has no warmth left to give; at once it may have all of it: 0.4/1.4 of the start, by tau.

    The wall goes on by `wall_creeps` of the ambient pressure times the start, at its worst e-fold; in quadrature.
    """
    t = np.arange(0.0, 40.0, 0.5)

    def seen(fill_s):
        return VentDecay(t, 8e3 * np.exp(-t / 20.0), 10.0, 3.0, 0.0, 0.0, 40.0, fill_s)

    tuned_ = tuned("judge")
    start, end = 5.0, 15.0
    tau = np.geomspace(0.02, 10.0, 4000) * tuned_.gas_settles_s
    gone = (np.exp(-start / tau) - np.exp(-end / tau)) / (end - start)
    wall = 101_325.0 * tuned_.wall_creeps * 8e3 * gone.max()
    short = tau[tau <= tuned_.gas_settles_s]
    air = []
    for fill_s in (0.0, 5.0, 1e6):
        pumped = max(fill_s, 1e-3) / short
        warm = 0.4 / 1.4 * 8e3 * (1.0 - np.exp(-pumped)) / pumped * gone[tau <= tuned_.gas_settles_s]
        gas = 250.0 - np.min((250.0 - warm) / (1.0 + 0.4 * np.exp(-start / short)))
        found = _air_only(250.0, 20.0, (10, 30), seen(fill_s), 101_325.0)
        assert found == pytest.approx(250.0 - math.hypot(gas, wall, 20.0), rel=0.02)
        air.append(found)
    assert air[0] <= air[1] <= air[2] < 250.0


def test_a_hold_chosen_inside_one_of_several_settles_the_doubt():
    """Its own ends count as inside; one across two holds settles nothing, and other doubts stay."""
    doubts = (SimpleNamespace(code="pumped-again"), SimpleNamespace(code="other"))
    several = SimpleNamespace(holds=((0.0, 60.0), (70.0, 130.0)), doubts=doubts)
    for chosen in ((0.0, 60.0), (70.0, 130.0), (10.0, 50.0), (70.0, 100.0)):
        assert codes(_open_doubts(several, chosen)) == ["other"]
    for chosen in ((10.0, 80.0), (65.0, 130.0), (0.0, 60.1), None):
        assert codes(_open_doubts(several, chosen)) == ["pumped-again", "other"]
