"""Needles, known leaks, repeats and passes right at their bounds, and their sums a second time over random numbers."""

from __future__ import annotations

import datetime
import math
from dataclasses import replace
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from scipy import stats

from leakdown.analysis import Limit, Verdict
from leakdown.errors import UsageError
from leakdown.judge import needle as needles
from leakdown.judge import repeats
from leakdown.judge.known_leak import Stated, _age_days, both_ways, known_leak, over
from leakdown.judge.needle import NeedleResult, Opens
from leakdown.judge.pop_offs import PopOff
from leakdown.judge.vent import NEEDED_M3_S, VentWay, air_m3_s, judged_in
from leakdown.judge.verdict import _above_the_hold, _reason, _span
from leakdown.uncertainty import InputQuantity, Interval
from tests.judge.test_pieces import kept
from tests.judge.test_readings_by_hand import _recording
from tests.judge.test_sizes_by_hand import _analysis, _leak

Z = 1.959963984540054
POP = PopOff(0.0, 100e3, 60e3, (0.0, 0.001), False)
USUAL = Opens((70e3, 200e3))

# ---------------------------------------------------------------- needles


def test_whether_needles_stay_closed_reckoned_again() -> None:
    """The mean fall of those that were watched, its half-width sqrt(sum of squares)/n: 1 % a second at most."""
    assert (
        needles._stays_closed(()) is False
        and needles._stays_closed((replace(POP, fall_per_s=(0.0, math.inf)),)) is False
    )
    assert needles._stays_closed((replace(POP, fall_per_s=(0.01, 0.01)),)) is True
    rng, seen = np.random.default_rng(5), set()
    for _ in range(100):
        falls = [(float(a), float(a + b)) for a, b in rng.uniform(0.0, 0.012, (int(rng.integers(1, 6)), 2))]
        middle = sum(a + b for a, b in falls) / 2.0 / len(falls)
        half = math.sqrt(sum((b - a) ** 2 for a, b in falls)) / 2.0 / len(falls)
        pops = tuple(replace(POP, fall_per_s=fall) for fall in (*falls, (0.0, math.inf)))
        assert needles._stays_closed(pops) is (middle + half <= 0.01)
        seen.add(middle + half <= 0.01)
    assert seen == {True, False}


def _needle(*pops: PopOff, spread: float | None = 0.02, opening: float = 100e3, reseat: float = 60e3) -> NeedleResult:
    sizes = Interval(opening, opening, opening), Interval(reseat, reseat, reseat)
    return NeedleResult(pops, *sizes, spread, 1.5e5, "undecided", "", ())


def test_what_is_said_of_five_openings() -> None:
    differ = needles._judged(_needle(*[POP] * 5, spread=0.228), USUAL)
    assert differ[0] == "fail" and differ[1].startswith("The openings differ by 23 % (more than 15 %): dirt")
    assert needles._judged(_needle(*[POP] * 5, spread=None), USUAL)[0] == "pass"
    unwatched = replace(POP, fall_per_s=(0.0, math.inf))
    above = needles._judged(_needle(*[unwatched] * 5, opening=250e3, reseat=150e3), USUAL)
    assert above[0] == "undecided" and "not watched" not in above[1]
    blind = needles._judged(_needle(*[unwatched] * 5), USUAL)
    assert blind[0] == "undecided" and "was not watched" in blind[1]
    assert needles._judged(_needle(*[unwatched] * 5, reseat=30e3), USUAL)[0] == "fail"
    one_clipped = needles._judged(_needle(*[POP] * 4, replace(POP, clipped=True)), USUAL)
    assert one_clipped[0] == "undecided" and "end of the gauge's range" in one_clipped[1]
    assert "agree within 1 %" in needles._where_it_opens(_needle(*[POP] * 5, spread=0.0149), USUAL)[1]
    assert "differ by 17 %" in needles._judged(_needle(*[POP] * 5, spread=0.1652), USUAL)[1]
    assert "differ by 16 %" in needles._judged(_needle(*[POP] * 5, spread=0.1649), USUAL)[1]
    assert needles.needle(_recording(np.zeros(5))).highest_pa == 0.0
    alike = needles._where_it_opens(_needle(*[POP] * 5, spread=None), USUAL)
    assert alike[1].startswith("5 openings agree within 0 %; each closes. It opens at 100 kPa and closes at 60 % of")


