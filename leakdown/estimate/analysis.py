"""One recording in, one `Analysis` out: the order of the steps, and nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.errors import UsageError
from leakdown.estimate import hold as holds
from leakdown.estimate.exponential import time_constant_s
from leakdown.estimate.flags import Seen, all_flags
from leakdown.estimate.leak import Sized, Vessel, size
from leakdown.estimate.limits import practice_limit
from leakdown.estimate.model import CREEP, LOG_TAU, RATE, START, WARMTH, HoldModel, Priors, warmth_sd
from leakdown.estimate.readings import DENSE_FROM, Readings, inferred_resolution_pa, prepare
from leakdown.estimate.result import Analysis, Curve, Hold, Limit, Phase, Quantity, Used
from leakdown.estimate.search import Found, search
from leakdown.estimate.shape import Odd, oddest, rising
from leakdown.estimate.statistics import Z_95
from leakdown.estimate.verdict import Evidence, judge
from leakdown.physics.flow import DISCHARGE_COEFFICIENT
from leakdown.quantities import ATMOSPHERE_PA, REFERENCE_TEMPERATURE_K
from leakdown.recording import Recording

Array = NDArray[np.float64]

DEFAULT_QUOTE_PA = 35_000.0


@dataclass(frozen=True)
class Settings:
    """What the user may fix. Conditions that belong to the test itself are in `Recording.conditions`.

    quote_pa: magnitude of the gauge pressure at which the leak is quoted. hold_s: (start, end) by hand.
    limit: None takes common practice for the circuit and direction.
    """

    quote_pa: float = DEFAULT_QUOTE_PA
    hold_s: tuple[float, float] | None = None
    limit: Limit | None = None
    discharge_coefficient: float = DISCHARGE_COEFFICIENT


@dataclass(frozen=True)
class _Fitted:
    """The chosen fit of the hold, and what was noticed on the way."""

    found: Found
    odd: Odd | None
    rising_sigmas: float
    sized: Sized | None


def analyse(recording: Recording, settings: Settings | None = None) -> Analysis:
    """Find the hold, size the leak, judge it. Raises InputError or UsageError when nothing can be said."""
    settings = settings or Settings()
    resolution = _resolution(recording)
    window = holds.find(recording, resolution.value or 0.0, settings.hold_s)
    used = _used(recording, settings, resolution)
    _check_vacuum(recording, used)
    part = recording.between(window.closed_s, window.end_s)
    corrected, warm_range = _temperature_corrected(part, used)
    readings = prepare(
        corrected.time_s - window.closed_s, corrected.pressure_pa, resolution.value or 0.0, recording.by_hand
    )
    used = replace(used, noise_pa=readings.noise_pa)
    model = HoldModel(
        readings,
        used.barometer_pa.value or ATMOSPHERE_PA,
        recording.direction == "vacuum",
        settings.quote_pa,
        _priors(readings, window, used),
    )
    fitted = _fit(model, settings, used)
    hold, settled = _hold(recording, corrected, window, fitted.found)
    return _assembled(recording, corrected, window, hold, settled, used, fitted, settings, warm_range)


def _resolution(recording: Recording) -> Quantity:
    given = recording.conditions.resolution_pa
    if given is not None:
        return Quantity(given, "given")
    return Quantity(inferred_resolution_pa(recording.pressure_pa, recording.conditions.unit), "inferred")


def _used(recording: Recording, settings: Settings, resolution: Quantity) -> Used:
    c = recording.conditions

    def quantity(value: float | None, assumed: float | None) -> Quantity:
        if value is not None:
            return Quantity(value, "given")
        return Quantity(assumed, "none" if assumed is None else "assumed")

    standard = settings.discharge_coefficient == DISCHARGE_COEFFICIENT
    temperature = quantity(c.temperature_k, REFERENCE_TEMPERATURE_K)
    if recording.temperature_k is not None and np.isfinite(recording.temperature_k).any():
        temperature = Quantity(float(np.nanmean(recording.temperature_k)), "measured")
    return Used(
        barometer_pa=quantity(c.barometer_pa, ATMOSPHERE_PA),
        temperature_k=temperature,
        volume_m3=quantity(c.volume_m3, None),
        volume_u_m3=quantity(c.volume_u_m3, None),
        discharge_coefficient=Quantity(settings.discharge_coefficient, "assumed" if standard else "given"),
        resolution_pa=resolution,
        noise_pa=0.0,
    )


def _check_vacuum(recording: Recording, used: Used) -> None:
    ambient = used.barometer_pa.value or ATMOSPHERE_PA
    lowest = float(recording.pressure_pa.min())
    if lowest <= -ambient:
        raise UsageError(
            f"{recording.source}: a reading of {lowest / 1e3:.1f} kPa is below a vacuum at {ambient / 1e3:.1f} kPa",
            remedy="Check the unit, the sign and the barometer.",
        )


def _temperature_corrected(part: Recording, used: Used) -> tuple[Recording, float | None]:
    """Pressures referred to the temperature at the start of the hold, by p T0/T with a smooth T(t).

    Source of the rule: ideal gas at constant volume (Gay-Lussac). A quadratic smooths the thermometer,
    whose own scatter would otherwise enter at 0.5 kPa per kelvin.
    """
    if part.temperature_k is None:
        return part, None
    known = np.isfinite(part.temperature_k)
    if known.sum() < 3:
        return part, None
    t = part.time_s - part.time_s[0]
    smooth = np.polyval(np.polyfit(t[known], part.temperature_k[known], 2 if known.sum() > 5 else 1), t)
    ambient = used.barometer_pa.value or ATMOSPHERE_PA
    pressure = (part.pressure_pa + ambient) * smooth[0] / smooth - ambient
    return replace(part, pressure_pa=pressure), float(np.ptp(smooth))


def _priors(readings: Readings, window: holds.Window, used: Used) -> Priors:
    ambient = used.barometer_pa.value or ATMOSPHERE_PA
    base = Priors(
        zero_pa=window.zero.offset_pa,
        zero_sd_pa=window.zero.u_pa,
        warmth_sd=warmth_sd(float(readings.pressure_pa[0]), ambient),
    )
    return base.for_volume(used.volume_m3.value)


def _fit(model: HoldModel, settings: Settings, used: Used) -> _Fitted:
    """The plain leak; when the readings ask for another shape, that shape."""
    found = search(model)
    odd = oddest(found) if found.fit.converged else None
    climbing = rising(found) if found.fit.converged else 0.0
    if odd is not None and odd.name in ("opening", "growth"):
        start = found.fit.parameters.copy()
        other = search(model, odd.name, start)
        if other.fit.converged and other.misfit < found.misfit:
            found = other
    vessel = Vessel(
        used.volume_m3.value,
        used.volume_u_m3.value,
        used.temperature_k.value or REFERENCE_TEMPERATURE_K,
        settings.discharge_coefficient,
    )
    sized = size(found, settings.quote_pa, vessel) if found.fit.converged else None
    complete = sized is not None and sized.complete
    return _Fitted(sized.found if sized else found, odd, climbing, sized if complete else None)


def _hold(recording: Recording, part: Recording, window: holds.Window, found: Found) -> tuple[Hold, bool]:
    """The hold with its settled start, and whether it settled at all."""
    settled_s = _settled_after_s(found)
    span = window.end_s - window.closed_s
    settled = settled_s < 0.7 * span
    dense = part.time_s.size >= DENSE_FROM
    start_s = window.closed_s + (settled_s if dense and settled and not window.given else 0.0)
    phases = tuple(p for phase in window.phases for p in _split(phase, window.closed_s, start_s))
    zero = window.zero.offset_pa if window.zero.source == "measured" else 0.0
    near = 0.3 if dense else 1e-9
    at = [
        float(np.mean(part.pressure_pa[np.abs(part.time_s - s) <= max(near, np.abs(part.time_s - s).min())]))
        - zero
        for s in (start_s, window.end_s)
    ]
    hold = Hold(
        window.closed_s,
        start_s,
        window.end_s,
        int(part.time_s.size),
        at[0],
        at[1],
        phases,
        window.zero,
        window.steps,
        window.given,
    )
    return hold, settled or not dense


def _split(phase: Phase, closed_s: float, start_s: float) -> tuple[Phase, ...]:
    if phase.name != "hold" or start_s <= closed_s:
        return (phase,)
    return (Phase("stabilise", closed_s, start_s), Phase("hold", start_s, phase.end_s))


def _settled_after_s(found: Found) -> float:
    """When warm gas and creep have left less than 0.5 % of the start pressure (or twice the noise)."""
    x, model = found.fit.parameters, found.model
    t = np.linspace(0.0, float(model.readings.time_s[-1]), 400)
    left = np.abs(x[START] * x[WARMTH]) * np.exp(-t * math.exp(-x[LOG_TAU]))
    left = left + np.abs(model.creep(t) @ x[CREEP:])
    enough = max(
        0.005 * abs(x[START] - model.ambient_pa), 2.0 * float(np.median(model.readings.sigma_pa)), 50.0
    )
    late = np.flatnonzero(left > enough)
    return 0.0 if late.size == 0 else float(t[late[-1]])


def _assembled(
    recording: Recording,
    part: Recording,
    window: holds.Window,
    hold: Hold,
    settled: bool,
    used: Used,
    fitted: _Fitted,
    settings: Settings,
    warm_range: float | None,
) -> Analysis:
    found, sized = fitted.found, fitted.sized
    circuit = recording.conditions.circuit or "crankcase"
    leak = sized.estimate if sized else None
    zero = window.zero.offset_pa if window.zero.source == "measured" else 0.0
    magnitude = found.model.sign * (part.pressure_pa - zero)
    tau = _exponential(found, hold, zero) if leak is None or leak.detected else None
    limit = settings.limit or practice_limit(circuit, recording.direction)
    evidence = Evidence(
        hold,
        part.time_s,
        magnitude,
        _one_reading_sd(found.model.readings),
        leak,
        found.model if sized else None,
        sized.plausible if sized else (),
        used.temperature_k.value or REFERENCE_TEMPERATURE_K,
        recording.conditions.unit,
    )
    verdict = judge(limit, evidence) if limit else None
    seen = Seen(
        recording,
        window,
        hold,
        used,
        leak,
        fitted.odd,
        fitted.rising_sigmas,
        settled,
        settings.quote_pa,
        _is_fast(found),
        sized is not None,
        found.model.readings.spikes,
        recording.conditions.circuit is not None,
        warm_range,
    )
    t, residual = _residuals(found, window)
    return Analysis(
        recording=recording,
        circuit=circuit,
        direction=recording.direction,
        hold=hold,
        used=used,
        time_constant_s=tau,
        half_life_s=None if tau is None else tau * math.log(2.0),
        leak=leak,
        curve=_curve(found, window) if sized else None,
        residual_time_s=t,
        residual_pa=residual,
        verdict=verdict,
        flags=all_flags(seen),
        plausible=tuple((float(x[RATE]), float(x[1])) for x in sized.plausible) if sized else (),
    )


def _one_reading_sd(readings: Readings) -> float:
    return float(math.hypot(readings.noise_pa, readings.resolution_pa / math.sqrt(12.0)))


def _exponential(found: Found, hold: Hold, zero_pa: float) -> float | None:
    readings = found.model.readings
    after = readings.time_s >= hold.start_s - hold.closed_s - 1e-9
    if after.sum() < 2:
        after[:] = True
    magnitude = found.model.sign * (readings.pressure_pa[after] - zero_pa)
    return time_constant_s(readings.time_s[after], magnitude, readings.sigma_pa[after])


def _is_fast(found: Found) -> bool:
    """The leak's own time is within ten thermal time constants."""
    leak_s = abs(float(found.model.readings.pressure_pa[0])) / max(float(found.fit.parameters[RATE]), 1e-9)
    return leak_s < 10.0 * math.exp(float(found.fit.parameters[LOG_TAU])) and leak_s < 30.0


def _residuals(found: Found, window: holds.Window) -> tuple[Array, Array]:
    readings = found.model.readings
    if not found.fit.converged:
        return np.zeros(0), np.zeros(0)
    return readings.time_s + window.closed_s, -found.fit.residuals[: readings.time_s.size] * readings.sigma_pa


def _curve(found: Found, window: holds.Window) -> Curve:
    """The fit on a fine grid with its 95 % band (linear propagation of the fit's covariance)."""
    fine = np.linspace(0.0, float(found.model.readings.time_s[-1]), 240)
    model = found.model.at_times(fine)
    value, jacobian = model.predict(found.fit.parameters)
    variance = np.einsum("ij,jk,ik->i", jacobian, found.fit.covariance, jacobian)
    half = Z_95 * np.sqrt(np.maximum(variance, 0.0))
    return Curve(fine + window.closed_s, value, value - half, value + half)
