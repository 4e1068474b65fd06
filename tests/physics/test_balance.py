"""The balance against an independent integration of the same physics, its limits and its own slopes."""

from __future__ import annotations

import math

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from leakdown.physics.balance import Balance, Path
from leakdown.physics.leak import PARAMETERS, Leak, settled_pressure, throughput_per_volume
from tests.physics import closed_forms as decay

ROOM_PA = 101_325.0
R_AIR = 287.05287


def leak_of(rig, start_pa, start_k) -> Leak:
    """The same rig in the balance's own units."""
    return Leak(
        viscous=rig.k_v / rig.volume_m3,
        orifice=rig.cd_area_m2 * math.sqrt(R_AIR * rig.wall_k) / rig.volume_m3,
        start=start_pa,
        warmth=start_k / rig.wall_k - 1.0,
        relaxation=1.0 / rig.tau_s,
        back=rig.room_pa,
        drift=rig.drift_k_s / rig.wall_k,
        growth=rig.growth_1_s,
    )


def hole(diameter_m: float) -> float:
    return 0.61 * math.pi / 4.0 * diameter_m**2


WEEP = 8.0e-12  # k_v: about 0.19 mm bore, 10 mm long
CASES = {
    "slow weep, warm from filling": (dict(k_v=6e-12), 40e3, 296.1, 60.0),
    "slow hole": (dict(cd_area_m2=hole(0.1e-3)), 40e3, 296.1, 60.0),
    "both, under vacuum": (dict(k_v=WEEP, cd_area_m2=hole(0.1e-3), tau_s=2.0), -45e3, 290.2, 60.0),
    "choked vacuum at altitude": (dict(cd_area_m2=hole(0.2e-3), room_pa=79_500.0), -45e3, 291.0, 30.0),
    "hole that empties in seconds": (dict(cd_area_m2=hole(0.45e-3)), 40e3, 299.0, 15.0),
    "weep that empties in seconds": (dict(k_v=4e-10), 40e3, 299.0, 15.0),
    "fast fill from vacuum": (dict(k_v=2e-11, cd_area_m2=hole(0.4e-3)), -45e3, 287.3, 12.0),
    "gas all but at the walls": (dict(k_v=6e-12, cd_area_m2=hole(0.05e-3), tau_s=0.2), 40e3, 299.0, 120.0),
    "hardly any heat exchange": (dict(cd_area_m2=hole(0.3e-3), tau_s=200.0), 40e3, 293.15, 10.0),
    "tight, cooling walls": (dict(drift_k_s=-3e-5, tau_s=3.0), 40e3, 294.6, 60.0),
    "a leak that grows": (dict(k_v=4e-12, growth_1_s=0.02), 40e3, 293.15, 60.0),
    "blow-down from seven bar": (dict(cd_area_m2=hole(0.3e-3), tau_s=3.0), 600e3, 293.15, 20.0),
}


@pytest.mark.parametrize("case", CASES)
def test_the_independent_integration_agrees(case, rig):
    """Within 0.01 % of the gauge pressure that the hold began with: 4 Pa of 40 kPa."""
    made, gauge_pa, start_k, span_s = CASES[case]
    truth = rig(**made)
    time_s = np.linspace(0.0, span_s, 200)
    start = truth.room_pa + gauge_pa
    balance = Balance(time_s, truth.room_pa, gauge_pa < 0)
    found, _ = balance.at_readings(balance.solve(leak_of(truth, start, start_k)))
    off = np.abs(found - truth.pressure_pa(time_s, start, start_k)).max()
    assert off < 1e-4 * abs(gauge_pa), f"{off:.1f} Pa"


@pytest.mark.parametrize("span_s", [20.0, 60.0, 300.0, 600.0])
@pytest.mark.parametrize("tau_s", [0.05, 0.1, 0.2, 0.5, 1.5])
def test_a_quick_gas_in_a_long_hold_does_not_ring(tau_s, span_s, rig):
    """The mesh is far coarser than the gas is quick; its start temperature must still die out quietly."""
    time_s = np.linspace(0.0, span_s, 200)
    made = rig(k_v=6e-12, tau_s=tau_s)
    balance = Balance(time_s, made.room_pa, False)
    found, _ = balance.at_readings(balance.solve(leak_of(made, made.room_pa + 40e3, 296.15)))
    assert np.abs(found - made.pressure_pa(time_s, made.room_pa + 40e3, 296.15)).max() < 10.0


def solved(leak: Leak, time_s, inward=False, room_pa=ROOM_PA) -> tuple[np.ndarray, Path]:
    balance = Balance(np.asarray(time_s, dtype=float), room_pa, inward)
    path = balance.solve(leak)
    return balance.at_readings(path)[0], path


# --- isothermal limit: closed forms and quadratures (computed from the definitions; no source needed) ---

