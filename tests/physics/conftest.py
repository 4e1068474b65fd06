"""The energy balance of a leaking vessel written a second time: mass, temperature and a stiff solver."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pytest
from scipy.integrate import solve_ivp

R_AIR = 287.05287
C_V = 2.5 * R_AIR
C_P = 3.5 * R_AIR


def nozzle(ratio: float) -> float:
    """m sqrt(R T0)/(A p0) for gamma = 1.4, from the exit Mach number (NACA 1135 eq. 44), choked at M = 1."""
    mach = min(1.0, math.sqrt(max(5.0 * (ratio ** (-2.0 / 7.0) - 1.0), 0.0)))
    return math.sqrt(1.4) * mach * (1.0 + 0.2 * mach * mach) ** -3


@dataclass(frozen=True)
class Rig:
    """A vessel with a hole (C_d A, m2) and a weep (k_v, m3/(s Pa)); walls at `wall_k`, drifting in K/s."""

    volume_m3: float = 200e-6
    cd_area_m2: float = 0.0
    k_v: float = 0.0
    room_pa: float = 101_325.0
    wall_k: float = 293.15
    tau_s: float = 1.5
    drift_k_s: float = 0.0
    growth_1_s: float = 0.0

    @property
    def heat_w_k(self) -> float:
        """hA of a thermal time constant stated for the gas at room pressure."""
        return self.room_pa * self.volume_m3 / (R_AIR * self.wall_k) * C_V / self.tau_s

    def flow_kg_s(self, high: float, low: float, temperature: float) -> float:
        if high <= low:
            return 0.0
        hole = self.cd_area_m2 * high * nozzle(low / high) / math.sqrt(R_AIR * temperature)
        return hole + self.k_v * (high * high - low * low) / (R_AIR * temperature)

    def pressure_pa(self, time_s: np.ndarray, start_pa: float, start_k: float) -> np.ndarray:
        """Absolute pressure at `time_s` by LSODA on (mass, temperature)."""

        def rates(t: float, y: np.ndarray) -> list[float]:
            mass, gas_k = y
            p = mass * R_AIR * gas_k / self.volume_m3
            wall = self.heat_w_k * (self.wall_k + self.drift_k_s * t - gas_k)
            size = 1.0 + self.growth_1_s * t
            out = size * self.flow_kg_s(p, self.room_pa, gas_k)
            into = size * self.flow_kg_s(self.room_pa, p, self.wall_k)
            energy = wall - out * R_AIR * gas_k + into * (C_P * self.wall_k - C_V * gas_k)
            return [into - out, energy / (mass * C_V)]

        mass = start_pa * self.volume_m3 / (R_AIR * start_k)
        found = solve_ivp(
            rates,
            (0.0, float(time_s[-1])),
            [mass, start_k],
            method="LSODA",
            t_eval=time_s,
            rtol=1e-9,
            atol=[1e-14, 1e-8],
            max_step=float(time_s[-1]) / 50.0,
        )
        return found.y[0] * R_AIR * found.y[1] / self.volume_m3


@pytest.fixture
def rig() -> Callable[..., Rig]:
    """Make a rig: `rig(cd_area_m2=..., tau_s=...)`."""
    return Rig