def test_the_ends_of_gauges_and_of_circuits() -> None:
    """98.5 % of the gauge's range is its end; 2 % above what a circuit may be given is not yet above it."""
    way: Any = SimpleNamespace(target_pa=50e3, caution_pa=200e3, opens_pa=(70e3, 200e3))
    for highest, said in ((98.5e3, "up to the gauge's end (98.5 kPa)"), (98.4e3, "pump on, slowly, to 200 kPa")):
        assert said in needles._without_pop(highest, way, 100e3)[1]
    one, two = _recording([0.0]), _recording([0.0, 1.0], [0.0, 0.2])
    assert [f.code for f in needles._flags(one, (), 1.0, way, 1.0)] == []
    assert [f.code for f in needles._flags(two, (), 204e3, way, 1.0)] == ["slow-log"]
    (high,) = needles._flags(one, (), 205e3, way, 1.0)
    assert high.text.startswith("205 kPa: above 200 kPa (common practice) an inlet")
    (forced,) = needles._flags(one, (), 45e3, SimpleNamespace(caution_pa=40e3, opens_pa=None), 1.0)  # type: ignore[arg-type]
    assert forced.text.startswith("45 kPa on a float bowl: above 40 kPa")


def test_an_opened_needle_s_own_result() -> None:
    t = np.arange(0.0, 12.0, 0.05)
    p = np.interp(t % 2.4, [0.0, 1.0, 1.05, 2.3, 2.35], [0.0, 100e3, 60e3, 60e3, 0.0])
    log = _recording(p, t, circuit="carburettor-inlet")
    parts: Any = SimpleNamespace(resolution=SimpleNamespace(value=100.0, source="given"), recording=log)
    opens = ((70e3, 200e3), "practice")
    settings: Any = SimpleNamespace(hold_s=None, gauge_range_pa=2e5, opens_for=lambda recording: opens)
    found = needles.judged_openings(log, parts, None, settings)
    assert found is not None and found.fit is None and found.analysis.verdict is not None
    limit, (finding,) = found.analysis.verdict.limit, found.analysis.findings
    assert (limit.kind, limit.source, limit.text[:10]) == ("words", "practice", "5 openings")
    assert (finding.name, finding.title) == ("openings", "Openings of the needle")
    assert (found.analysis.hold.start_s, found.analysis.hold.end_s) == (0.0, t[-1])
    practice, own = (Limit("1 kPa in 60 s", "drop", whose, drop_pa=1e3, time_s=60.0) for whose in ("practice", "file"))
    assert needles.judged_openings(log, parts, practice, settings) is not None
    assert needles.judged_openings(log, parts, own, settings) is None
    settings.hold_s = (1.0, 2.0)
    assert needles.judged_openings(log, parts, None, settings) is None
    settings.hold_s = None
    assert needles.judged_openings(_recording(p, t, "vacuum", "carburettor-inlet"), parts, None, settings) is None
    for highest, judged in ((90e3, False), (201e3, True)):  # shut at the ceiling is a result, below it none
        still = _recording(np.linspace(0.0, highest, t.size), t, circuit="carburettor-inlet")
        settings.gauge_range_pa = 3e5
        assert (needles.judged_openings(still, parts, None, settings) is not None) is judged


# ---------------------------------------------------------------- known leaks


