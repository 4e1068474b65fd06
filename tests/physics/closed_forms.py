"""Closed forms of the settled, isothermal decay, air and capillaries: what the physics is checked against.

`ambient_pa` and `start_pa` are absolute; times in s; `k_over_v` = k_v/V in 1/(Pa s).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from leakdown.physics.air import GAS_CONSTANT_J_KG_K
from leakdown.physics.flow import CHOKED_FLOW_FUNCTION


def exponential(time_s: NDArray[np.float64], start_pa_gauge: float, tau_s: float) -> NDArray[np.float64]:
    """Gauge pressure p0 exp(-t/tau): the small-pressure limit of the viscous law."""
    return start_pa_gauge * np.exp(-np.asarray(time_s) / tau_s)


def viscous(time_s: NDArray[np.float64], start_pa: float, ambient_pa: float, k_over_v: float) -> NDArray[np.float64]:
    """Absolute pressure of V dp/dt = -k_v (p^2 - p_a^2).

    (p - p_a)/(p + p_a) = r0 exp(-2 k_v p_a t / V); rigid volume, constant temperature.
    """
    r0 = (start_pa - ambient_pa) / (start_pa + ambient_pa)
    r = r0 * np.exp(-2.0 * k_over_v * ambient_pa * np.asarray(time_s))
    return ambient_pa * (1.0 + r) / (1.0 - r)


def choked_time_constant_s(volume_m3: float, cd_area_m2: float, temperature_k: float) -> float:
    """tau = V/(C* C_d A sqrt(R T)) of a vessel emptied through a choked hole at constant temperature."""
    from_flow = CHOKED_FLOW_FUNCTION * cd_area_m2 * np.sqrt(GAS_CONSTANT_J_KG_K * temperature_k)
    return float(volume_m3 / from_flow)


def density_kg_m3(pressure_pa_abs: float, temperature_k: float) -> float:
    """rho = p / (R T). Ideal gas; real air at 1 atm and 20 degC is 0.04 % denser (Z = 0.9996)."""
    return pressure_pa_abs / (GAS_CONSTANT_J_KG_K * temperature_k)


def viscosity_pa_s(temperature_k: float) -> float:
    """Dynamic viscosity by Sutherland's law, U.S. Standard Atmosphere 1976 eq. 51.

    0.3 to 0.5 % below Lemmon & Jacobsen (2004) between 0 and 40 degC.
    """
    return 1.458e-6 * math.pow(temperature_k, 1.5) / (temperature_k + 110.4)


def capillary_coefficient_m3_s_pa(diameter_m: float, length_m: float, viscosity_pa_s: float) -> float:
    """k_v = pi d^4 / (256 eta L) of a round capillary. Same source and range as `viscous_throughput`."""
    return math.pi * diameter_m**4 / (256.0 * viscosity_pa_s * length_m)
