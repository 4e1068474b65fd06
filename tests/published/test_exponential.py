"""The exponential's time constant against lmfit, an independent fitting package, and published rules."""

from __future__ import annotations

import math

import numpy as np
import pytest

from leakdown.fit.least_squares import time_constant_s
from tests.physics import closed_forms as decay


@pytest.mark.parametrize("tau_s", [0.8, 30.0, 400.0])
@pytest.mark.parametrize("noise_pa", [1.0, 100.0])
def test_an_independent_fit_finds_the_same_time_constant(tau_s, noise_pa):
    lmfit = pytest.importorskip("lmfit", reason="lmfit is not installed")
    time_s = np.linspace(0.0, 1.5 * tau_s, 120)
    size = decay.exponential(time_s, 35e3, tau_s) + np.random.default_rng(3).normal(0.0, noise_pa, time_s.size)
    sigma = np.where(time_s < tau_s, noise_pa, 2.0 * noise_pa)  # unequal weights must matter alike
    model = lmfit.models.ExponentialModel()
    fit = model.fit(size, x=time_s, weights=1.0 / sigma, amplitude=30e3, decay=2.0 * tau_s)
    found = time_constant_s(time_s, size, sigma)
    assert found == pytest.approx(fit.params["decay"].value, rel=1e-5)
    assert found == pytest.approx(tau_s, abs=5.0 * fit.params["decay"].stderr)


def test_a_published_pass_limit_that_is_an_exponential():
    """2.0 inH2O must stand above 2 exp(-500.887/V) after five minutes (US station test TP-201.3, formula in
    text): 1000 gallons -> 1.21 inH2O, the same as tau = 300 s x V/500.887."""
    tau_s = 300.0 * 1000.0 / 500.887
    after = decay.exponential(np.array([300.0]), 2.0, tau_s)[0]
    assert after == pytest.approx(1.2119858110933965, rel=1e-12)
    time_s = np.linspace(0.0, 300.0, 31)
    read = np.round(decay.exponential(time_s, 2.0, tau_s), 2) * 249.0889  # a gauge of 0.01 inH2O
    assert time_constant_s(time_s, read, np.full(31, 1.0)) == pytest.approx(tau_s, rel=0.01)


def test_two_readings_are_an_exact_exponential():
    """7 to 5 psi in 40 s: tau = 40/ln(7/5) = 118.9 s (computed from the definition)."""
    found = time_constant_s(np.array([0.0, 40.0]), np.array([7.0, 5.0]) * 6894.757, np.array([100.0, 100.0]))
    assert found == pytest.approx(40.0 / math.log(7.0 / 5.0), rel=1e-6)


@pytest.mark.parametrize("size", [[20e3, 20e3, 20e3], [20e3, 21e3, 22e3], [0.0, 0.0, 0.0]])
def test_what_does_not_fall_has_no_time_constant(size):
    assert time_constant_s(np.array([0.0, 10.0, 20.0]), np.array(size), np.full(3, 10.0)) is None
