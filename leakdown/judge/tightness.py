"""Does it hold? A hold sized, judged by a limit, and doubted: the order of the steps, and nothing else."""

from __future__ import annotations

import math

import numpy as np

from leakdown.analysis import Analysis, Hold, Limit, Phase, Verdict
from leakdown.errors import UsageError
from leakdown.fit.inputs import ambient_pa, inputs_of
from leakdown.fit.leak import curve, residuals, settled_after_s
from leakdown.fit.least_squares import time_constant_s
from leakdown.fit.model import RATE, SHARE
from leakdown.hold.parts import Parts, parts_of
from leakdown.hold.readings import DENSE_FROM
from leakdown.judge.flags import FlagInputs, all_flags
from leakdown.judge.judged import Judged
from leakdown.judge.loss import half_gone_s
from leakdown.judge.settings import Settings
from leakdown.judge.verdict import frozen_verdict, judge
from leakdown.judge.window_fit import WindowFit, fitted_window
from leakdown.recording import Recording
from leakdown.tuned import tuned

_T = tuned("judge")


def judged_tightness(
    recording: Recording, parts: Parts, limit: Limit | None, settings: Settings, of_leak: bool = True
) -> Judged:
    """Does it hold? The hold sized and judged by `limit`. Raises InputError or UsageError when it cannot be.

    of_leak False: air is meant to pass, so what doubts the size of a leak is no doubt of the result.
    """
    fitted = _fitted(recording, parts, settings)
    return Judged(_analysis(recording, fitted, limit, settings, of_leak), fitted.chosen.found)


def _fitted(recording: Recording, parts: Parts, settings: Settings) -> WindowFit:
    used = inputs_of(recording, settings.discharge_coefficient, parts.resolution)
    if recording.direction == "vacuum" and settings.quote_pa >= _T.vacuum_reach * ambient_pa(used):
        raise UsageError(
            f"no vacuum of {settings.quote_pa / 1e3:g} kPa can be at {ambient_pa(used) / 1e3:.1f} kPa of air",
            remedy="Quote the leak at a pressure that a test can reach, such as 35 kPa.",
        )
    fitted: WindowFit | None = parts.kept.get("hold")
    if fitted is None:
        fitted = parts.kept["hold"] = fitted_window(recording, parts.hold, used, settings)
    return fitted


def analysed_hold(recording: Recording, settings: Settings) -> Judged:
    """A recording that is known to be a hold, such as a rehearsed one. Raises as `judged_tightness`."""
    parts = parts_of(recording, settings.hold_s)
    return judged_tightness(recording, parts, settings.limit_for(recording), settings)


def verdict_of_hold(recording: Recording, settings: Settings) -> Verdict | None:
    """The verdict alone of such a recording, as in `analysed_hold`; None without a limit."""
    limit = settings.limit_for(recording)
    fitted = _fitted(recording, parts_of(recording, settings.hold_s), settings)
    return None if limit is None else _verdict(limit, fitted, _hold(fitted)[0])


def _verdict(limit: Limit, fitted: WindowFit, hold: Hold) -> Verdict:
    return frozen_verdict(limit) if fitted.frozen else judge(limit, fitted, hold)


def _hold(fitted: WindowFit) -> tuple[Hold, bool]:
    """The hold with its settled start, and whether it settled at all."""
    window, part = fitted.window, fitted.part
    found, latest_s = fitted.chosen.found, _T.settled_within * (window.end_s - window.closed_s)
    settled_s = settled_after_s(found)
    if settled_s >= latest_s:  # what may be nothing is not said to settle still
        settled_s = settled_after_s(found, surely=True)
    settled: bool = settled_s < latest_s
    dense = part.time_s.size >= DENSE_FROM
    start_s = window.closed_s + (settled_s if dense and settled and not window.given else 0.0)
    phases = tuple(p for phase in window.phases for p in _split(phase, window.closed_s, start_s))
    near = _T.ends_within_s if dense else 0.0
    start_pa, end_pa = (_near(part, at, near) - fitted.zero_pa for at in (start_s, window.end_s))
    hold = Hold(
        window.closed_s, start_s, window.end_s, int(part.time_s.size), start_pa, end_pa,
        phases, window.zero, window.steps, window.given,
    )  # fmt: skip
    return hold, settled or not dense


def _near(part: Recording, at_s: float, near_s: float) -> float:
    """Mean of the readings near a moment; of the nearest when none is near."""
    away = np.abs(part.time_s - at_s)
    return float(np.mean(part.pressure_pa[away <= max(near_s, float(away.min()))]))


def _split(phase: Phase, closed_s: float, start_s: float) -> tuple[Phase, ...]:
    if phase.name != "hold" or start_s <= closed_s:
        return (phase,)
    return (Phase("stabilise", phase.start_s, start_s), Phase("hold", start_s, phase.end_s))


def _analysis(
    recording: Recording, fitted: WindowFit, limit: Limit | None, settings: Settings, of_leak: bool
) -> Analysis:
    hold, settled = _hold(fitted)
    leak, found, sized = fitted.leak, fitted.chosen.found, fitted.chosen.sized
    tau = _time_constant_s(fitted, hold) if leak is None or leak.detected else None
    verdict = None if limit is None else _verdict(limit, fitted, hold)
    closed_s = fitted.window.closed_s
    t, residual = residuals(found)
    return Analysis(
        recording=recording,
        circuit=recording.circuit,
        direction=recording.direction,
        hold=hold,
        used=fitted.used,
        time_constant_s=tau,
        half_life_s=None if tau is None else tau * math.log(2.0),
        leak=leak,
        curve=curve(found, closed_s) if sized else None,
        residual_time_s=t + closed_s,
        residual_pa=residual,
        residual_count=found.model.readings.count if t.size else None,
        residual_u_pa=found.model.readings.sigma_pa if t.size else None,
        verdict=verdict,
        flags=all_flags(FlagInputs(fitted, hold, settled, settings.quote_pa), of_leak),
        half_gone_s=half_gone_s(fitted) if leak is not None and leak.detected else None,
        plausible=tuple((float(x[RATE]), float(x[SHARE])) for x in sized.plausible) if sized else (),
    )


def _time_constant_s(fitted: WindowFit, hold: Hold) -> float | None:
    """The familiar exponential through the settled hold: least squares, every reading counts alike."""
    model = fitted.chosen.found.model
    after = model.readings.time_s >= hold.start_s - hold.closed_s - 1e-9
    if after.sum() < 2:
        after[:] = True
    magnitude = model.sign * (model.readings.pressure_pa[after] - fitted.zero_pa)
    spread = 1.0 / np.sqrt(model.readings.count[after])
    return time_constant_s(model.readings.time_s[after], magnitude, spread)
