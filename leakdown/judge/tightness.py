"""Does it hold? A hold sized, judged by a limit, and doubted: the order of the steps, and nothing else."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Analysis, Hold, Limit, Phase, Used, Verdict
from leakdown.errors import InputError, UsageError
from leakdown.fit.choose import ChosenFit as Chosen
from leakdown.fit.choose import choose, widened_by
from leakdown.fit.inputs import (
    ambient_pa,
    inputs_of,
    priors_of,
    temperature_corrected,
    temperature_k,
    zero_corrected,
)
from leakdown.fit.leak import Vessel, curve, residuals, settled_after_s
from leakdown.fit.least_squares import time_constant_s
from leakdown.fit.model import LOG_TAU, RATE, SHARE, HoldModel
from leakdown.fit.search import HoldFit
from leakdown.hold.parts import Parts, parts_of
from leakdown.hold.readings import DENSE_FROM, Readings, prepare
from leakdown.hold.window import Window, before_mark, longer_side, with_fall_before
from leakdown.judge.flags import all_flags
from leakdown.judge.gauge_flags import FlagInputs
from leakdown.judge.settings import Settings
from leakdown.judge.verdict import VerdictInputs, frozen_verdict, judge
from leakdown.recording import Recording

Array = NDArray[np.float64]

_HIGH_PLACE_PA = 84_500.0  # standard atmosphere at 1500 m: how far an unknown barometer may be from sea level


@dataclass(frozen=True)
class Judged:
    """What a judge says of a recording, and the fit of the hold that it rests on (None: no hold)."""

    analysis: Analysis
    fit: HoldFit | None


@dataclass(frozen=True)
class _Look:
    """One look at one window of the recording."""

    window: Window
    part: Recording
    used: Used
    warmed_k: float | None
    chosen: Chosen


def judged_tightness(
    recording: Recording, parts: Parts, limit: Limit | None, settings: Settings, of_leak: bool = True
) -> Judged:
    """Does it hold? The hold sized and judged by `limit`. Raises InputError or UsageError when it cannot be.

    of_leak False: air is meant to pass, so what doubts the size of a leak is no doubt of the result.
    """
    used = inputs_of(recording, settings.discharge_coefficient, parts.resolution)
    if recording.direction == "vacuum" and settings.quote_pa >= 0.98 * ambient_pa(used):
        raise UsageError(
            f"no vacuum of {settings.quote_pa / 1e3:g} kPa can be at {ambient_pa(used) / 1e3:.1f} kPa of air",
            remedy="Quote the leak at a pressure that a test can reach, such as 35 kPa.",
        )
    look = _last_look(recording, parts.hold, used, settings)
    return Judged(_assembled(recording, look, limit, settings, of_leak), look.chosen.found)


def analysed_hold(recording: Recording, settings: Settings) -> Judged:
    """A recording that is known to be a hold, such as a rehearsed one. Raises as `judged_tightness`."""
    parts = parts_of(recording, settings.hold_s)
    return judged_tightness(recording, parts, settings.limit_for(recording), settings)


def _last_look(recording: Recording, window: Window, used: Used, settings: Settings) -> _Look:
    """The window as found, cut at the first mark that changed the leak, or at steps that only a fit shows."""
    look = _look(window, used, settings)
    found_state = before_mark(window, recording.marks) if look.chosen.odd is not None else None
    if found_state is not None:  # something done at a mark changed the leak: size it as it was found
        look = _look(found_state, used, settings)
    for _ in range(2):  # a step that only the residuals show: use the longer side of it
        odd = look.chosen.odd
        if odd is None or odd.name != "step" or look.part.time_s.size < DENSE_FROM:
            break
        look = _look(longer_side(look.window, look.part, odd.time_s, odd.size), used, settings)
    return look


def _look(window: Window, used: Used, settings: Settings) -> _Look:
    recording = window.recording
    window = with_fall_before(window, recording)
    steady = zero_corrected(recording, window)
    part, warmed = temperature_corrected(steady.between(window.closed_s, window.end_s), used)
    if part.time_s.size < 2:
        raise InputError(
            "the hold contains fewer than two readings",
            where=recording.source,
            remedy="Give --hold START..END, or take more readings with the valve shut.",
        )
    resolution = used.resolution_pa.value or 0.0
    readings = prepare(part.time_s - window.closed_s, part.pressure_pa, resolution, recording.by_hand)
    used = replace(used, noise_pa=readings.noise_pa)
    vessel = Vessel(
        used.volume_m3.value, used.volume_u_m3.value, temperature_k(used), settings.discharge_coefficient
    )

    def chosen(ambient: float, near: Chosen | None = None) -> Chosen:
        priors = priors_of(readings, window, used)
        inward = recording.direction == "vacuum"
        model = HoldModel(readings, ambient, inward, settings.quote_pa, priors)
        return choose(model, settings.quote_pa, vessel, near)

    found = chosen(ambient_pa(used))
    if used.barometer_pa.source == "assumed" and float(part.pressure_pa.min()) > -0.95 * _HIGH_PLACE_PA:
        found = widened_by(found, chosen(_HIGH_PLACE_PA, found))
    if _frozen_within(window):
        found = replace(found, odd=None, sized=None)
    return _Look(window, part, used, warmed, found)


def _frozen_within(window: Window) -> bool:
    """The gauge stood still inside the hold: what it shows is no pressure."""
    return window.frozen_s is not None and window.frozen_s[0] < window.end_s - 1e-6


def _hold(look: _Look) -> tuple[Hold, bool]:
    """The hold with its settled start, and whether it settled at all."""
    window, part = look.window, look.part
    settled_s = settled_after_s(look.chosen.found)
    settled = settled_s < 0.7 * (window.end_s - window.closed_s)
    dense = part.time_s.size >= DENSE_FROM
    start_s = window.closed_s + (settled_s if dense and settled and not window.given else 0.0)
    phases = tuple(p for phase in window.phases for p in _split(phase, window.closed_s, start_s))
    near = 0.3 if dense else 0.0
    ends = []
    for at in (start_s, window.end_s):
        away = np.abs(part.time_s - at)
        ends.append(
            float(np.mean(part.pressure_pa[away <= max(near, float(away.min()))])) - window.zero.known_pa
        )
    hold = Hold(
        window.closed_s,
        start_s,
        window.end_s,
        int(part.time_s.size),
        ends[0],
        ends[1],
        phases,
        window.zero,
        window.steps,
        window.given,
    )
    return hold, settled or not dense


def _split(phase: Phase, closed_s: float, start_s: float) -> tuple[Phase, ...]:
    if phase.name != "hold" or start_s <= closed_s:
        return (phase,)
    return (Phase("stabilise", phase.start_s, start_s), Phase("hold", start_s, phase.end_s))


def _assembled(
    recording: Recording, look: _Look, limit: Limit | None, settings: Settings, of_leak: bool
) -> Analysis:
    chosen = look.chosen
    hold, settled = _hold(look)
    sized = chosen.sized
    leak = sized.estimate if sized else None
    tau = _exponential(chosen.found, hold, look.window) if leak is None or leak.detected else None
    verdict = None if limit is None else _verdict(recording, look, hold, limit)
    if verdict is not None and _frozen_within(look.window):
        verdict = frozen_verdict(verdict.limit)
    seen = FlagInputs(
        recording,
        look.window,
        hold,
        look.used,
        leak,
        chosen.odd,
        chosen.rising_sigmas,
        settled,
        settings.quote_pa,
        _is_fast(chosen.found),
        sized is not None,
        look.window.spikes,
        recording.conditions.circuit is not None,
        look.warmed_k,
        verdict,
    )
    t, residual = residuals(chosen.found)
    return Analysis(
        recording=recording,
        circuit=recording.circuit,
        direction=recording.direction,
        hold=hold,
        used=look.used,
        time_constant_s=tau,
        half_life_s=None if tau is None else tau * math.log(2.0),
        leak=leak,
        curve=curve(chosen.found, look.window.closed_s) if sized else None,
        residual_time_s=t + look.window.closed_s,
        residual_pa=residual,
        verdict=verdict,
        flags=all_flags(seen, of_leak),
        plausible=tuple((float(x[RATE]), float(x[SHARE])) for x in sized.plausible) if sized else (),
    )


def _verdict(recording: Recording, look: _Look, hold: Hold, limit: Limit) -> Verdict:
    chosen, sized = look.chosen, look.chosen.sized
    magnitude = chosen.found.model.sign * (look.part.pressure_pa - look.window.zero.known_pa)
    evidence = VerdictInputs(
        hold,
        look.part.time_s,
        magnitude,
        _one_reading_sd(chosen.found.model.readings),
        sized.estimate if sized else None,
        chosen.found.model if sized else None,
        sized.plausible if sized else (),
        temperature_k(look.used),
        recording.conditions.show_unit,
        found=chosen.found if sized else None,
        zero_pa=look.window.zero.known_pa,
        climbing=chosen.rising_sigmas > 4.0,
        fell_from_pa=look.window.fell_from_pa,
    )
    return judge(limit, evidence)


def _one_reading_sd(readings: Readings) -> float:
    return float(math.hypot(readings.noise_pa, readings.resolution_pa / math.sqrt(12.0)))


def _exponential(found: HoldFit, hold: Hold, window: Window) -> float | None:
    readings = found.model.readings
    after = readings.time_s >= hold.start_s - hold.closed_s - 1e-9
    if after.sum() < 2:
        after[:] = True
    magnitude = found.model.sign * (readings.pressure_pa[after] - window.zero.known_pa)
    spread = 1.0 / np.sqrt(readings.count[after])  # every reading counts alike: the familiar least squares
    return time_constant_s(readings.time_s[after], magnitude, spread)


def _is_fast(found: HoldFit) -> bool:
    """The leak's own time is within ten thermal time constants."""
    leak_s = abs(float(found.model.readings.pressure_pa[0])) / max(float(found.fit.parameters[RATE]), 1e-9)
    return leak_s < 10.0 * math.exp(float(found.fit.parameters[LOG_TAU])) and leak_s < 30.0
