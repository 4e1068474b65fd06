"""The gas in rehearsed sheets: how far it settles, and what starting the watch with the valve costs."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from leakdown.physics.leak import Leak
from leakdown.prepare import shortest_hold
from leakdown.prepare.gas import doubt, drawn, most_warmth, path_pa, settling_kpa
from leakdown.prepare.planned_test import planned_test
from leakdown.prepare.shortest_hold import begun_with_the_valve
from leakdown.prepare.simulate import Count, limit_leak, simulated
from leakdown.words.preparing import plan_lines, plan_object
from tests.prepare.cases import planned

AIR_PA, GAMMA = 101_325.0, 1.4


def bench(direction="pressure", start_pa=40e3, **more):
    asked = {"volume_m3": 250e-6, "resolution_pa": 500.0, "limit": "7 kPa in 60 s", **more}
    return planned_test(start_pa=start_pa, direction=direction, **asked)


@pytest.mark.parametrize("direction", ["pressure", "vacuum"])
def test_a_sheet_begun_with_the_valve_settles_by_up_to_half_of_the_law(direction):
    """13 kPa by the isentropic law at +40 kPa (sea level): half of that at most, and over within 5 s time constants."""
    test, sign = bench(direction), -1.0 if direction == "vacuum" else 1.0
    whole = (1 + sign * 40e3 / AIR_PA) ** ((GAMMA - 1) / GAMMA) - 1
    assert most_warmth(test) == pytest.approx(whole)
    if sign > 0:
        assert whole * (AIR_PA + 40e3) == pytest.approx(14e3, rel=0.05)  # of the absolute pressure; 13 kPa / 1.1
    seen = [drawn(test, "valve", np.random.default_rng(k)) for k in range(200)]
    shares = [warmth / whole for warmth, _, _ in seen]
    assert 0.0 <= min(shares) < 0.05 and 0.45 < max(shares) <= 0.5
    assert all(0.5 <= tau <= 5.0 and late == 1.0 for _, tau, late in seen)
    waited = [drawn(test, "watch", np.random.default_rng(k)) for k in range(200)]
    assert all(10.0 <= late <= 20.0 for *_, late in waited), "10 to 20 s after topping up (common practice, no source)"
    left = [abs(warmth) * math.exp(-late / tau) for warmth, tau, late in waited]
    assert max(left) < 0.02 * abs(whole)


def test_the_path_is_that_of_the_energy_balance():
    """n and p of a tight vessel and of a weep, stepped by scipy: dp/dt = -g th F + (p_a/tau)(1 - th), th = p/n."""
    test = bench()
    warmth, tau, late = drawn(test, "valve", np.random.default_rng([7, 1]))
    weep = Leak(8e-9, 0.0, AIR_PA + 40e3, back=AIR_PA)
    time_s = np.arange(0.0, 61.0, 5.0)

    def rates(_, y):
        n, p = y
        flow = weep.viscous * (p * p - AIR_PA * AIR_PA) / (p / n)
        return [-flow, -GAMMA * (p / n) * flow + AIR_PA / tau * (1.0 - p / n)]

    start = [weep.start / (1 + warmth), weep.start]
    truth = solve_ivp(rates, (0, 70), start, t_eval=time_s + late, rtol=1e-10, atol=1e-4).y[1]
    assert path_pa(test, weep, time_s, "valve", np.random.default_rng([7, 1])) == pytest.approx(truth, abs=5.0)


def test_sheets_say_what_was_done_before_the_watch():
    test = bench()
    watch, valve = (simulated(test, 1.0, 60.0, 4, begin).recording for begin in ("watch", "valve"))
    c = watch.conditions
    assert (c.shut_pa, c.waited_s, c.topped_up, c.pump_off) == (40e3, 30.0, True, True)
    assert valve.conditions.waited_s is None and valve.conditions.shut_pa is None
    falls = [float(r.pressure_pa[0] - r.pressure_pa[2]) for r in (watch, valve)]
    assert falls[1] > falls[0], "the gas still settles in its first rows"


def test_the_linear_doubt_is_that_of_a_least_squares_fit_to_a_line():
    """A slow weep in settled gas: the loss over 60 s of n readings with sigma s has s 60 / sqrt(sum (t - mean)^2)."""
    test = bench(resolution_pa=50.0, limit="7 kPa in 60 s", every_s=1.0)
    tiny = Leak(limit_leak(test, 1.0).viscous, 0.0, AIR_PA + 40e3, back=AIR_PA)
    time_s = np.arange(0.0, 61.0, 1.0)
    sigma = 50.0 * math.hypot(12**-0.5, 0.125)
    line = sigma * 60.0 / math.sqrt(float(((time_s - time_s.mean()) ** 2).sum()))
    half = Leak(0.5 * tiny.viscous, 0.0, tiny.start, back=AIR_PA)
    found = doubt(test, [half], 60.0, "watch") * 3.5e3
    assert line < found < 8.0 * line, "the law and the wall's drift are doubted too"
    assert doubt(test, [half], 120.0, "watch") < doubt(test, [half], 60.0, "watch")
    assert doubt(test, [half], 30.0, "valve") > doubt(test, [half], 30.0, "watch")


class Counted:
    """Gives every batch as decided; keeps what was asked."""

    def __init__(self, test):
        self.test, self.batches = test, []

    def counts(self, batches):
        self.batches += batches
        return [Count((2, 2, 1), (2, 2, 1)) for _ in batches]


def test_what_starting_with_the_valve_costs_is_reckoned():
    simulator = Counted(bench(every_s=10.0))
    longer, count = begun_with_the_valve(simulator, 60.0, 1800.0)
    assert 60.0 < longer <= 300.0 and count.leaks_tried == 4
    assert {batch.begin for batch in simulator.batches} == {"valve"}
    assert begun_with_the_valve(simulator, 60.0, 60.0)[0] is None
    assert longer in shortest_hold.holds_worth_trying(simulator.test, 1800.0)


@pytest.mark.slow
def test_a_plan_says_what_the_steps_save():
    found = planned("a needle and the usual limit")
    plain, test = plan_object(found), found.test
    text = " ".join(plan_lines(found, 500, lambda words, *_: [words], lambda words, _: words))
    assert "Shut the valve and write the reading down" in text and "standing or not" in text
    assert "let it settle" not in text and "Follow the steps." in text
    started = plain["started_with_the_valve"]
    assert started["hold_s"] > found.hold_s and started["rows"] == started["hold_s"] / 10 + 1
    assert f"{started['hold_s']:g} s, {started['rows']} rows" in text
    assert plain["rows"] == found.hold_s / 10 + 1
    least, most = settling_kpa(test)
    assert most == pytest.approx(0.5 * most_warmth(test) * (AIR_PA + test.start_pa) / 1e3) and least < 0.03 * most
