"""Holds, rigs, strokes, shares and flags right at their bounds, on stand-ins for what was fitted."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest

from leakdown.analysis import Flag, Limit, Phase, Verdict
from leakdown.fit.model import LOG_TAU, NAMES, RATE, SHARE
from leakdown.judge import analyse as analyses
from leakdown.judge import flags, idle_air, tightness
from leakdown.judge.flags import _about_inputs, _about_shape, _is_fast, _standing
from leakdown.judge.pumping import judged_pumping
from leakdown.judge.rig import Cleared, Rig, RigLeak, _finding, _verdict, cleared, difference, orifice_check
from leakdown.recording import Doubt
from leakdown.uncertainty import InputQuantity, Interval
from tests.judge.test_readings_by_hand import _recording
from tests.judge.test_sizes_by_hand import _analysis, _leak
from tests.judge.test_verdict_branches import Seen, _of_leak, _used

# ---------------------------------------------------------------- holds


@pytest.mark.parametrize(("dense", "given"), [(True, False), (True, True), (False, False)])
def test_where_a_hold_is_settled(monkeypatch: pytest.MonkeyPatch, dense: bool, given: bool) -> None:
    """Within 70 % of 100 s: from there on. At the 70 s themselves only what is sure to settle counts."""
    times = np.arange(0.0, 121.0, 0.2 if dense else 20.0)
    monkeypatch.setattr(tightness, "DENSE_FROM", 50)
    phases = (Phase("fill", 0.0, 10.0), Phase("hold", 10.0, 110.0))
    window = SimpleNamespace(closed_s=10.0, end_s=110.0, given=given, phases=phases, zero="zero", steps="steps")
    fitted: Any = SimpleNamespace(window=window, part=_recording(40e3 - times**2, times), zero_pa=500.0,
                                  chosen=SimpleNamespace(found="found"))  # fmt: skip
    latest = 0.7 * 100.0
    for plainly, surely, start, settled in (
        (20.0, None, 20.0, True), (69.9, None, 69.9, True), (latest, 30.0, 30.0, True),
        (latest, latest, 0.0, False), (80.0, 69.9, 69.9, True), (80.0, 75.0, 0.0, False), (0.0, None, 0.0, True),
    ):  # fmt: skip
        asked = {False: plainly, True: surely}
        monkeypatch.setattr(tightness, "settled_after_s", lambda found, surely=False, asked=asked: asked[surely])
        hold, so = tightness._hold(fitted)
        begin = 10.0 + (start if dense and not given else 0.0)
        assert so is (settled or not dense) and (hold.closed_s, hold.start_s, hold.end_s) == (10.0, begin, 110.0)
        assert (hold.readings, hold.zero, hold.steps, hold.given) == (times.size, "zero", "steps", given)
        parted = begin > 10.0
        assert [phase.name for phase in hold.phases] == ["fill", *(["stabilise"] if parted else []), "hold"]

        def near(at_s: float) -> float:
            away = [abs(float(t) - at_s) for t in times]
            reach = max(min(away), 0.3 if dense else 0.0)
            return float(np.mean([40e3 - t**2 for t, far in zip(times, away, strict=True) if far <= reach])) - 500.0

        assert (hold.start_pa, hold.end_pa) == pytest.approx((near(begin), near(110.0)), rel=1e-9)


def test_what_an_analysis_is_made_of(monkeypatch: pytest.MonkeyPatch) -> None:
    """An exponential for a leak that was seen or could not be sized; curve and likely leaks where it was sized."""
    recording = _recording([1.0, 2.0])
    x = np.zeros(len(NAMES))
    x[RATE], x[SHARE] = 5.0, 0.25
    hold = SimpleNamespace(start_s=3.0, closed_s=2.0)
    times = np.array([0.0, 1.0])
    monkeypatch.setattr(tightness, "_hold", lambda fitted: (hold, "settled"))
    monkeypatch.setattr(tightness, "_time_constant_s", lambda fitted, hold: 10.0)
    monkeypatch.setattr(tightness, "residuals", lambda found: (times, "residual"))
    monkeypatch.setattr(tightness, "curve", lambda found, closed: ("curve", found, closed))
    monkeypatch.setattr(tightness, "all_flags", lambda seen, of_leak: (seen.settled, seen.quote_pa, of_leak))
    monkeypatch.setattr(tightness, "half_gone_s", lambda fitted: 7.0)
    monkeypatch.setattr(tightness, "judge", lambda limit, fitted, hold: ("judged", limit))
    monkeypatch.setattr(tightness, "frozen_verdict", lambda limit: ("frozen", limit))
    readings = SimpleNamespace(count="count", sigma_pa="sigma")
    found = SimpleNamespace(model=SimpleNamespace(readings=readings))
    settings: Any = SimpleNamespace(quote_pa=35e3)

    def of(leak: Any, sized: Any, limit: Any = "limit", frozen: bool = False) -> Any:
        fitted: Any = SimpleNamespace(leak=leak, chosen=SimpleNamespace(found=found, sized=sized), used="used",
                                      frozen=frozen, window=SimpleNamespace(closed_s=2.0))  # fmt: skip
        return tightness._analysis(recording, fitted, limit, settings, True)

    sized = SimpleNamespace(plausible=(x, 2.0 * x))
    seen = of(SimpleNamespace(detected=True), sized)
    assert (seen.time_constant_s, seen.half_life_s, seen.half_gone_s) == (10.0, pytest.approx(6.931472), 7.0)
    assert seen.curve == ("curve", found, 2.0) and seen.plausible == ((5.0, 0.25), (10.0, 0.5))
    assert seen.residual_time_s.tolist() == [2.0, 3.0] and (seen.residual_count, seen.residual_u_pa) == (
        "count",
        "sigma",
    )
    assert seen.verdict == ("judged", "limit") and seen.flags == ("settled", 35e3, True)
    tight = of(SimpleNamespace(detected=False), sized, frozen=True)
    assert (tight.time_constant_s, tight.half_life_s, tight.half_gone_s) == (None, None, None)
    assert tight.verdict == ("frozen", "limit") and tight.curve is not None
    times = np.zeros(0)
    unsized = of(None, None, limit=None)
    assert (unsized.time_constant_s, unsized.half_gone_s, unsized.verdict) == (10.0, None, None)
    assert (unsized.curve, unsized.plausible, unsized.residual_count, unsized.residual_u_pa) == (None, (), None, None)


def test_a_hold_that_is_known_to_be_one(monkeypatch: pytest.MonkeyPatch) -> None:
    settings: Any = SimpleNamespace(hold_s=(1.0, 2.0), limit_for=lambda recording: ("limit", recording))
    monkeypatch.setattr(tightness, "parts_of", lambda recording, span: ("parts", recording, span))
    monkeypatch.setattr(tightness, "judged_tightness", lambda *given: given)
    monkeypatch.setattr(tightness, "_fitted", lambda *given: ("fitted", *given))
    monkeypatch.setattr(tightness, "_hold", lambda fitted: (("hold", fitted), True))
    monkeypatch.setattr(tightness, "_verdict", lambda *given: given)
    parts = ("parts", "log", (1.0, 2.0))
    assert tightness.analysed_hold("log", settings) == ("log", parts, ("limit", "log"), settings)  # type: ignore[arg-type, comparison-overlap]
    fitted = ("fitted", "log", parts, settings)
    found = tightness.verdict_of_hold("log", settings)  # type: ignore[arg-type]
    assert found == (("limit", "log"), fitted, ("hold", fitted))
    settings.limit_for = lambda recording: None
    assert tightness.verdict_of_hold("log", settings) is None  # type: ignore[arg-type]


def test_a_vacuum_that_the_air_cannot_give() -> None:
    """98 % of 100 kPa of air is no vacuum to quote; a fit that is there is taken again."""
    used = _recording([-9e3, -8e3], direction="vacuum", barometer_pa=100e3)
    parts: Any = SimpleNamespace(resolution=SimpleNamespace(value=10.0, source="given"), kept={"hold": "kept"})
    settings: Any = SimpleNamespace(discharge_coefficient=0.6, quote_pa=97.9e3)
    assert tightness._fitted(used, parts, settings) == "kept"  # type: ignore[comparison-overlap]
    settings.quote_pa = 0.98 * 100e3
    with pytest.raises(tightness.UsageError, match=r"no vacuum of 98 kPa can be at 100\.0 kPa of air"):
        tightness._fitted(used, parts, settings)
    settings.quote_pa = 150e3
    out = _recording([9e3, 8e3], barometer_pa=100e3)
    assert tightness._fitted(out, parts, settings) == "kept"  # type: ignore[comparison-overlap]


# ---------------------------------------------------------------- rigs, strokes, idle air


def test_differences_reckoned_again() -> None:
    """Low less high and high less low, in quadrature about the difference of the values; nothing below nought."""
    rng, kinds = np.random.default_rng(8), set()
    for _ in range(120):
        a, b, c, d, e, f = (float(x) for x in rng.uniform(0.1, 1.0, 6))
        test = Interval(2.0 * a, 2.0 * a * b, 2.0 * a + c) if rng.random() < 0.7 else Interval(None, 0.0, 2.0 * a)
        rig = Interval(d, d * e, d + f) if rng.random() < 0.7 else Interval(None, 0.0, d)
        found = difference(test, rig)
        if test.value is None:
            assert found == Interval(None, 0.0, max(test.high - rig.low, 0.0))
            continue
        own = rig.value if rig.value is not None else rig.low
        low = test.value - own - math.sqrt((test.value - test.low) ** 2 + (rig.high - own) ** 2)
        high = test.value - own + math.sqrt((test.high - test.value) ** 2 + (own - rig.low) ** 2)
        kinds.add((rig.value is None, low > 0.0, high > 0.0))
        ends = (low, high) if low > 0.0 else (0.0, max(high, 0.0))
        assert (found.low, found.high) == pytest.approx(ends)
        assert found.value == (pytest.approx(test.value - own) if low > 0.0 else None)
    assert len(kinds) >= 4
    # exactly nought: (3, 4, 5) from 6 less 1
    assert difference(Interval(6.0, 3.0, 7.0), Interval(1.0, 0.5, 5.0)).value is None


def test_a_hole_in_the_cap_by_the_usual_coefficient() -> None:
    """0.62, or what the result was reckoned with; a known hole of twice the coefficient is half of what is seen."""
    usual = _analysis(_leak())
    used = replace(usual.used, discharge_coefficient=replace(usual.used.discharge_coefficient, value=None))
    diameter = InputQuantity("hole", 1e-4, 1e-6, "given", "")
    for analysis in (replace(usual, used=used), usual):
        assert orifice_check(analysis, diameter).ratio.value == pytest.approx(1.0)
        coefficient = usual.used.discharge_coefficient.value
        assert orifice_check(analysis, diameter, 2.0 * coefficient).ratio.value == pytest.approx(0.5)


def test_strokes_without_a_barometer() -> None:
    """2 strokes of 15 cm3 at 101.325 kPa: 3.04 Pa m3/s, 1800 cm3/min at 20 degC; the hole by the orifice equation."""
    recording = _recording([42e3, 41e3, 40e3])
    parts: Any = SimpleNamespace(
        pumping=SimpleNamespace(held_pa=20e3, through_pa=18e3, per_s=2.0, start_s=0.0, end_s=2.0),
        recording=recording, resolution=SimpleNamespace(value=100.0, source="given"),
    )  # fmt: skip
    found = judged_pumping(recording, parts, None, SimpleNamespace(shop=None), None)  # type: ignore[arg-type]
    assert found is not None and found.analysis.verdict is not None
    (finding,) = found.analysis.findings
    flow, hole = (figure.interval for figure in finding.figures)
    assert flow.value == pytest.approx(2.0 * 15e-6 * 60e6, rel=1e-3)
    said = found.analysis.verdict.reason
    assert f"about 1800 cm3/min leaks there, like a hole of {hole.value:.2f} mm" in said and hole.value > 0.5  # type: ignore[operator]
    assert f"{2 * 15e-6 * 101_325.0:.3g} Pa m3/s" in finding.sentence


def test_shares_of_the_idle_air_right_at_their_bounds(monkeypatch: pytest.MonkeyPatch) -> None:
    """5 % is big enough, 1 % may be, and a ten-thousandth is worth a figure."""
    monkeypatch.setattr(idle_air, "idle_air_m3_s", lambda swept, per_min: 1.0)
    monkeypatch.setattr(idle_air, "_drawn_m3_s", lambda hole, ambient: hole)
    for share, word, figure in (
        (0.05, "big enough", "about "), (0.0499, "may be", "about "), (0.01, "may be", "about "),
        (0.00999, "too small", "about "), (1e-4, "too small", "about "), (0.99e-4, "too small", ": "),
    ):  # fmt: skip
        found = idle_air.share_of_hole(Interval(share, 0.5 * share, 2.0 * share), 1.0)
        assert (found.word, found.leak_m3_s, found.idle_m3_s) == (word, share, 1.0)
        assert figure in found.sentence and (share >= 1e-4) is ("about" in found.sentence)
        assert (found.share.low, found.share.high) == pytest.approx((share / 6.0, 6.0 * share))
    unseen = idle_air.share_of_hole(Interval(None, 0.0, 0.05), 1.0)
    assert (unseen.word, unseen.share.value, unseen.share.low) == ("may be", None, 0.0)


# ---------------------------------------------------------------- flags, doubts


def test_how_fast_is_fast() -> None:
    """40 kPa at 4 kPa/s is 10 s: ten of the gas's time constants of 1 s, no more; half a minute at most; vacuum too."""

    def fast(rate: float, tau_s: float, first_pa: float = 40e3) -> bool:
        x = np.zeros(len(NAMES))
        x[LOG_TAU], x[RATE] = math.log(tau_s), rate
        readings = SimpleNamespace(pressure_pa=np.array([first_pa, 0.5 * first_pa]))
        found = SimpleNamespace(fit=SimpleNamespace(parameters=x), model=SimpleNamespace(readings=readings))
        return _is_fast(SimpleNamespace(chosen=SimpleNamespace(found=found)))  # type: ignore[arg-type]

    assert not fast(4e3, 1.0) and fast(4001.0, 1.0) and not fast(3999.0, 1.0)
    assert not fast(40e3 / 32.0, 20.0) and not fast(1e3, 20.0, 30e3) and fast(1e3, 20.0, 29.9e3)
    assert fast(8e3, 1.0, -40e3) and not fast(2e3, 1.0, -40e3)
    assert not fast(0.0, 1.0) and not fast(-8e3, 1.0)
    # from 0.5 kPa a minute on it is more than the walls' drift looks like
    assert "temperature-drift-possible" not in _of_leak(rate=501.0 / 60.0)
    assert "temperature-drift-possible" in _of_leak(rate=499.0 / 60.0)


