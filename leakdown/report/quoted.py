"""The units and the pressure in which a size is quoted."""

from __future__ import annotations

from leakdown.analysis import Analysis
from leakdown.quantities import PRESSURE_PA, REFERENCE_TEMPERATURE_K, show_pressure, standard_cm3_per_min

STANDARD_AIR = "air at 20 degC, 101.325 kPa"


def flow_factor(analysis: Analysis) -> float:
    """Standard cm3/min per Pa m3/s at this test's gas temperature."""
    return standard_cm3_per_min(1.0, analysis.used.temperature_k.value or REFERENCE_TEMPERATURE_K)


def loss_factor(analysis: Analysis) -> float:
    """User's pressure unit per minute, per Pa/s."""
    return 60.0 / PRESSURE_PA[analysis.recording.conditions.unit]


def at_words(analysis: Analysis) -> str:
    """The quoted pressure: "at 35 kPa of vacuum", with the user's own unit first."""
    at_pa = abs(analysis.leak.at_pa) if analysis.leak else 0.0
    unit = analysis.recording.conditions.unit
    kpa = f"{at_pa / 1e3:g} kPa"
    text = kpa if unit == "kPa" else f"{show_pressure(at_pa, unit)} ({kpa})"
    return f"at {text} of {analysis.direction}"
