"""What goes into an analysis besides the readings: given, measured, inferred or assumed, and said so."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from leakdown.analysis import Hold, Quantity, Used
from leakdown.errors import UsageError
from leakdown.fit.priors import Priors, StartWarmth, priors_for, start_warmth, waited_warmth
from leakdown.hold.readings import DENSE_FROM
from leakdown.hold.window import Window
from leakdown.physics.flow import DISCHARGE_COEFFICIENT
from leakdown.quantities import ATMOSPHERE_PA, REFERENCE_TEMPERATURE_K
from leakdown.recording import Recording
from leakdown.tuned import tuned

_T = tuned("fit")


def inputs_of(recording: Recording, discharge_coefficient: float, resolution: Quantity) -> Used:
    """Every quantity that the numbers rest on. Raises UsageError for readings below a vacuum."""
    c = recording.conditions
    standard = discharge_coefficient == DISCHARGE_COEFFICIENT
    temperature = _quantity(recording, "temperature_k", REFERENCE_TEMPERATURE_K)
    if recording.temperature_k is not None and np.isfinite(recording.temperature_k).any():
        temperature = Quantity(float(np.nanmean(recording.temperature_k)), "measured")
    used = Used(
        barometer_pa=_quantity(recording, "barometer_pa", ATMOSPHERE_PA),
        temperature_k=temperature,
        volume_m3=_quantity(recording, "volume_m3", None),
        volume_u_m3=_quantity(recording, "volume_u_m3", None),
        discharge_coefficient=Quantity(discharge_coefficient, "assumed" if standard else "given"),
        resolution_pa=resolution,
        noise_pa=0.0,
    )
    _check_vacuum(recording, ambient_pa(used))
    highest = float(np.max(np.abs(recording.pressure_pa)))
    if c.resolution_pa is not None and c.resolution_pa > _T.coarsest_of_highest * highest > 0.0:
        raise UsageError(
            f"a resolution of {c.resolution_pa / 1e3:g} kPa is coarser than half of the highest reading",
            where=recording.source,
            remedy="Give the smallest step that can be read off the gauge.",
        )
    return used


def _quantity(recording: Recording, name: str, assumed: float | None) -> Quantity:
    value = getattr(recording.conditions, name)
    if value is not None:
        return Quantity(value, "settings" if name in recording.conditions.by_settings else "given")
    return Quantity(assumed, "none" if assumed is None else "assumed")


def _check_vacuum(recording: Recording, ambient: float) -> None:
    lowest = float(recording.pressure_pa.min())
    if lowest <= -ambient:
        raise UsageError(
            f"a reading of {lowest / 1e3:.1f} kPa is below a vacuum at {ambient / 1e3:.1f} kPa",
            where=recording.source,
            remedy="Check the unit, the sign and the barometer.",
        )


def ambient_pa(used: Used) -> float:
    """The station pressure that the analysis uses, Pa abs."""
    return used.barometer_pa.value or ATMOSPHERE_PA


def temperature_k(used: Used) -> float:
    """The gas temperature that the analysis uses, K."""
    return used.temperature_k.value or REFERENCE_TEMPERATURE_K


def priors_of(recording: Recording, window: Window | Hold, used: Used, closed_s: float | None = None) -> Priors:
    """What is known of the nuisance numbers before the hold is looked at.

    recording: all of it, the zero's drift taken off. closed_s: where the hold begins, if later than the window's.
    """
    closed = window.closed_s if closed_s is None else closed_s
    ambient, zero = ambient_pa(used), window.zero
    absolute = max(ambient + float(np.interp(closed, recording.time_s, recording.pressure_pa)), 1e3)
    unseen = _T.zero_drift_pa_per_min / 60.0
    speed = _T.uneven_drift * _zero_speed_pa_s(window) if zero.drift_pa is not None else unseen
    warmth, watched = _warmth(recording, closed, zero.known_pa, ambient), used.temperature_k.source == "measured"
    return priors_for(zero.offset_pa, zero.u_pa, warmth, used.volume_m3.value, speed / absolute, watched)


def _warmth(recording: Recording, closed_s: float, zero_pa: float, ambient: float) -> StartWarmth:
    """The gas's start temperature, by the filling as far as the log shows it."""
    size = recording.pressure_pa - zero_pa
    if recording.time_s.size < DENSE_FROM:
        start, told = float(size[int(np.searchsorted(recording.time_s, closed_s - 1e-9))]), recording.conditions
        # seconds counted by hand while pumping run short, and "30 at the latest" may have been 15
        waited_s = _T.waited_share * (told.waited_s or 0.0)
        share = _T.topped_up_share if told.topped_up else 1.0
        return waited_warmth(start, ambient, waited_s, recording.sign, share)
    return start_warmth(recording.time_s, np.maximum(size + ambient, 1e3), closed_s, ambient, recording.sign)


def zero_corrected(recording: Recording, window: Window | Hold) -> Recording:
    """The recording with the gauge's measured drift taken off as if it had been steady."""
    speed = _zero_speed_pa_s(window)
    if speed == 0.0:
        return recording
    middle = 0.5 * (window.phases[0].start_s + window.phases[-1].end_s)
    return replace(recording, pressure_pa=recording.pressure_pa - speed * (recording.time_s - middle))


def _zero_speed_pa_s(window: Window | Hold) -> float:
    """How fast the gauge's zero moved from the readings before the fill to those after the vent."""
    drift, phases = window.zero.drift_pa, window.phases
    if drift is None or abs(drift) < _T.least_drift_pa or not phases:
        return 0.0
    first, last = phases[0], phases[-1]
    between = 0.5 * (last.start_s + last.end_s) - 0.5 * (first.start_s + first.end_s)
    if window.zero.source == "given":
        between = last.end_s - first.start_s
    return drift / between if between > 0.0 else 0.0


def temperature_corrected(part: Recording, used: Used) -> tuple[Recording, float | None]:
    """Pressures referred to the temperature at the start of the hold, and by how much that moved (K).

    p T0/T with a smooth T(t): ideal gas at constant volume (Gay-Lussac). The quadratic smooths the
    thermometer, whose own scatter would otherwise enter at 0.5 kPa per kelvin.
    """
    if part.temperature_k is None:
        return part, None
    known = np.isfinite(part.temperature_k)
    if known.sum() < 3:
        return part, None
    t = part.time_s - part.time_s[0]
    degree = 2 if known.sum() > 5 else 1
    smooth = np.polyval(np.polyfit(t[known], part.temperature_k[known], degree), t)
    pressure = (part.pressure_pa + ambient_pa(used)) * smooth[0] / smooth - ambient_pa(used)
    return replace(part, pressure_pa=pressure), float(np.ptp(smooth))
