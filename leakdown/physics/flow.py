"""Flow laws: how much air passes a leak of given geometry. Pure functions of numbers or arrays.

Throughput q is pressure times volume flow (Pa m3/s) at the stated gas temperature; divide by R T
for mass flow. Pressures are absolute; `high` is the upstream side. Leaks in parallel add.
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from leakdown.physics.air import GAMMA, GAS_CONSTANT_J_KG_K

Number = TypeVar("Number", float, NDArray[np.float64])

CRITICAL_RATIO = (2.0 / (GAMMA + 1.0)) ** (GAMMA / (GAMMA - 1.0))
"""p_down/p_up below which an orifice is choked, 0.52828 for air (NACA Report 1135, 1953)."""

CHOKED_FLOW_FUNCTION = math.sqrt(GAMMA * (2.0 / (GAMMA + 1.0)) ** ((GAMMA + 1.0) / (GAMMA - 1.0)))
"""m sqrt(R T0)/(A p0) of a choked nozzle, 0.684731 for gamma = 1.4 (NACA Report 1135, 1953)."""

DISCHARGE_COEFFICIENT = 0.61
"""Of the sharp-edged round hole in which results are pictured: Kirchhoff's pi/(pi+2) = 0.611.
Common practice; near choking a sharp edge reaches 0.7 to 0.85."""


def viscous_throughput(high_pa_abs: Number, low_pa_abs: Number, k_v_m3_s_pa: float) -> Number:
    """q = k_v (p_high^2 - p_low^2): laminar flow of an ideal gas through a long narrow path.

    Holds for Re < 2300 and passages wider than about 6 um at 1 atm (Kn < 0.01); ends neglected.
    Source: Hagen-Poiseuille, compressible isothermal form (vacuum handbooks).
    """
    return k_v_m3_s_pa * (high_pa_abs * high_pa_abs - low_pa_abs * low_pa_abs)


def flow_function(ratio: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """psi(r) = m sqrt(R T0)/(C_d A p0) of an orifice at r = p_down/p_up in [0, 1]; constant once choked.

    Isentropic nozzle flow, Saint-Venant and Wantzel (NACA Report 1135, 1953).
    """
    r = np.maximum(np.asarray(ratio, dtype=float), CRITICAL_RATIO)
    inside = 2.0 * GAMMA / (GAMMA - 1.0) * (r ** (2.0 / GAMMA) - r ** ((GAMMA + 1.0) / GAMMA))
    return np.asarray(np.sqrt(np.maximum(inside, 0.0)))


def orifice_throughput(high_pa_abs: float, low_pa_abs: float, cd_area_m2: float, temperature_k: float) -> float:
    """q = C_d A p_high psi(p_low/p_high) sqrt(R T): a short open hole, T upstream and q at T."""
    psi = float(flow_function(low_pa_abs / high_pa_abs))
    return cd_area_m2 * high_pa_abs * psi * math.sqrt(GAS_CONSTANT_J_KG_K * temperature_k)


def equivalent_hole_m(
    throughput_pa_m3_s: float,
    high_pa_abs: float,
    low_pa_abs: float,
    temperature_k: float,
    discharge_coefficient: float = DISCHARGE_COEFFICIENT,
) -> float:
    """Diameter of the round sharp-edged orifice that passes the same throughput between two pressures."""
    per_area = orifice_throughput(high_pa_abs, low_pa_abs, discharge_coefficient, temperature_k)
    return math.sqrt(4.0 / math.pi * max(throughput_pa_m3_s, 0.0) / per_area)
