"""What a plan says of itself: figures that agree with hand sums, and what cannot be planned."""

import json
from dataclasses import replace

import pytest

import leakdown
from leakdown.analysis import Limit
from leakdown.errors import UsageError
from leakdown.judge.limits import practice_limit
from leakdown.prepare import simulate
from leakdown.prepare.plan import LONGEST_S, _notes
from leakdown.prepare.planned_test import planned_test
from leakdown.prepare.shortest_hold import ShortestHold, holds_worth_trying
from leakdown.prepare.simulate import (
    HALF,
    TIGHT,
    TWICE,
    Batch,
    Count,
    Simulator,
    limit_leak,
    lost_pa,
    outcome,
    rate_pa_s,
    simulated,
)
from leakdown.words.preparing import plan_lines, plan_object
from tests.prepare.cases import bench as case_bench
from tests.prepare.cases import planned

pytestmark = pytest.mark.slow

NEEDLE = 0.25 * 6894.757293168361  # 0.25 psi, NIST SP 811


def _bench(limit: str | Limit = "7 kPa in 60 s", resolution: float = NEEDLE, **more):
    return planned_test(volume_m3=250e-6, resolution_pa=resolution, limit=limit, **more)


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
    asked = {"volume_m3": 1500e-6, "resolution_pa": NEEDLE, "limit": "0.5 cm3/min"}
    found = leakdown.plan(**asked, longest_s=600.0, workers=1)
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


def test_half_of_the_shortest_hold_decides_next_to_nothing():
    seconds = planned("a limit in two seconds")
    assert 2.0 <= seconds.hold_s <= 8.0  # covers the time of the limit: read off
    assert seconds.half_count.share < 0.5
    assert "read off" not in _text(planned("a needle and the usual limit"))
    single = replace(seconds, half_s=0.0)
    assert "only one reading" in _text(single)


def test_holds_are_whole_numbers_of_readings():
    logged = holds_worth_trying(_bench(resolution=10.0, every_s=0.1), 1800.0)
    assert logged[:3] == [0.1, 0.2, 0.3]
    assert all(hold * 10 == pytest.approx(round(hold * 10)) for hold in logged)
    assert logged[-1] <= 1800.0
    assert holds_worth_trying(_bench(every_s=60.0), 30.0) == [60.0]  # two readings at least


def test_another_process_is_a_copy_only_where_nothing_else_runs(monkeypatch):
    """A copy of a process with threads may wait forever for what one of them held; Windows knows none."""
    monkeypatch.setattr(simulate.threading, "active_count", lambda: 1)
    for platform, way in (("linux", "fork"), ("darwin", "spawn"), ("win32", "spawn")):
        monkeypatch.setattr(simulate.sys, "platform", platform)
        assert simulate._started_how() == way
    monkeypatch.setattr(simulate.sys, "platform", "linux")
    monkeypatch.setattr(simulate.threading, "active_count", lambda: 2)
    assert simulate._started_how() == "spawn"
    assert [Simulator(case_bench("a rate"), workers)._others for workers in (1, 2, 8)] == [0, 1, 1]


BATCHES = [Batch(60.0, 3, 5, 1), Batch(20.0, 3, 6, 0), Batch(20.0, 2, 6)]


@pytest.fixture(scope="module")
def one_after_the_other():
    """The bench of the tests above, and its batches as if each test had been run by hand, ended by what they missed."""
    bench, counts = case_bench("a needle and the usual limit"), []
    for batch in BATCHES:
        decided, margins = [0, 0, 0], ([], [], [])
        for size, seed in batch.tests():
            right, clear = outcome(bench, size, batch.hold_s, seed)
            at = (HALF, TWICE, TIGHT).index(size)
            decided[at] += right
            margins[at].append(clear)
            if sum(map(len, margins)) - sum(decided) > batch.most_missed:
                break
        counts.append(Count(tuple(decided), tuple(map(len, margins)), tuple(map(tuple, margins))))
    return bench, counts


@pytest.mark.parametrize("workers", [1, 2])
def test_processes_change_nothing(monkeypatch, one_after_the_other, workers):
    bench, wanted = one_after_the_other
    assert wanted[1].missed == 1 < wanted[2].missed and min(wanted[0].decided) >= 2
    monkeypatch.setattr(simulate, "_started_how", lambda: "spawn")
    with Simulator(bench, workers) as simulator:
        if workers > 1:
            simulator._started.result()
        assert simulator.counts(BATCHES) == wanted
        assert simulator.counts(BATCHES[::-1]) == wanted[::-1]


def test_a_process_that_is_killed_loses_nothing(one_after_the_other):
    bench, wanted = one_after_the_other
    with Simulator(bench, workers=2) as simulator:
        simulator._started.result()
        for child in simulator._pool._processes.values():
            child.kill()
        assert simulator.counts(BATCHES) == wanted


