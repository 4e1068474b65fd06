"""Closed decays against published examples and independent integration."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from leakdown.physics.flow import CHOKED_FLOW_FUNCTION, flow_function
from leakdown.physics.leak import Leak, settled_pressure, throughput_per_volume
from tests.physics import closed_forms as decay

ROOM_PA = 101_325.0
K_OVER_V = decay.capillary_coefficient_m3_s_pa(50e-6, 5e-3, 1.8206e-5) / 200e-6


@pytest.mark.parametrize(
    ("start_pa", "time_s", "expected"),
    [
        (131_325.0, 60.0, 129617.83023243396),
        (131_325.0, 120.0, 128018.95467544305),
        (71_325.0, 60.0, 72610.76356650864),
        (71_325.0, 120.0, 73850.19025204176),
    ],
)
def test_viscous_decay(start_pa, time_s, expected):
    """50 um x 5 mm capillary on 200 cm3 (computed outside the project from V dp/dt = -K (p^2 - p_a^2))."""
    found = decay.viscous(np.array([time_s]), start_pa, ROOM_PA, K_OVER_V)[0]
    assert found == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("start_pa", [151_325.0, 51_325.0])
def test_viscous_decay_solves_its_own_equation(start_pa):
    time_s = np.linspace(0.0, 400.0, 9)
    law = solve_ivp(
        lambda t, p: -5e-8 * (p * p - ROOM_PA**2), (0, 400), [start_pa], t_eval=time_s, rtol=1e-10, atol=1e-6
    )
    np.testing.assert_allclose(decay.viscous(time_s, start_pa, ROOM_PA, 5e-8), law.y[0], rtol=1e-8)


def test_exponential_decay():
    """30 kPa, tau 300 s, after 90 s: 22 224.547 Pa (definition); half after tau ln 2."""
    assert decay.exponential(np.array([90.0]), 30e3, 300.0)[0] == pytest.approx(22224.546620451536, rel=1e-12)
    half = decay.exponential(np.array([300.0 * math.log(2.0)]), 30e3, 300.0)[0]
    assert half == pytest.approx(15e3, rel=1e-12)


def test_the_exponential_is_the_weep_at_small_pressure_only():
    """tau = V/(2 k_v p_a) near the room's pressure; at 50 kPa the first second is a quarter faster."""
    tau = 1.0 / (2.0 * K_OVER_V * ROOM_PA)
    time_s = np.array([0.0, 0.5 * tau])
    for gauge_pa, agrees in ((50.0, True), (50e3, False)):
        weep = decay.viscous(time_s, ROOM_PA + gauge_pa, ROOM_PA, K_OVER_V)[1] - ROOM_PA
        share = weep / decay.exponential(time_s, gauge_pa, tau)[1]
        assert bool(abs(share - 1.0) < 1e-3) is agrees


def test_choked_time_constant():
    """512.807 s for 200 cm3 and an ideal 50 um hole (computed; the form of White's problem 3.27)."""
    tau = decay.choked_time_constant_s(200e-6, math.pi / 4.0 * 50e-6**2, 293.15)
    assert tau == pytest.approx(512.8069824735067, rel=1e-9)


def test_whites_problem_3_27():
    """Density down by a quarter after 0.420 V/(A sqrt(R T0)) through a choked nozzle, alpha 0.685
    (inputs found in text, the answer ln(4/3)/0.685 computed)."""
    v, area, temperature_k = 0.3, 1e-6, 300.0
    after = decay.choked_time_constant_s(v, area, temperature_k) * math.log(4.0 / 3.0)
    unit = v / (area * math.sqrt(287.05287 * temperature_k))
    assert after / unit == pytest.approx(0.41997382839676034, rel=5e-4)  # 0.685 has three digits


def test_vacuum_decay_example_of_40_cfr_1065_644():
    """2 litres, 25.3 to 50.6 kPa absolute in 70 s at 293.15 K: 2.9657e-4 mol/s (inputs found in text;
    0.00030 as printed is from memory). A choked hole that fills at that speed must read back as the same."""
    volume_m3, rise_pa_s = 0.002, (50_600.0 - 25_300.0) / 70.0
    leak = Leak(0.0, rise_pa_s / (CHOKED_FLOW_FUNCTION * ROOM_PA), 25_300.0, back=ROOM_PA)
    reached = settled_pressure(np.array([70.0]), leak, True, 25_300.0)[0]
    assert reached == pytest.approx(50_600.0, rel=1e-3)
    flow = throughput_per_volume(np.array([25_300.0]), leak, True)[0] * volume_m3
    assert flow == pytest.approx(0.7228571428571429, rel=1e-6)  # Pa m3/s, computed
    mol_s = flow / (8.314472 * 293.15)
    assert mol_s == pytest.approx(2.9657046846e-4, rel=1e-6)
    assert f"{mol_s:.5f}" == "0.00030"


@pytest.mark.parametrize("inward", [False, True])
def test_settled_quadrature_against_integration(inward):
    """Weep and hole together, from +/-45 kPa to near the room's pressure: within 0.02 % of the fall."""
    start = ROOM_PA + (-45e3 if inward else 45e3)
    leak = Leak(2e-8, 0.01, start)

    def slope(t: float, p: np.ndarray) -> np.ndarray:
        high, low = (ROOM_PA, p) if inward else (p, ROOM_PA)
        out = leak.viscous * (high**2 - low**2) + leak.orifice * high * flow_function(low / high)
        return out if inward else -out

    time_s = np.linspace(0.0, 60.0, 25)
    law = solve_ivp(slope, (0.0, 60.0), [start], t_eval=time_s, rtol=1e-10, atol=1e-4)
    found = settled_pressure(time_s, leak, inward, start)
    np.testing.assert_allclose(found, law.y[0], atol=2e-4 * 45e3)


@pytest.mark.parametrize("inward", [False, True])
def test_a_start_on_the_other_side_comes_back_too(inward):
    """dp/dt = -k (p^2 - b^2) from below b is p = b tanh(b k t + artanh(p0/b)), from above b coth (closed form)."""
    back, k, time_s = 101_325.0, 1e-8, np.linspace(0.0, 600.0, 7)
    start_pa = back - 400.0 if not inward else back + 400.0
    found = settled_pressure(time_s, Leak(k, 0.0, start_pa, back=back), inward, start_pa)
    bend = back * k * time_s + np.arctanh(min(start_pa / back, back / start_pa))
    assert found == pytest.approx(back * np.tanh(bend) if not inward else back / np.tanh(bend), abs=0.1)
