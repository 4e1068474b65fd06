"""Altitude of the workshop -> barometer, where a sheet gives the one and not the other."""

from __future__ import annotations

import re

from leakdown.quantities import LENGTH_M, parse_length, tidy

LOWEST_M, HIGHEST_M = -500.0, 6000.0
_SIZE = re.compile(
    r"[~≈]?\s*(?:ca\.?|about|approx\.?)?\s*"
    r"([-+]?\d[\d.,' ]*)\s*(metres?|meters?|mtrs?|m|feet|foot|ft|km|')(?!\w)",
    re.IGNORECASE,
)


def altitude_m(text: str) -> float | None:
    """Metres of "6500 ft", "1500m a.s.l." or "6,500 ft"; None where it cannot be told or cannot be."""
    match = _SIZE.match(tidy(text).strip())
    if match is None:
        return None
    digits, unit = match.group(1).replace(" ", "").replace("'", ""), match.group(2).lower()
    unit = "ft" if unit in ("'", "feet", "foot") else "m" if unit.startswith("m") else unit
    if re.fullmatch(r"[-+]?\d{1,2}[.,]\d{3}", digits):
        if unit == "km":
            return None
        digits = digits.replace(",", "").replace(".", "")  # nobody knows an altitude to the millimetre
    if unit not in LENGTH_M or digits.count(".") + digits.count(",") > 1:
        return None
    size = parse_length(f"{digits.rstrip('.,')} {unit}", "altitude")
    return size if LOWEST_M <= size <= HIGHEST_M else None


def barometer_at_pa(altitude_m: float) -> float:
    """Standard-atmosphere pressure, Pa absolute, at a geometric altitude up to 11 000 m.

    U.S. Standard Atmosphere 1976 eq. 33a with the geopotential altitude of eq. 18; the weather adds +/-3 %.
    The reader stands below the physics, so the law stands here once more; a test compares the two.
    """
    geopotential_m = 6_356_766.0 * altitude_m / (6_356_766.0 + altitude_m)
    return float(101_325.0 * (1.0 - 0.0065 * geopotential_m / 288.15) ** 5.255877)