def test_which_shape_and_which_level_a_flag_names() -> None:
    def of(odd: Any, leak: Any, frozen: Any = None, direction: str = "pressure") -> list[tuple[str, str]]:
        fitted = SimpleNamespace(leak=leak, climbs=False)
        seen = Seen(fitted=fitted, odd=odd, window=SimpleNamespace(frozen_s=frozen),
                    recording=_recording([1.0, 2.0], direction=direction))  # fmt: skip
        return [(flag.code, flag.text) for flag in _about_shape(seen)]

    levels = SimpleNamespace(name="opening", size=1.0)
    with_level, without = SimpleNamespace(opening_pa=12.3e3), SimpleNamespace(opening_pa=None)
    assert "12.3 kPa" in of(levels, with_level)[0][1] and "the end pressure" in of(levels, without)[0][1]
    assert [code for code, _ in of(levels, None)] == ["no-fit", "levels-off"]
    assert "the end pressure" in of(levels, None)[1][1]
    assert [code for code, _ in of(None, None, (1.0, 2.0))] == [] and of(None, with_level) == []
    for name, size, code in (
        ("growth", 0.1, "leak-grows"), ("growth", 0.0, "leak-shrinks"), ("growth", -0.1, "leak-shrinks"),
        ("pressed", 0.1, "opened-by-pressure"), ("pressed", -0.1, "shut-by-pressure"), ("creep", 1.0, "creep"),
    ):  # fmt: skip
        assert [found for found, _ in of(SimpleNamespace(name=name, size=size), with_level)] == [code]
    (step,) = of(SimpleNamespace(name="step", size=2e3, time_s=33.0), with_level)
    assert step[0] == "step" and "2.00 kPa" in step[1] and "33" in step[1]