V_M3, D_M = 0.0002, 50e-6
IDEAL_HOLE = math.pi / 4.0 * D_M**2 * math.sqrt(R_AIR * 293.15) / V_M3
CAPILLARY = math.pi * D_M**4 / (256.0 * 1.8206e-5 * 0.005) / V_M3
# 200 cm3 and a 50 um capillary of 5 mm, or an ideal 50 um hole; absolute Pa; computed from V dp/dt = -q
ISOTHERMAL = [
    (CAPILLARY, 0.0, 131_325.0, 60.0, 129_617.83023),
    (CAPILLARY, 0.0, 131_325.0, 120.0, 128_018.95468),
    (CAPILLARY, 0.0, 71_325.0, 60.0, 72_610.76357),
    (CAPILLARY, 0.0, 71_325.0, 120.0, 73_850.19025),
    (0.0, IDEAL_HOLE, 131_325.0, 30.0, 125_088.85595),
    (0.0, IDEAL_HOLE, 131_325.0, 60.0, 119_567.90530),
    (0.0, IDEAL_HOLE, 51_325.0, 30.0, 57_248.98121),
    (0.0, IDEAL_HOLE, 51_325.0, 60.0, 63_116.04618),
]


@pytest.mark.parametrize(("viscous", "orifice", "start", "time_s", "expected"), ISOTHERMAL)
def test_gas_held_at_the_walls_follows_the_isothermal_law(viscous, orifice, start, time_s, expected):
    leak = Leak(viscous, orifice, start, relaxation=50.0)
    balanced, _ = solved(leak, [0.0, time_s], start < ROOM_PA)
    settled = settled_pressure(np.array([time_s]), leak, start < ROOM_PA, start)[0]
    moved = abs(start - expected)
    assert balanced[-1] == pytest.approx(expected, abs=5e-4 * moved)  # the gas still lags by 20 ms
    assert settled == pytest.approx(expected, abs=2e-4 * moved)


def test_the_viscous_closed_form_is_the_balance_without_lag():
    time_s = np.linspace(0.0, 300.0, 60)
    for start in (ROOM_PA + 50e3, ROOM_PA - 50e3):
        found, _ = solved(Leak(5e-8, 0.0, start, relaxation=50.0), time_s, start < ROOM_PA)
        np.testing.assert_allclose(found, decay.viscous(time_s, start, ROOM_PA, 5e-8), atol=10.0)


def test_a_choked_hole_empties_a_vessel_exponentially_at_constant_temperature():
    tau = decay.choked_time_constant_s(V_M3, math.pi / 4.0 * D_M**2, 293.15)
    assert tau == pytest.approx(512.80698247, rel=1e-9)  # computed from NACA 1135's C*
    found, _ = solved(Leak(0.0, IDEAL_HOLE, 800e3, relaxation=50.0), [0.0, 0.5 * tau])
    assert found[-1] == pytest.approx(800e3 * math.exp(-0.5), rel=1e-4)


# --- adiabatic limit ---


def test_a_choked_hole_empties_an_insulated_vessel_by_the_isentropic_law():
    """p = p0 (1 + (g - 1)/2 t/tau)^(-2g/(g - 1)); textbook gas dynamics (value from memory, derived anew)."""
    tau = decay.choked_time_constant_s(V_M3, math.pi / 4.0 * D_M**2, 293.15)
    time_s = np.linspace(0.0, 0.4 * tau, 30)
    found, path = solved(Leak(0.0, IDEAL_HOLE, 800e3, relaxation=1e-9), time_s)
    expected = 800e3 * (1.0 + 0.2 * time_s / tau) ** -7.0
    assert expected[-1] > ROOM_PA / 0.5283
    np.testing.assert_allclose(found, expected, rtol=1e-5)


@pytest.mark.parametrize(("relaxation", "speed", "share"), [(50.0, 1.0, 1e-3), (1e-9, 1.4, 1e-6)])
def test_a_choked_hole_fills_at_a_steady_speed_1_4_times_as_fast_when_insulated(relaxation, speed, share):
    found, _ = solved(Leak(0.0, IDEAL_HOLE, 20e3, relaxation=relaxation), [0.0, 60.0, 120.0], inward=True)
    rise = speed * 0.6847314563772704 * IDEAL_HOLE * ROOM_PA  # C* of NACA 1135 Table I
    np.testing.assert_allclose(np.diff(found) / 60.0, rise, rtol=share)


# --- mass and energy ---


def test_without_a_leak_no_mass_goes_and_the_gas_settles_to_the_walls():
    found, path = solved(Leak(0.0, 0.0, 140e3, warmth=0.02, relaxation=0.5), np.linspace(0.0, 60.0, 90))
    np.testing.assert_allclose(path.state[:, 0], 140e3 / 1.02, rtol=1e-12)
    assert found[-1] == pytest.approx(140e3 / 1.02, rel=1e-6)  # Gay-Lussac
    assert (np.diff(found) <= 1e-6).all()