def test_quotients_and_both_ways_reckoned_again() -> None:
    """Logarithms: value of the difference, halves in quadrature, low against high; 2 % more; stated doubts once."""
    rng = np.random.default_rng(6)
    for _ in range(60):
        a, b, c, d = (Interval(v, v * math.exp(-x), v * math.exp(y)) for v, x, y in rng.uniform(0.05, 0.9, (4, 3)))
        ratio = over(a, b)
        down = math.hypot(math.log(a.value / a.low), math.log(b.high / b.value))  # type: ignore[operator]
        up = math.hypot(math.log(a.high / a.value), math.log(b.value / b.low))  # type: ignore[operator]
        value = a.value / b.value  # type: ignore[operator]
        assert (ratio.value, ratio.low, ratio.high) == pytest.approx(
            (value, value / math.exp(down), value * math.exp(up))
        )
        kind, texts = str(rng.choice(["hole", "flow"])), rng.choice(["0.3 mm", "0.2 mm"], 2)
        alike = bool(rng.random() < 0.5)
        into = replace(kept("vacuum", 1.0, kind=kind, text=texts[0]), rate_pa_s=a, stated_pa_m3_s=c)
        out = replace(kept("pressure", 1.0, kind=kind, text=texts[1]), rate_pa_s=b, stated_pa_m3_s=d)
        if not alike:
            into = replace(into, volume_m3=3e-4, rate_pa_s=d, measured_pa_m3_s=a)
            out = replace(out, rate_pa_s=c, measured_pa_m3_s=b)
        found = both_ways([out, into])
        more = [0.02]
        if kind == "flow" or texts[0] != texts[1]:
            more += [max(math.log(x.value / x.low), math.log(x.high / x.value)) for x in (c, d)]  # type: ignore[operator]
        value *= d.value / c.value  # type: ignore[operator]
        down, up = math.hypot(down, *more), math.hypot(up, *more)
        assert found is not None
        assert (found.value, found.low, found.high) == pytest.approx(
            (value, value / math.exp(down), value * math.exp(up))
        )
    nought = over(Interval(1.0, 0.0, 2.0), Interval(1.0, 1.0, 1.0))
    assert nought.low == pytest.approx(1e-6, rel=1e-9)  # a bound of nought is a millionth
    unseen = replace(kept("vacuum", 1.0, kind="flow"), stated_pa_m3_s=Interval(None, 0.0, 2.0))
    half = both_ways([kept("pressure", 1.0, kind="flow"), unseen])
    assert half is not None and half.value == pytest.approx(0.5)  # its upper bound counts


def test_a_known_flow_and_its_day() -> None:
    """2 % off the stated pressure is the same: 35.7 of 35 kPa. A file without a day was read today."""
    stated = Stated("flow", "2 cm3/min", (InputQuantity("flow", 3e-3, 1e-5, "given", ""),), 35e3)
    assert known_leak(_analysis(_leak(at_pa=35.7e3)), stated, "x").at_pa == 35.7e3
    with pytest.raises(UsageError, match="stated at 35 kPa"):
        known_leak(_analysis(_leak(at_pa=35.701e3)), stated, "x")
    undated: Any = SimpleNamespace(recording=SimpleNamespace(conditions=SimpleNamespace(started=None)))
    before = datetime.date.today()
    age = _age_days(kept("vacuum", 1.0, day="2026-02-01"), undated)
    assert before <= datetime.date(2026, 2, 1) + datetime.timedelta(age) <= datetime.date.today()


# ---------------------------------------------------------------- repeats


