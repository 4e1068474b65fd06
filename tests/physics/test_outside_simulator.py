"""The balance against HydDown, an independent simulator of vessels that are emptied and filled (PyPI, MIT).

It carries real air (CoolProp), steps mass and energy explicitly, and knows the same constant heat exchange
when told `specified_U`. Known differences: its steps (halving them halves the gap), real gas against ideal
(0.1 %), and while filling a smoothing of the inlet's enthalpy that dies out over the first few seconds.
"""

from __future__ import annotations

import math
import warnings
from dataclasses import dataclass

import numpy as np
import pytest

from leakdown.physics.balance import Balance
from leakdown.physics.leak import Leak

pytestmark = pytest.mark.slow

ROOM_PA, ROOM_K, R_AIR = 101_325.0, 293.15, 287.05287
CD = 0.61


@dataclass(frozen=True)
class Vessel:
    """A flat-ended cylinder with one hole; `tau_s` is the time constant of its gas, None when insulated."""

    diameter_m: float
    length_m: float
    hole_m: float
    tau_s: float | None

    @property
    def volume_m3(self) -> float:
        return math.pi / 4.0 * self.diameter_m**2 * self.length_m

    @property
    def wall_m2(self) -> float:
        return math.pi * self.diameter_m * (self.length_m + self.diameter_m / 2.0)

    @property
    def heat_w_m2_k(self) -> float:
        if self.tau_s is None:
            return 0.0
        return ROOM_PA * self.volume_m3 / (R_AIR * ROOM_K) * 2.5 * R_AIR / self.tau_s / self.wall_m2

    def simulated(self, start_pa: float, span_s: float, step_s: float) -> tuple[np.ndarray, ...]:
        """Times, absolute pressures and gas temperatures by the outside simulator."""
        valve = dict(type="orifice", diameter=self.hole_m, discharge_coef=CD, back_pressure=ROOM_PA)
        if start_pa < ROOM_PA:
            valve |= dict(flow="filling", end_pressure=ROOM_PA)
        else:
            valve |= dict(flow="discharge")
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            hyddown = pytest.importorskip("hyddown", reason="HydDown or its CoolProp is missing", exc_type=ImportError)
            run = hyddown.HydDown(
                dict(
                    vessel=dict(diameter=self.diameter_m, length=self.length_m),
                    initial=dict(temperature=ROOM_K, pressure=start_pa, fluid="air"),
                    calculation=dict(type="energybalance", time_step=step_s, end_time=span_s),
                    valve=valve,
                    heat_transfer=dict(type="specified_U", temp_ambient=ROOM_K, U_fix=self.heat_w_m2_k),
                )
            )
            run.run()
        return run.time_array, run.P, run.T_fluid

    def balanced(self, time_s: np.ndarray, start_pa: float) -> tuple[np.ndarray, np.ndarray]:
        """Absolute pressures and gas temperatures at `time_s` by the project's balance."""
        orifice = CD * math.pi / 4.0 * self.hole_m**2 * math.sqrt(R_AIR * ROOM_K) / self.volume_m3
        relaxation = 1e-9 if self.tau_s is None else 1.0 / self.tau_s
        balance = Balance(time_s, ROOM_PA, start_pa < ROOM_PA)
        path = balance.solve(Leak(0.0, orifice, start_pa, relaxation=relaxation))
        gas_k = ROOM_K * path.state[:, 1] / path.state[:, 0]
        return balance.at_readings(path)[0], np.interp(time_s, balance.mesh_s, gas_k)


SMALL = dict(diameter_m=0.050, length_m=0.102, hole_m=0.5e-3)  # 200 cm3
LARGE = dict(diameter_m=0.100, length_m=0.510, hole_m=0.5e-3)  # 4 litres


@pytest.mark.slow
@pytest.mark.parametrize("tau_s", [1.5, None])
@pytest.mark.parametrize("gauge_pa", [40e3, 200e3])
def test_emptying_a_crankcase_in_seconds(tau_s, gauge_pa):
    vessel = Vessel(**SMALL, tau_s=tau_s)
    time_s, pressure_pa, gas_k = vessel.simulated(ROOM_PA + gauge_pa, 8.0, 0.01)
    found_pa, found_k = vessel.balanced(time_s, ROOM_PA + gauge_pa)
    assert np.abs(found_pa - pressure_pa).max() < 2e-3 * gauge_pa
    cooling = ROOM_K - gas_k.min()
    assert cooling > 10.0
    assert np.abs(found_k - gas_k).max() < 0.01 * cooling


def test_the_gap_shrinks_with_the_simulators_steps():
    vessel = Vessel(**SMALL, tau_s=1.5)
    gaps = []
    for step_s in (0.02, 0.01):
        time_s, pressure_pa, _ = vessel.simulated(ROOM_PA + 40e3, 8.0, step_s)
        gaps.append(np.abs(vessel.balanced(time_s, ROOM_PA + 40e3)[0] - pressure_pa).max())
    assert gaps[1] < 0.65 * gaps[0]


def test_filling_four_litres_from_a_vacuum():
    """Slow enough that the smoothed inlet (1.4 K too cold in the first seconds) is a small part of it."""
    vessel = Vessel(**LARGE, tau_s=30.0)
    time_s, pressure_pa, gas_k = vessel.simulated(ROOM_PA - 45e3, 160.0, 0.2)
    found_pa, found_k = vessel.balanced(time_s, ROOM_PA - 45e3)
    assert np.abs(found_pa - pressure_pa).max() < 7e-3 * 45e3
    late = time_s > 20.0
    assert np.abs(found_pa - pressure_pa)[late].max() < 5e-3 * 45e3
    warming = gas_k.max() - ROOM_K
    assert warming > 10.0
    assert np.abs(found_k - gas_k)[late].max() < 0.04 * warming  # what the smoothing held back, dying out