def test_the_tests_of_a_batch_take_turns():
    """Half and twice the limit in each round, a tight circuit in every other pair; no seed comes twice."""
    drawn = Batch(60.0, 5, 7).tests()
    assert [size for size, _ in drawn] == [HALF, TWICE, TIGHT] * 2 + [HALF, TWICE] * 2 + [HALF, TWICE, TIGHT]
    assert len({seed for _, seed in drawn}) == len(drawn)
    assert not {seed for _, seed in drawn} & {seed for _, seed in Batch(60.0, 5, 8).tests()}
    assert [size for size, _ in Batch(60.0, 2, 7, tight=False).tests()] == [HALF, TWICE] * 2


@pytest.mark.slow
def test_a_finer_gauge_or_less_volume_needs_less_time(full):
    if not full:
        pytest.skip("the long form runs with --full")
    assert planned("logged").hold_s < planned("a needle and the usual limit").hold_s
    assert planned("small, a rate").hold_s < planned("a rate").hold_s


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"limit": None, "circuit": "float-inlet", "direction": "vacuum"}, "no limit is usual"),
        ({"limit": "105 kPa to 90 kPa in 20 s", "direction": "vacuum"}, "more than"),
        ({"limit": "50 kPa in 60 s", "start_pa": 40e3}, "allows more than the 40 kPa"),
        ({"resolution_pa": 60e3}, "step is more than half"),
        ({"volume_m3": 0.0}, "volume_m3 = 0 "),
        ({"volume_u_m3": -1e-6}, "volume_u_m3 = -1e-06 "),
        ({"resolution_pa": float("nan")}, "resolution_pa = nan "),
        ({"every_s": 0.0}, "every_s = 0 "),
        ({"start_pa": -40e3}, "start_pa = -40000 "),
        ({"barometer_pa": 1013.25}, "barometer_pa = 1013.25 is outside"),
        ({"temperature_k": 20.0}, "temperature_k = 20 is outside"),
        ({"direction": "up"}, "direction = 'up'"),
        ({"circuit": "boiler"}, "unknown circuit 'boiler'"),
        ({"limit": "much"}, "limit: cannot read 'much'"),
        ({"longest_s": 0.0}, "longest_s = 0 "),
        ({"workers": 0}, "workers = 0 "),
    ],
)
def test_what_cannot_be_tested_is_refused_by_name(asked, says):
    with pytest.raises(UsageError, match=says):
        leakdown.plan(**{"volume_m3": 1e-4, "resolution_pa": 100.0, "limit": "7 kPa in 60 s", **asked})


def test_what_is_usual_is_filled_in():
    slow, quick = _bench(None, 600.0), _bench(None, 400.0, barometer_pa=99e3)
    assert slow.needle and not quick.needle
    assert (slow.every_s, quick.every_s) == (10.0, 1.0)
    assert slow.limit == practice_limit("crankcase", "pressure") and 40e3 <= slow.start_pa <= 60e3
    assert slow.barometer_pa == 101_325.0 and quick.barometer_pa == 99e3
    assert 60e3 < _bench("7 kPa in 60 s from 60 kPa").start_pa < 66e3
    assert _bench("1 kPa in 60 s", 10.0, circuit="float-inlet", direction="vacuum").start_pa == 40e3


def test_notes_follow_the_hold():
    test, count = _bench(), Count((4, 4, 2), (4, 4, 2))

    def said(hold_s):
        return " ".join(_notes(test, ShortestHold(hold_s, count, 0.0, Count()), LONGEST_S, 100.0, 50.0))

    assert "all the same" in said(20.0) and "all the same" not in said(45.0)
    assert "hold is long" in said(900.0) and "hold is long" not in said(300.0)
    assert "within 30 min" in said(None)
    assert "over by the time the watch starts" not in said(45.0)
    test = _bench("50 kPa to 30 kPa in 20 s", direction="vacuum")
    assert "over by the time the watch starts" in said(45.0)


def test_simulated_leaks_follow_all_laws():
    """Twelve kPa from 45 kPa: a hole loses more of it late than a weep does."""
    test = _bench("12 kPa in 60 s", 1.0, every_s=30.0)
    shares = {round(lost_pa(test, limit_leak(test, share), 45e3, 30.0), -1) for share in (0.0, 0.5, 1.0)}
    assert len(shares) == 3
    seen = {simulated(test, 1.0, 60.0, seed).recording.pressure_pa[1] // 50 for seed in (2, 4, 6)}
    assert len(seen) == 3


def test_simulated_files_say_what_real_ones_would():
    logged, by_hand = _bench(resolution=10.0, every_s=1.0), _bench(every_s=5.0)
    assert by_hand.by_hand and not logged.by_hand
    short, long = (simulated(logged, 1.0, hold_s, 5).recording.by_hand for hold_s in (40.0, 90.0))
    assert short and not long
    said = [simulated(by_hand, 1.0, 60.0, seed).recording for seed in range(8)]
    assert sum(recording.by_hand for recording in said) == 2
    assert all(recording.conditions.barometer_pa == 101_325.0 for recording in said)