def test_pooled_values_reckoned_again() -> None:
    """Weighted mean, chi-squared and its chance by numpy and scipy; widened by the scatter, or by Student's t."""
    rng, agreed = np.random.default_rng(7), set()
    for _ in range(60):
        n, spread = int(rng.integers(2, 6)), float(rng.choice([1.0, 8.0]))
        sd = rng.uniform(1.0, 3.0, n)
        x = 40.0 + rng.normal(0.0, spread * sd)
        unseen = rng.random(n) < 0.15
        values = [
            Interval(None, 0.0, Z * s) if no else Interval(at, at - Z * s, at + Z * s)
            for at, s, no in zip(x.tolist(), sd.tolist(), unseen, strict=True)
        ]
        found = repeats.pool_values(values, "Pa/s", -35e3, "vacuum")
        x = np.where(unseen, 0.0, x)
        mean = float(np.average(x, weights=sd**-2.0))
        chi2 = float(np.sum(((x - mean) / sd) ** 2))
        chance = float(stats.chi2.sf(chi2, n - 1))
        inner = 1.0 / math.sqrt(float(np.sum(sd**-2.0)))
        birge = math.sqrt(chi2 / (n - 1))
        agree = chance >= 0.05
        half = (Z * max(birge, 1.0) if agree else float(stats.t.ppf(0.975, n - 1)) * birge) * inner
        assert (found.chi2, found.birge, found.chi2_chance) == pytest.approx((chi2, birge, chance), rel=1e-6)
        assert (found.agree, found.what, found.at_pa, found.direction) == (agree, "Pa/s", -35e3, "vacuum")
        assert found.repeatability == pytest.approx(np.std(x, ddof=1)) and found.values == tuple(values)
        assert found.limit == pytest.approx(2.8 * found.repeatability)
        low = max(mean - half, 0.0 if unseen.any() else mean * math.exp(-half / mean))
        assert (found.pooled.low, found.pooled.high) == pytest.approx((low, mean + half), rel=1e-4)
        assert (found.pooled.value is None) is (low == 0.0)
        agreed.add((agree, low == 0.0))
    assert len(agreed) >= 3
    assert repeats._whole(0.0, 1.0, True) == Interval(None, 0.0, 1.0)
    for sure in (Interval(1.0, 1.0, 1.0), Interval(None, 0.0, 0.0)):
        assert repeats._sd(sure) == pytest.approx(1e-15 / (Z if sure.value is None else 2.0 * Z), rel=1e-6, abs=0.0)


def test_which_repeats_belong_together() -> None:
    vacuum = _analysis(_leak(at_pa=-35e3), "vacuum")
    assert repeats.pooled([vacuum, vacuum]).at_pa == -35e3
    bare = _analysis(_leak(None), volume_m3=2e-4)
    found = repeats.pooled([_analysis(_leak()), bare])  # two volumes, and one of them without a rate
    assert (found.what, found.throughput_pa_m3_s) == ("Pa/s", None)


def test_each_hold_of_a_log_is_analysed(monkeypatch: pytest.MonkeyPatch) -> None:
    """One hold: the whole recording; two or more: each by its own span. The gauge's step goes into the search."""
    spans: list[tuple[float, float]] = []
    steps: list[float] = []
    parts = SimpleNamespace(recording="clean", resolution=SimpleNamespace(value=100.0))
    monkeypatch.setattr(repeats, "parts_of", lambda recording: parts)
    monkeypatch.setattr(repeats, "every_hold", lambda recording, step: steps.append(step) or spans)
    monkeypatch.setattr(repeats, "analyse", lambda recording, settings: (recording, settings.hold_s))
    shop = repeats.Settings(hold_s=(8.0, 9.0))
    monkeypatch.setattr(repeats.Settings, "of_shop", lambda: shop)
    told = repeats.Settings()
    for one in ([], [(1.0, 2.0)]):
        spans = one
        assert repeats.analysed_holds("log", told) == [("log", None)]  # type: ignore[arg-type, comparison-overlap]
    spans = [(1.0, 2.0), (3.0, 4.0)]
    assert repeats.analysed_holds("log", told) == [("log", (1.0, 2.0)), ("log", (3.0, 4.0))]  # type: ignore[arg-type, comparison-overlap]
    spans = []
    assert repeats.analysed_holds("log") == [("log", (8.0, 9.0))]  # type: ignore[arg-type, comparison-overlap]
    parts.resolution.value = None
    repeats.analysed_holds("log", told)  # type: ignore[arg-type]
    assert steps == [100.0, 100.0, 100.0, 100.0, 0.0]


# ---------------------------------------------------------------- a pass, figures, air