def test_what_a_standing_gauge_and_missing_inputs_are_said_to_be() -> None:
    window = SimpleNamespace(saturated_pa=None, frozen_s=(12.0, 34.0))
    (frozen,) = _standing(Seen(window=window, recording=_recording([1.0])))
    assert "from 12 to 34 s" in frozen.text
    window = SimpleNamespace(saturated_pa=None, frozen_s=None)
    assert [f.code for f in _standing(Seen(window=window, recording=_recording(np.zeros(61))))] == ["frozen"]
    wobble = np.where(np.arange(61) == 30, 0.5, 0.0)
    assert list(_standing(Seen(window=window, recording=_recording(wobble)))) == []
    used = _used(volume_m3=(None, "none"), volume_u_m3=(None, "none"), resolution_pa=(None, "inferred"))
    sheet = replace(_recording([1.0]), by_hand=True)
    missing = list(_about_inputs(Seen(fitted=SimpleNamespace(used=used, warmed_k=None), recording=sheet)))
    assert [flag.code for flag in missing] == ["volume-unknown", "resolution-assumed"]


def test_which_hold_of_a_sheet_and_which_doubts_count() -> None:
    """The last of several; a hold chosen by hand within one of them, its ends among them, settles the doubt."""
    sheet = replace(_recording(np.arange(40.0)), holds=((0.0, 9.0), (10.0, 19.0), (20.0, 29.0)))
    assert analyses._last_hold(sheet).time_s.tolist() == list(range(20, 30))
    assert analyses._last_hold(replace(sheet, holds=())).time_s.size == 40
    again, other = Doubt("pumped-again", "a", False), Doubt("other", "b", False)
    doubted = replace(sheet, doubts=(again, other))
    for span, left in (
        (None, (again, other)), ((10.0, 19.0), (other,)), ((11.0, 18.0), (other,)), ((9.9, 19.0), (again, other)),
        ((10.0, 19.1), (again, other)), ((30.0, 35.0), (again, other)),
    ):  # fmt: skip
        assert analyses._open_doubts(doubted, span) == left


