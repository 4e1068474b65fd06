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
_USSA_GAS_CONSTANT_J_MOL_K = 8.31432  # of the U.S. Standard Atmosphere itself, for its own formula

_SEA_LEVEL_PA = 101_325.0
_SEA_LEVEL_K = 288.15
_LAPSE_K_M = 0.0065
_GRAVITY_M_S2 = 9.80665
_EARTH_RADIUS_M = 6_356_766.0


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
    exponent = _GRAVITY_M_S2 * MOLAR_MASS_KG_MOL / (_USSA_GAS_CONSTANT_J_MOL_K * _LAPSE_K_M)
    warmer = _SEA_LEVEL_K / (_SEA_LEVEL_K - _LAPSE_K_M * geopotential_m)
    return _SEA_LEVEL_PA * math.pow(warmer, -exponent)


def isentropic_temperature_ratio(pressure_ratio: float) -> float:
    """T2/T1 when gas is compressed by `pressure_ratio` with no heat lost: the most a fill can warm it."""
    return math.pow(pressure_ratio, (GAMMA - 1.0) / GAMMA)
