"""Flow laws against printed gas tables, regulations' examples, vacuum handbooks and another library."""

from __future__ import annotations

import math

import numpy as np
import pytest

from leakdown.physics.air import GAS_CONSTANT_J_KG_K
from leakdown.physics.flow import (
    CHOKED_FLOW_FUNCTION,
    CRITICAL_RATIO,
    DISCHARGE_COEFFICIENT,
    equivalent_hole_m,
    flow_function,
    orifice_throughput,
    viscous_throughput,
)
from leakdown.physics.leak import Leak, throughput_per_volume
from tests.physics.closed_forms import capillary_coefficient_m3_s_pa, viscosity_pa_s

ROOM_PA, ROOM_K = 101_325.0, 293.15
RT = GAS_CONSTANT_J_KG_K * ROOM_K

# Mach number -> p/p0, A/A*: NACA Report 1135 (1953) Table I, gamma 1.4 (found in text)
NACA_TABLE = {
    0.1: (0.9930, 5.8218),
    0.5: (0.8430, 1.3398),
    0.6: (0.7840, 1.1882),
    0.82: (0.6430, 1.0305),
    0.9: (0.5913, 1.0089),
}
# r -> m sqrt(R T0)/(A p0): computed from Saint-Venant and Wantzel's equation (NACA 1135 eq. 44, 80)
FLOW_FUNCTION = {
    0.99: 0.14066170260424574,
    0.95: 0.30764110039204035,
    0.9: 0.42258086381863574,
    0.8: 0.5606610191923974,
    0.77: 0.5888478724282489,
    0.7: 0.6383172332856355,
    0.6: 0.6769152528627225,
    0.5: 0.6847314563772705,
}


def test_choking():
    """0.52828 and 0.68473 of NACA Report 1135 (found in text); White's problem 3.27 rounds to 0.685."""
    assert pytest.approx(0.5282817877171742, rel=1e-12) == CRITICAL_RATIO
    assert pytest.approx(0.6847314563772704, rel=1e-12) == CHOKED_FLOW_FUNCTION
    assert round(CHOKED_FLOW_FUNCTION, 3) == 0.685
    assert flow_function(CRITICAL_RATIO) == pytest.approx(CHOKED_FLOW_FUNCTION, rel=1e-12)
    assert flow_function(0.0) == flow_function(0.3) == flow_function(CRITICAL_RATIO)
    assert flow_function(1.0) == 0.0


@pytest.mark.parametrize("ratio", FLOW_FUNCTION)
def test_flow_function(ratio):
    assert flow_function(ratio) == pytest.approx(FLOW_FUNCTION[ratio], rel=1e-9)


@pytest.mark.parametrize("mach", NACA_TABLE)
def test_printed_gas_table(mach):
    """psi = C*/(A/A*) at the printed p/p0; how far off is allowed follows from the last printed digits."""
    ratio, area = NACA_TABLE[mach]
    edges = flow_function(np.array([ratio - 6e-5, ratio + 6e-5]))
    expected = CHOKED_FLOW_FUNCTION / area
    assert edges[1] * (1 - 1e-4) < expected < edges[0] * (1 + 1e-4)


def test_real_air_chokes_within_a_thousandth():
    """0.68513 at 20 degC, 1 atm: isentropic expansion with a real-gas equation of state (computed)."""
    assert pytest.approx(0.68513, rel=1e-3) == CHOKED_FLOW_FUNCTION


def test_mass_flow_through_an_ideal_tenth_of_a_millimetre():
    """2.08890 mg/s at +30 kPa, 1.87846 mg/s into -50 kPa (computed from NACA 1135)."""
    area = math.pi / 4.0 * 1e-4**2
    out = orifice_throughput(131_325.0, ROOM_PA, area, ROOM_K) / RT
    into = orifice_throughput(ROOM_PA, 51_325.0, area, ROOM_K) / RT
    assert out == pytest.approx(2.0888962199345246e-6, rel=1e-9)
    assert into == pytest.approx(1.8784553542563055e-6, rel=1e-9)