def test_which_flags_belong_to_the_size(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where air is meant to pass, what doubts the size of a leak is no doubt; the gravest first."""
    codes = ["levels-off", "step", "fast-leak", "leak-shrinks", "leak-grows", "quoted-outside", "creep", "no-fit",
             "opened-by-pressure", "shut-by-pressure"]  # fmt: skip
    others = ["frozen", "pressure-rises", "spikes"]
    mixed = [Flag(code, "x") for pair in itertools.zip_longest(codes, others) for code in pair if code]
    monkeypatch.setattr(flags, "_about_shape", lambda seen: iter(mixed))
    for name in ("_about_events", "_about_hold", "_about_gauge", "_about_leak", "_about_inputs"):
        monkeypatch.setattr(flags, name, lambda seen, name=name: iter([Flag(name, "x")]))
    after = ["_about_events", "_about_hold", "_about_gauge", "_about_leak", "_about_inputs"]
    assert [f.code for f in flags.all_flags(None)] == [f.code for f in mixed] + after  # type: ignore[arg-type]
    assert [f.code for f in flags.all_flags(None, of_leak=False)] == others + after  # type: ignore[arg-type]
    seen = flags.FlagInputs(SimpleNamespace(chosen=SimpleNamespace(odd="odd"), window="window", recording="log"),
                            SimpleNamespace(start_pa=-4e3), True, 35e3)  # type: ignore[arg-type]  # fmt: skip
    assert (seen.odd, seen.window, seen.recording, seen.start_pa) == ("odd", "window", "log", 4e3)


def test_a_start_above_what_a_circuit_may_be_given() -> None:
    """2 % above the 55 kPa of a crankcase is not above it yet; 407 kPa is 7.4 times as much."""
    window = SimpleNamespace(zero=SimpleNamespace(drift_pa=None, source="assumed", offset_pa=0.0), spikes=0,
                             saturated_pa=None, frozen_s=None)  # fmt: skip
    fitted = SimpleNamespace(used=_used())
    for start, codes in ((1.02 * 55e3, []), (56.11e3, ["over-caution-pressure"])):
        seen = Seen(window=window, fitted=fitted, recording=_recording([1.0, 2.0]),
                    hold=SimpleNamespace(start_pa=start))  # fmt: skip
        assert [flag.code for flag in flags._about_gauge(seen)] == codes
    result = SimpleNamespace(circuit="crankcase", hold=SimpleNamespace(start_pa=407e3), direction="pressure",
                             recording=_recording([1.0]))  # fmt: skip
    (doubt,) = flags.far_above_caution(result)  # type: ignore[arg-type]
    assert doubt.text.startswith("407 kPa is 7 times the 55.0 kPa") and doubt.bars_pass


def test_a_rig_under_vacuum_and_a_loss_without_a_value() -> None:
    """At -35.6 kPa it is the rig's -35; of a loss that is a bound, that bound's share is the rig's."""
    own = RigLeak("vacuum", -35e3, Interval(1e-3, 0.9e-3, 1.1e-3), "2026-01-01", "rig.csv")
    found = cleared(_analysis(_leak(at_pa=-35.6e3), "vacuum"), Rig("bench", 1e-5, 1e-6, (own,)))
    assert found.at_pa == -35e3 and found.left_pa_m3_s.value == pytest.approx(3e-3)
    finding = _finding(found)
    assert (finding.name, finding.title) == ("rig", "The rig")
    bound = Cleared(
        "bench", "pressure", 35e3, Interval(None, 0.0, 4e-3), own.throughput_pa_m3_s, found.left_pa_m3_s, ()
    )
    limit = Limit("7 kPa in 60 s", "drop", "given", drop_pa=7e3, time_s=60.0)
    verdict = Verdict("undecided", limit, Interval(None, 0.0, 8e3), "reading", "So.")
    rest = _verdict(verdict, bound)
    # a quarter of 8 kPa is the rig's, 90 % of that at least: 8 - 1.8
    assert rest.measured == Interval(None, 0.0, pytest.approx(6.2e3)) and rest.word == "pass"