def test_an_insulated_filling_takes_in_the_enthalpy_of_the_room():
    """V dp/(g - 1) = c_p T dm, so p - p0 = g (n - n0) at every moment, whatever the flow law."""
    leak = Leak(4e-8, 0.02, ROOM_PA - 45e3, warmth=-0.03, relaxation=1e-12)
    _, path = solved(leak, np.linspace(0.0, 40.0, 20), inward=True)
    n, p = path.state.T
    np.testing.assert_allclose(p - p[0], 1.4 * (n - n[0]), atol=1e-3)
    assert p[-1] > ROOM_PA - 5e3


def test_what_stays_in_an_insulated_vessel_has_expanded_isentropically():
    leak = Leak(4e-8, 0.02, ROOM_PA + 50e3, warmth=0.03, relaxation=1e-12)
    _, path = solved(leak, np.linspace(0.0, 40.0, 20))
    n, p = path.state.T
    np.testing.assert_allclose(p / p[0], (n / n[0]) ** 1.4, rtol=1e-6)
    assert p[-1] < ROOM_PA + 10e3


def test_a_leak_seen_before_and_after_it_settled_differs_by_the_ratio_of_specific_heats():
    """dp/dt of a fresh, insulated moment is 1.4 times the settled rate at the same pressure."""
    leak = Leak(3e-8, 0.004, ROOM_PA + 35e3, relaxation=1e-9)
    found, _ = solved(leak, [0.0, 0.01, 1.0])
    settled = throughput_per_volume(np.array([leak.start]), leak, False)[0]
    assert (found[0] - found[1]) / 0.01 == pytest.approx(1.4 * settled, rel=1e-3)


# --- slopes and robustness ---

SLOPES = {
    "pressure, both laws": (False, Leak(3e-8, 0.01, ROOM_PA + 40e3, 0.01, 0.7, ROOM_PA, 1e-6, 1e-3)),
    "vacuum, both laws": (True, Leak(3e-8, 0.01, ROOM_PA - 45e3, -0.01, 0.7, ROOM_PA, 1e-6, 1e-3)),
    "reseating above the room": (False, Leak(3e-8, 0.01, ROOM_PA + 40e3, 0.01, 0.7, ROOM_PA + 15e3)),
    "choked all the way": (True, Leak(0.0, 0.004, ROOM_PA - 70e3, -0.01, 0.4)),
    "fast": (False, Leak(1e-7, 0.15, ROOM_PA + 40e3, 0.02, 0.7)),
    "a lip, free convection": (
        False,
        Leak(3e-8, 0.01, ROOM_PA + 40e3, 0.05, 0.7, growth=1e-3, pressed=2e-5, convection=0.5),
    ),
    "the same under vacuum": (True, Leak(3e-8, 0.01, ROOM_PA - 40e3, -0.05, 0.7, pressed=-3e-5, convection=0.8)),
}
STEP = dict(viscous=1e-11, orifice=1e-6, start=1.0, warmth=1e-5, relaxation=1e-5, back=1.0, drift=1e-8, growth=1e-6)
STEP |= dict(pressed=1e-9, convection=1e-4)


@pytest.mark.parametrize("case", SLOPES)
@pytest.mark.parametrize("name", PARAMETERS)
def test_sensitivities_are_the_slopes_of_the_solution(case, name):
    inward, leak = SLOPES[case]
    balance = Balance(np.linspace(0.0, 20.0, 60), ROOM_PA, inward)
    k = PARAMETERS.index(name)
    _, slopes = balance.at_readings(balance.solve(leak))
    ends = []
    for sign in (1.0, -1.0):
        values = leak.array()
        values[k] += sign * STEP[name]
        ends.append(balance.at_readings(balance.solve(Leak(*values)))[0])
    measured = (ends[0] - ends[1]) / (2.0 * STEP[name])
    np.testing.assert_allclose(slopes[:, k], measured, atol=2e-3 * np.abs(measured).max() + 1e-9)


@given(
    st.booleans(),
    st.floats(3.0, 4.95),
    st.floats(-12.0, -5.0),
    st.floats(-6.0, 0.0),
    st.floats(-2.5, 1.3),
    st.floats(0.0, 2.7),
)
@settings(max_examples=60, deadline=None, derandomize=True)
def test_air_only_ever_flows_downhill(inward, gauge, viscous, orifice, relaxation, span):
    """Any leak, any vessel, any length (powers of ten): the mass goes one way and stops at the room's."""
    start = ROOM_PA + (-(10.0**gauge) if inward else 10.0**gauge)
    leak = Leak(10.0**viscous, 10.0**orifice, start, relaxation=10.0**relaxation)
    found, path = solved(leak, np.linspace(0.0, 10.0**span, 50), inward)
    towards = np.diff(path.state[:, 0]) * (1.0 if inward else -1.0)
    assert np.isfinite(found).all()
    assert towards.min() > -30.0 - 1e-3 * 10.0**gauge
