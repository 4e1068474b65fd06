"""Uncertainty, conformity and detection against the international guides' printed examples."""

from __future__ import annotations

import math

import numpy as np
import pytest

from leakdown.analysis import LeakEstimate
from leakdown.fit.least_squares import least_squares
from leakdown.judge.analyse import analyse
from leakdown.recording import Conditions, Recording
from leakdown.uncertainty import DETECTION_SIGMAS, Z_95, normal_cdf, student_95
from tests.physics import closed_forms as decay

# --- GUM (JCGM 100:2008) H.3: a thermometer's correction, straight line with covariance ---

READING_DEGC = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
CORRECTION = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]


@pytest.fixture(scope="module")
def calibration():
    """(parameters, covariance, s) of b = y1 + y2 (t - 20 degC), through the project's own engine."""
    t, b = np.array(READING_DEGC) - 20.0, np.array(CORRECTION)
    design = np.stack([np.ones_like(t), t], axis=1)
    free = np.full(2, np.inf)
    fit = least_squares(lambda y: (design @ y - b, design), np.zeros(2), -free, free, 1e-14)
    assert fit.converged
    variance = fit.chi2 / (t.size - 2)
    return fit.parameters, fit.covariance * variance, math.sqrt(variance)


def test_gum_h3_line(calibration):
    """Printed: -0.1712(29), 0.00218(67), r = -0.930, s = 0.0035 degC (in text); more digits computed."""
    y, covariance, s = calibration
    u = np.sqrt(np.diag(covariance))
    assert (round(y[0], 4), round(u[0], 4)) == (-0.1712, 0.0029)
    assert (round(y[1], 5), round(u[1], 5)) == (0.00218, 0.00067)
    assert round(covariance[0, 1] / (u[0] * u[1]), 3) == -0.930
    assert round(s, 4) == 0.0035
    np.testing.assert_allclose(y, [-0.17120379013134995, 0.002182697739887277], rtol=2e-7)
    np.testing.assert_allclose(u, [0.0028775978351599503, 0.0006679387732278308], rtol=1e-8)


def test_gum_h3_prediction_needs_the_covariance(calibration):
    """b(30 degC) = -0.1494(41) as printed (found in text); without the covariance u would be twice that."""
    y, covariance, _ = calibration
    at = np.array([1.0, 10.0])
    assert round(float(at @ y), 4) == -0.1494
    assert round(math.sqrt(at @ covariance @ at), 4) == 0.0041
    assert math.sqrt(at**2 @ np.diag(covariance)) > 1.7 * 0.0041


# --- GUM Table G.2 = NIST TN 1297 Table B.1: t at 95 %. 2, 5, 10, inf: found in text; others from memory ---

T_95 = {
    1: 12.71,
    2: 4.30,
    3: 3.18,
    4: 2.78,
    5: 2.57,
    6: 2.45,
    7: 2.36,
    8: 2.31,
    9: 2.26,
    10: 2.23,
    12: 2.18,
    15: 2.13,
    20: 2.09,
    30: 2.04,
    50: 2.01,
    1_000_000_000: 1.96,
}


@pytest.mark.parametrize("dof", T_95)
def test_students_factor_to_the_printed_digits(dof):
    assert round(student_95(dof), 2) == T_95[dof]


def test_students_factor_against_a_statistics_library():
    stats = pytest.importorskip("scipy.stats")
    for dof in (0.5, 1, 1.01, 1.1, 1.5, 2, 3, 3.5, 4, 5, 8, 12, 29, 120, 1e6, 1e9):
        assert student_95(dof) == pytest.approx(stats.t.ppf(0.975, max(dof, 1)), rel=1e-5)


# --- conformity: JCGM 106:2012 ---


def test_the_probability_of_conforming_to_one_limit():
    """Zener diode: y = -5.47 V, u = 0.05 V, at most -5.40 V: 0.92 (7.3.2; value from memory, computed)."""
    assert normal_cdf((-5.40 + 5.47) / 0.05) == pytest.approx(0.9192433407662289, rel=1e-12)


def test_the_probability_of_conforming_to_two_limits():
    """y = 13.6, u = 1.8, 12.5 to 16.3: 0.66 (7.4; inputs found in text, computed)."""
    inside = normal_cdf((16.3 - 13.6) / 1.8) - normal_cdf((12.5 - 13.6) / 1.8)
    assert inside == pytest.approx(0.6626297864953079, rel=1e-12)