@pytest.mark.parametrize(("gauge_kpa", "choked"), [(-50, True), (-30, False), (30, False), (50, False)])
def test_which_tests_choke_at_sea_level(gauge_kpa, choked):
    high, low = max(0, gauge_kpa) * 1e3 + ROOM_PA, min(0, gauge_kpa) * 1e3 + ROOM_PA
    deeper = orifice_throughput(high, low - 1e3, 1e-8, ROOM_K)
    assert (deeper == orifice_throughput(high, low, 1e-8, ROOM_K)) is choked
    fluids = pytest.importorskip("fluids", reason="fluids is not installed")
    assert bool(fluids.is_critical_flow(high, low, 1.4)) is choked


def test_minus_40_kpa_chokes_at_1500_m_but_not_at_sea_level():
    assert (84_556.0 - 40e3) / 84_556.0 < CRITICAL_RATIO < (ROOM_PA - 40e3) / ROOM_PA


def test_iso_6358s_ellipse_stays_within_0_3_percent():
    """psi/C* = sqrt(1 - ((r - b)/(1 - b))^2), b = 0.5283 (ISO 6358 form; the 0.304 % is computed)."""
    r = np.linspace(0.5283, 0.9999, 4000)
    ellipse = np.sqrt(1.0 - ((r - 0.5283) / (1.0 - 0.5283)) ** 2)
    off = np.abs(ellipse / (flow_function(r) / CHOKED_FLOW_FUNCTION) - 1.0).max()
    assert 0.0029 < off < 0.0031


def test_sonic_conductance_of_an_ideal_nozzle():
    """C = m/(rho0 p1) = 1.56447e-11 m3/(s Pa) for 0.1 mm, rho0 1.185 (ISO 6358-1 definition, computed)."""
    mass_flow = orifice_throughput(7e5, 1e5, math.pi / 4.0 * 1e-4**2, ROOM_K) / RT
    assert mass_flow / (1.185 * 7e5) == pytest.approx(1.5644652275129268e-11, rel=1e-9)


@pytest.mark.parametrize("ratio", [0.56, 0.7, 0.9, 0.99])
def test_another_librarys_nozzle(ratio):
    """Incompressible flow times the expansibility of a nozzle far narrower than its pipe is the same law."""
    fluids = pytest.importorskip("fluids", reason="fluids is not installed")
    expansibility = fluids.nozzle_expansibility(D=1.0, Do=1e-4, P1=1e5, P2=ratio * 1e5, k=1.4)
    assert flow_function(ratio) == pytest.approx(expansibility * math.sqrt(2.0 * (1.0 - ratio)), rel=1e-6)


# --- capillary ---

CAPILLARY = dict(diameter_m=50e-6, length_m=5e-3, viscosity_pa_s=1.8206e-5)


def test_capillary():
    """pi d^4/(256 eta L) and the leak of 50 um x 5 mm at +30 kPa (computed from Hagen and Poiseuille)."""
    k_v = capillary_coefficient_m3_s_pa(**CAPILLARY)
    assert k_v == pytest.approx(8.425688168107444e-13, rel=1e-12)
    assert viscous_throughput(131_325.0, ROOM_PA, k_v) == pytest.approx(0.00588070905693059, rel=1e-12)


def test_the_vacuum_handbooks_rule_of_thumb():
    """135 d^4/l p: litres per second, cm and mbar, air at 20 degC (in text; constants spread by 2 %)."""
    k_v = capillary_coefficient_m3_s_pa(0.01, 0.01, 1.82e-5)
    conductance_l_s = viscous_throughput(101.0, 99.0, k_v) / 2.0 * 1e3
    assert conductance_l_s == pytest.approx(135.0, rel=0.02)


