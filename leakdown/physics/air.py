"""Dry air as an ideal gas, and the standard atmosphere. SI units, absolute pressures and kelvin."""

from __future__ import annotations

import math

GAS_CONSTANT_J_KG_K = 287.05287
"""Specific gas constant of dry air, ISO 2533:1975 (CODATA R over the CIPM-2007 molar mass: 287.0475)."""

GAMMA = 1.4
"""Ratio of specific heats, ideal diatomic gas (ISO 2533; real air at 20 degC and 1 atm: 1.402)."""

CP_J_KG_K = GAMMA / (GAMMA - 1.0) * GAS_CONSTANT_J_KG_K
CV_J_KG_K = GAS_CONSTANT_J_KG_K / (GAMMA - 1.0)
MOLAR_MASS_KG_MOL = 0.0289644  # U.S. Standard Atmosphere 1976
MOLAR_GAS_CONSTANT_J_MOL_K = 8.314462618  # CODATA 2018, exact (rounded at the 10th digit)

_SEA_LEVEL_PA = 101_325.0
_SEA_LEVEL_K = 288.15
_LAPSE_K_M = 0.0065
_GRAVITY_M_S2 = 9.80665
_EARTH_RADIUS_M = 6_356_766.0


def density_kg_m3(pressure_pa_abs: float, temperature_k: float) -> float:
    """rho = p / (R T). Ideal gas; real air at 1 atm and 20 degC is 0.04 % denser (Z = 0.9996)."""
    return pressure_pa_abs / (GAS_CONSTANT_J_KG_K * temperature_k)


def viscosity_pa_s(temperature_k: float) -> float:
    """Dynamic viscosity by Sutherland's law, U.S. Standard Atmosphere 1976 eq. 51.

    0.3 to 0.5 % below Lemmon & Jacobsen (2004) between 0 and 40 degC.
    """
    return 1.458e-6 * temperature_k**1.5 / (temperature_k + 110.4)


def standard_pressure_pa(altitude_m: float) -> float:
    """Standard-atmosphere pressure at a *geometric* altitude above sea level, -500 to 11 000 m.

    U.S. Standard Atmosphere 1976 eq. 33a with the geopotential altitude of eq. 18
    (the two altitudes differ by 180 ppm in pressure at 3 km). The day's weather adds +/-3 %.
    Raises ValueError outside the range.
    """
    if not -500.0 <= altitude_m <= 11_000.0:
        raise ValueError(f"altitude {altitude_m:g} m is outside -500..11000 m")
    geopotential_m = _EARTH_RADIUS_M * altitude_m / (_EARTH_RADIUS_M + altitude_m)
    return standard_pressure_at_geopotential_pa(geopotential_m)


def standard_pressure_at_geopotential_pa(geopotential_m: float) -> float:
    """Standard-atmosphere pressure at a geopotential altitude up to 11 000 m (USSA 1976 eq. 33a)."""
    exponent = _GRAVITY_M_S2 * MOLAR_MASS_KG_MOL / (8.31432 * _LAPSE_K_M)  # USSA's own R*
    return _SEA_LEVEL_PA * (_SEA_LEVEL_K / (_SEA_LEVEL_K - _LAPSE_K_M * geopotential_m)) ** -exponent


def isentropic_temperature_ratio(pressure_ratio: float) -> float:
    """T2/T1 when gas is compressed by `pressure_ratio` with no heat lost: the most a fill can warm it."""
    return math.pow(pressure_ratio, (GAMMA - 1.0) / GAMMA)