@pytest.mark.parametrize(
    ("z", "probability"),
    [(0.8416212, 0.80), (1.2815516, 0.90), (1.6448536, 0.95), (2.3263479, 0.99), (3.0902323, 0.999)],
)
def test_guard_band_multipliers(z, probability):
    """Table 1 of JCGM 106 (0.84, 1.28, 1.64, 2.33, 3.09: from memory, digits beyond computed)."""
    assert normal_cdf(z) == pytest.approx(probability, abs=1e-7)
    assert normal_cdf(-z) == pytest.approx(1.0 - probability, abs=1e-7)


def test_deep_tails_keep_their_digits():
    """P(Z < -10) = 7.619853e-24 (any table of the normal tail; value from memory)."""
    assert normal_cdf(-10.0) == pytest.approx(7.61985302416e-24, rel=1e-9)


# --- detection: Currie, Anal. Chem. 40 (1968) 586 ---


def test_what_is_called_seen_is_seen_95_times_in_100():
    """Critical level 1.96 sigma (two-sided 5 %), so the limit is 1.96 + 1.645; Currie's one-sided 3.29 is
    the same sum with 1.645 twice (computed; his table prints 2.33 and 4.65 sqrt(B) with sigma sqrt(2 B))."""
    assert normal_cdf(DETECTION_SIGMAS - Z_95) == pytest.approx(0.95, rel=1e-12)
    assert 2.0 * normal_cdf(-Z_95) == pytest.approx(0.05, rel=1e-12)
    one_sided = DETECTION_SIGMAS - Z_95
    assert 2.0 * one_sided == pytest.approx(3.2897072539029444, rel=1e-12)
    assert round(one_sided * math.sqrt(2.0), 2) == 2.33
    assert round(2.0 * one_sided * math.sqrt(2.0), 2) == 4.65


# --- propagation: JCGM 100 5.1.2 ---


def test_propagation_of_a_hand_calculated_leak():
    """q = V dp/dt for 200(4) cm3, 1500(20) Pa, 60.0(2) s: 5.00(12) mPa m3/s (computed, eq. 10)."""
    uncertainties = pytest.importorskip("uncertainties", reason="uncertainties is not installed")
    q = uncertainties.ufloat(200e-6, 4e-6) * uncertainties.ufloat(1500.0, 20.0) / uncertainties.ufloat(60.0, 0.2)
    assert (q.nominal_value, q.std_dev) == (
        pytest.approx(0.005, rel=1e-12),
        pytest.approx(0.00012133516482134196, rel=1e-9),
    )


@pytest.fixture(scope="module")
def weep():
    """One synthetic weep (k_v/V = 5e-8), read at 2 Hz with 20 Pa of scatter, analysed on demand."""
    time_s = np.arange(0.0, 60.1, 0.5)
    clean = decay.viscous(time_s, 141_325.0, 101_325.0, 5e-8) - 101_325.0
    noisy = clean + np.random.default_rng(7).normal(0.0, 20.0, time_s.size)

    def analysed(volume_u_m3: float | None) -> LeakEstimate:
        known = Conditions(circuit="crankcase", direction="pressure", volume_m3=250e-6, volume_u_m3=volume_u_m3)
        return analyse(Recording(time_s, noisy, conditions=known)).leak

    return analysed


def test_a_volumes_doubt_enters_as_another_package_propagates_it(weep):
    """Throughput = rate x volume: 95 % half-widths of 250(20) cm3 and of the rate, by `uncertainties`."""
    uncertainties = pytest.importorskip("uncertainties", reason="uncertainties is not installed")
    leak = weep(20e-6)
    rate, q = leak.rate_pa_s, leak.throughput_pa_m3_s
    product = uncertainties.ufloat(rate.value, (rate.high - rate.low) / 2.0) * uncertainties.ufloat(250e-6, 20e-6)
    assert q.value == pytest.approx(product.nominal_value, rel=1e-9)
    assert (q.high - q.low) / 2.0 == pytest.approx(product.std_dev, rel=0.03)  # first order against logarithms


def test_without_a_doubt_the_volume_only_scales(weep):
    leak = weep(None)
    assert leak.throughput_pa_m3_s == leak.rate_pa_s.scaled(250e-6)
    assert leak.rate_pa_s.low < 5e-8 * (136_325.0**2 - 101_325.0**2) < leak.rate_pa_s.high
