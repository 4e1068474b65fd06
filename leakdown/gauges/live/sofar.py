"""The leak so far in one short line. Pure."""

from __future__ import annotations

from leakdown.analysis import Analysis
from leakdown.quantities import PRESSURE_PA, REFERENCE_TEMPERATURE_K, significant, standard_cm3_per_min
from leakdown.uncertainty import Interval


def leak_so_far(result: Analysis | None) -> str:
    """ "leak 12.3 cm3/min (11.9 to 12.8)"; per minute of pressure without a volume; "" if unknown."""
    if result is None or result.leak is None:
        return ""
    leak, unit = result.leak, result.recording.conditions.unit
    at = f"at {significant(abs(leak.at_pa) / PRESSURE_PA[unit], 2)} {unit}"
    if leak.throughput_pa_m3_s is not None:
        kelvin = result.used.temperature_k.value or REFERENCE_TEMPERATURE_K
        size = leak.throughput_pa_m3_s.scaled(standard_cm3_per_min(1.0, kelvin))
        return _words(size, "leak", "cm3/min", at)
    return _words(leak.rate_pa_s.scaled(60.0 / PRESSURE_PA[unit]), "loses", f"{unit}/min", at)


def _words(size: Interval, verb: str, unit: str, at: str) -> str:
    if size.value is None:
        return f"no leak seen; one of {significant(size.high, 2)} {unit} {at} would show"
    decimals = len(significant(size.value).partition(".")[2])
    low, high = f"{size.low:.{decimals}f}", f"{size.high:.{decimals}f}"
    return f"{verb} {significant(size.value)} {unit} ({low} to {high}) {at}"
