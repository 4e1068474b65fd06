"""Volumes of the circuit under test: Boyle's law and engine geometry. SI units."""

from __future__ import annotations

import math


def by_bottle_m3(bottle_m3: float, before_pa: float, after_pa: float) -> float:
    """Volume at ambient into which a bottle at gauge pressure `before_pa` was opened, ending at `after_pa`.

    V = V_bottle (p_before/p_after - 1), both gauge. Boyle, after the gas is back at room temperature.
    """
    return bottle_m3 * (before_pa / after_pa - 1.0)


def by_syringe_m3(injected_m3: float, rise_pa: float, ambient_pa_abs: float) -> float:
    """Volume in which pushing `injected_m3` of ambient air raises the pressure by `rise_pa` (Boyle)."""
    return ambient_pa_abs * injected_m3 / rise_pa


def swept_m3(bore_m: float, stroke_m: float) -> float:
    """Swept volume of one cylinder: pi/4 bore^2 stroke (40 CFR 1054.140(b))."""
    return math.pi / 4.0 * bore_m**2 * stroke_m


def crankcase_at_bottom_m3(swept: float, crankcase_ratio: float) -> float:
    """Crankcase volume at bottom dead centre from CR = (V_cc + V_s)/V_cc (Blair, SAE R-104, sec. 1.4)."""
    return swept / (crankcase_ratio - 1.0)


def stroke_rise_pa(stroke_m3: float, volume_m3: float, ambient_pa_abs: float) -> float:
    """Pressure that one pump stroke of ambient air adds in `volume_m3` (Boyle, isothermal)."""
    return ambient_pa_abs * stroke_m3 / volume_m3