def test_another_librarys_isothermal_pipe_flow():
    """It adds the kinetic term, negligible in 50 um x 100 mm; friction 64/Re, density at the inlet."""
    fluids = pytest.importorskip("fluids", reason="fluids is not installed")
    eta = viscosity_pa_s(ROOM_K)
    k_v = capillary_coefficient_m3_s_pa(50e-6, 0.1, eta)
    mass_flow = viscous_throughput(131_325.0, ROOM_PA, k_v) / RT
    reynolds = 4.0 * mass_flow / (math.pi * 50e-6 * eta)
    expected = fluids.isothermal_gas(rho=131_325.0 / RT, fd=64.0 / reynolds, P1=131_325.0, P2=ROOM_PA, L=0.1, D=50e-6)
    assert reynolds < 10.0
    assert mass_flow == pytest.approx(expected, rel=1e-3)


def test_where_the_viscous_law_ends():
    """Kn < 0.01 above about 6 um at 1 atm; mean free path 6.53e-8 m (kinetic theory, handbooks agree)."""
    eta = 1.8206e-5
    mean_free_path = eta / ROOM_PA * math.sqrt(math.pi * RT / 2.0)
    assert mean_free_path == pytest.approx(6.5326e-8, rel=1e-3)
    assert 100.0 * mean_free_path == pytest.approx(6e-6, rel=0.15)
    assert "6 um" in viscous_throughput.__doc__


# --- one fixed hole tested both ways: computed from the laws; a symmetric leak does not read alike ---


@pytest.mark.parametrize(
    ("gauge_pa", "laminar", "orifice"),
    [
        (30e3, 1.3475238922675934, 1.1970849285215408),
        (40e3, 1.4918536735321242, 1.2966975994368477),
        (50e3, 1.6550933508024894, 1.4258221525646875),
    ],
)
def test_a_fixed_leak_passes_more_under_pressure(gauge_pa, laminar, orifice):
    out, into = (ROOM_PA + gauge_pa, ROOM_PA), (ROOM_PA, ROOM_PA - gauge_pa)
    assert viscous_throughput(*out, 1e-12) / viscous_throughput(*into, 1e-12) == pytest.approx(laminar)
    ratio = orifice_throughput(*out, 1e-8, ROOM_K) / orifice_throughput(*into, 1e-8, ROOM_K)
    assert ratio == pytest.approx(orifice, rel=1e-9)
    for weep, hole, expected in ((1.0, 0.0, laminar), (0.0, 1.0, orifice)):
        leak = Leak(weep, hole, ROOM_PA, back=ROOM_PA)
        flows = [throughput_per_volume(np.array([ROOM_PA + s * gauge_pa]), leak, s < 0)[0] for s in (1, -1)]
        assert flows[0] / flows[1] == pytest.approx(expected, rel=1e-5)


def test_a_weep_grows_faster_than_its_pressure():
    """Q(+50)/Q(+30) = 1.80994, against 5/3 of a proportional law (computed)."""
    flows = [viscous_throughput(ROOM_PA + gauge, ROOM_PA, 1e-12) for gauge in (50e3, 30e3)]
    assert flows[0] / flows[1] == pytest.approx(1.8099434056880865, rel=1e-9)


# --- equivalent hole ---


@pytest.mark.parametrize(("high", "low"), [(136_325.0, ROOM_PA), (ROOM_PA, 66_325.0), (ROOM_PA, 41_325.0)])
@pytest.mark.parametrize("diameter_m", [20e-6, 0.3e-3, 2.0e-3])
def test_the_equivalent_hole_of_a_hole_is_the_hole(diameter_m, high, low):
    cd_area = DISCHARGE_COEFFICIENT * math.pi / 4.0 * diameter_m**2
    q = orifice_throughput(high, low, cd_area, 300.0)
    assert equivalent_hole_m(q, high, low, 300.0) == pytest.approx(diameter_m, rel=1e-12)
    assert equivalent_hole_m(q, high, low, 300.0, 1.0) < diameter_m
    assert equivalent_hole_m(0.0, high, low, 300.0) == 0.0


def test_the_discharge_coefficient_is_kirchhoffs_free_streamline():
    """pi/(pi + 2) = 0.6110 (value from memory, textbook hydrodynamics)."""
    assert pytest.approx(math.pi / (math.pi + 2.0), abs=2e-3) == DISCHARGE_COEFFICIENT
