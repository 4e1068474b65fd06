"""What a plan says of itself: figures that agree with hand sums, and what cannot be planned."""

import json
from dataclasses import replace

import pytest

from leakdown.analysis import Limit
from leakdown.errors import UsageError
from leakdown.judge.limits import parse_limit
from leakdown.prepare.holds import ladder
from leakdown.prepare.plan import plan
from leakdown.prepare.rehearsal import bench_for, limit_leak, lost_pa, rate_pa_s
from leakdown.prepare.trials import Crew, Job, counted
from leakdown.words.preparing import plan_lines, plan_object
from tests.prepare.cases import bench as case_bench
from tests.prepare.cases import planned

NEEDLE = 0.25 * 6894.757293168361  # 0.25 psi, NIST SP 811


def _bench(limit: str | Limit = "7 kPa in 60 s", resolution: float = NEEDLE, **more):
    given = parse_limit(limit) if isinstance(limit, str) else limit
    return bench_for(250e-6, resolution, given, **more)


def _text(found):
    return "\n".join(plan_lines(found, 500, lambda words, *_: [words], lambda words, _: words))


def test_the_limits_leak_loses_what_the_limit_allows():
    bench = _bench("7 kPa in 60 s from 40 kPa")
    assert lost_pa(bench, limit_leak(bench), 40e3, 60.0) == pytest.approx(7e3, rel=1e-3)
    # 2.5 standard cm3/min is 2.5e-6 x 101325 / 60 = 4.2219e-3 Pa m3/s; over 250 cm3: 16.888 Pa/s (by hand)
    rate = _bench("2.5 cm3/min")
    assert rate_pa_s(rate, limit_leak(rate)) == pytest.approx(16.8875, rel=1e-4)


def test_figures_agree_with_each_other():
    found = planned("a needle and the usual limit")
    plain = json.loads(json.dumps(plan_object(found), allow_nan=False))
    # throughput = V dp/dt: 250 cm3, kPa/min to Pa/s
    assert plain["detection_limit_pa_m3_s"] == pytest.approx(250e-6 * plain["loss_kpa_per_min"] * 1e3 / 60)
    assert plain["loss_kpa_per_min"] < plain["limit_kpa_per_min"]
    # half the limit as drift: dT/dt = (dp/dt / 2) T / p, at 136.325 kPa absolute and 293.15 K
    by_hand = 0.5 * plain["limit_kpa_per_min"] * 293.15 / (101.325 + 35.0)
    assert plain["drift_k_per_min"] == pytest.approx(by_hand)


def test_a_gauge_that_cannot_says_so():
    bench = replace(_bench("0.5 cm3/min"), volume_m3=1500e-6)
    found = plan(bench, longest_s=600.0, workers=1)
    assert found.hold_s is None
    plain = plan_object(found)
    assert plain["hold_s"] is plain["decided_share"] is plain["decided_share_half"] is None
    text = _text(found)
    assert "No hold up to 10 min decides" in text
    assert "cannot tell half the limit from twice the limit within 10 min" in text
    assert "finer gauge" in text


def test_what_was_simulated_is_said():
    found = planned("a needle and the usual limit")
    plain = plan_object(found)
    rehearsed = plain["rehearsed"]
    assert rehearsed["leaks_over_limit"] == [0.5, 2.0]
    assert plain["decided_share"] == rehearsed["decided"] / rehearsed["of"] >= 0.9
    assert plain["decided_share_half"] == rehearsed["half_hold_decided"] / rehearsed["half_hold_of"] < 0.9
    assert rehearsed["half_hold_s"] == pytest.approx(0.5 * found.hold_s, abs=10.0)
    assert rehearsed["tight_passed"] >= 0.9 * rehearsed["tight_of"] > 0
    text = _text(found)
    assert "half of the limit passes" in text
    assert f"Of {rehearsed['of']} such tests, simulated, {rehearsed['decided']} were decided" in text
    assert f"of {rehearsed['half_hold_of']} held half as long, {rehearsed['half_hold_decided']}." in text


def test_half_of_the_shortest_hold_decides_nothing():
    seconds = planned("a limit in two seconds")
    assert seconds.hold_s == 2.0  # covers the limit's time: read off
    assert seconds.half_count.share == 0.0
    assert "read off the gauge" in _text(seconds)  # sized it would take longer
    assert "read off" not in _text(planned("a needle and the usual limit"))
    single = replace(seconds, half_s=0.0)
    assert "only one reading" in _text(single)


def test_holds_are_whole_numbers_of_readings():
    logged = ladder(_bench(resolution=10.0, every_s=0.1), 1800.0)
    assert logged[:3] == [0.1, 0.2, 0.3]
    assert all(hold * 10 == pytest.approx(round(hold * 10)) for hold in logged)
    assert logged[-1] <= 1800.0
    assert ladder(_bench(every_s=60.0), 30.0) == [60.0]  # two readings at least


def test_processes_change_nothing():
    bench = case_bench("a needle and the usual limit")
    jobs = [Job(60.0, 2, 5, 1), Job(20.0, 2, 6, 0)]
    with Crew(bench, workers=2) as crew:
        assert crew.counts(jobs) == [counted(bench, job) for job in jobs]


@pytest.mark.slow
def test_a_finer_gauge_or_less_volume_needs_less_time(full):
    if not full:
        pytest.skip("the long form runs with --full")
    assert planned("logged").hold_s < planned("a needle and the usual limit").hold_s
    assert planned("small, a rate").hold_s < planned("a rate").hold_s


def test_what_cannot_be_tested_is_refused():
    with pytest.raises(UsageError, match="no limit is usual"):
        bench_for(1e-4, 100.0, None, "float-inlet", "vacuum")
    with pytest.raises(UsageError, match="more than"):
        plan(bench_for(1e-4, 100.0, parse_limit("105 kPa to 90 kPa in 20 s"), direction="vacuum"))
    with pytest.raises(UsageError, match="step is more than half"):
        plan(bench_for(1e-4, 60e3, parse_limit("7 kPa in 60 s")))