def test_a_pass_from_where_it_was_never_held() -> None:
    """Held at 40 kPa, fallen from 60: a limit from 46 is not met. Shut in at 51: 11 are more than 7 in a minute,

    and more than the limit takes in longer: 51 (44/51)^(98.6/60) is 40.
    """
    bound = 1.15 * 40e3
    for start, shut, waited, fell, stands in (
        (bound, None, None, 60e3, False), (bound - 1.0, None, None, 60e3, True), (None, None, None, 60e3, True),
        (bound, None, None, None, True), (30e3, None, None, 60e3, True),
        (None, -51e3, 30.0, None, False), (None, 51e3, 98.0, None, False), (None, 51e3, 99.0, None, True),
        (None, 51e3, None, None, False), (None, 50e3, 30.0, None, True), (None, 50.1e3, 30.0, None, False),
        (30e3, 51e3, 30.0, None, False), (None, 0.0, 30.0, None, True),
    ):  # fmt: skip
        limit = Limit("x", "drop", "given", drop_pa=7e3, time_s=60.0, start_pa=start)
        verdict = Verdict("pass", limit, Interval(1.0, 0.5, 2.0), "reading", "So.")
        fitted: Any = SimpleNamespace(
            window=SimpleNamespace(fell_from_pa=fell), recording=_recording([1.0], shut_pa=shut, waited_s=waited)
        )
        found = _above_the_hold(verdict, fitted, SimpleNamespace(start_pa=-40e3))  # type: ignore[arg-type]
        assert (found is verdict) is stands and (stands or found.word == "undecided")
    rate = Verdict("pass", Limit("x", "rate", "given", rate_pa_m3_s=1.0), Interval(1.0, 0.5, 2.0), "model", "So.")
    fitted = SimpleNamespace(window=SimpleNamespace(fell_from_pa=None), recording=_recording([1.0], shut_pa=51e3))
    assert _above_the_hold(rate, fitted, SimpleNamespace(start_pa=-40e3)) is rate  # type: ignore[arg-type]


def test_a_tiny_loss_is_not_none() -> None:
    """A rate is Pa m3/s and far below 1: 1.8 to 3.0 cm3/min by 1 cm3/min = 0.101325/60 Pa m3/s at 101.325 kPa."""
    hold: Any = SimpleNamespace(start_pa=40e3, end_pa=39e3)
    limit = Limit("9 cm3/min", "rate", "given", rate_pa_m3_s=9.0 * 0.101325 / 60.0)
    low, high = (n * 0.101325 / 60.0 for n in (1.8, 3.0))
    seen = _reason("pass", limit, Interval(0.5 * (low + high), low, high), "model", "kPa", hold)
    assert seen.startswith("1.80 to 3.00 cm3/min") and "Up to" not in seen
    assert _reason("pass", limit, Interval(None, 0.0, high), "model", "kPa", hold).startswith(
        "No leak seen for certain"
    )


def test_no_figure_has_more_than_nine_places() -> None:
    """2e-10 above the limit of 7 shows at no place that is worth writing."""
    assert _span(7.0 + 2e-10, 7.4, 7.0) == "7.000000000 to 7.400000000"
    assert _span(0.0, 0.0, 0.07) == "Less than 0.0001"


def test_air_whose_upper_bound_is_open() -> None:
    """190 Pa/s less 4 % of the volume at least, in 500 cm3 at 100 kPa; the need is 33 cm3/min, at 5 kPa."""
    found = air_m3_s(Interval(200.0, 190.0, math.inf), 500e-6, 20e-6, 100e3)
    assert found.low == pytest.approx(190.0 * 500e-6 / 100e3 * 0.96) and found.value == pytest.approx(1e-6)
    assert pytest.approx(33e-6 / 60.0) == NEEDED_M3_S
    enough = judged_in(VentWay(Interval(None, 34e-6 / 60.0, 1e-5), None, 1e3, 8e3, 0.0, 60.0))
    assert enough[0] == "pass" and "cm3/min at 5 kPa of vacuum;" in enough[1]
    assert (
        "of vacuum never passed" not in enough[1]
        and "The vacuum never passed 5 kPa" in judged_in(VentWay(None, None, 1e3, 2e3, 0.0, 60.0))[1]
    )
