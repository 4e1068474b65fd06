"""Pass, fail or undecided: the interval of what was seen against the limit (guard band)."""

from __future__ import annotations

import math

import numpy as np

from leakdown.analysis import Array, Hold, Limit, Verdict
from leakdown.fit.inputs import temperature_k
from leakdown.fit.model import HoldModel
from leakdown.judge.limits import WHOSE, decided_word
from leakdown.judge.window_fit import WindowFit
from leakdown.physics.balance import NotSolved, settled_pressure
from leakdown.quantities import PRESSURE_PA, REFERENCE_TEMPERATURE_K, show_pressure, standard_cm3_per_min
from leakdown.tuned import tuned
from leakdown.uncertainty import Z_95, Interval

_T = tuned("judge")


def judge(limit: Limit, fitted: WindowFit, hold: Hold) -> Verdict:
    """The verdict against one limit. A reading that climbs hides a leak: never a pass."""
    if fitted.climbs:
        why = "The reading moved away from zero, which no leak does."
        return _undecided(limit, why, "Let it cool, dry it and repeat: vapour or warming may hide a leak.")
    verdict = _compared(limit, fitted, hold)
    return _above_the_hold(verdict, fitted, hold) if verdict.word == "pass" else verdict


def _undecided(limit: Limit, why: str, remedy: str) -> Verdict:
    return Verdict("undecided", limit, None, "none", why, remedy)


def frozen_verdict(limit: Limit) -> Verdict:
    """Nothing can be said of a hold in which the gauge stood still."""
    why = "The gauge froze: its reading stopped moving altogether, noise included."
    return _undecided(limit, why, "Wake or replace the gauge and repeat the test.")


def _above_the_hold(verdict: Verdict, fitted: WindowFit, hold: Hold) -> Verdict:
    """A pass at a pressure from which the reading fell before the hold is none: it was never held there."""
    start, held, fell_from = verdict.limit.start_pa, abs(hold.start_pa), fitted.window.fell_from_pa
    if fell_from is None or start is None or start < _T.beyond_hold * held:
        return verdict
    fell, level = (show_pressure(p, _unit(fitted)) for p in (fell_from, held))
    why = f"It fell from {fell} to {level} before it held; what leaks above that is not known."
    remedy = "Pump up again, shut the valve and see whether it falls at once: then something opens up there."
    return _undecided(verdict.limit, why, remedy)


def _unit(fitted: WindowFit) -> str:
    return fitted.recording.conditions.show_unit


def _compared(limit: Limit, fitted: WindowFit, hold: Hold) -> Verdict:
    if limit.kind == "rate":
        return _judge_rate(limit, fitted, hold)
    seen = _drop_read(limit, fitted, hold)
    if seen is not None:
        return _decided(limit, seen, "reading", fitted, hold)
    predicted = _drop_predicted(limit, fitted, hold)
    if predicted is None:
        why = "The hold is too short for this limit and no leak model fits it."
        return _undecided(limit, why, _longer(limit, _unit(fitted)))
    return _decided(limit, predicted, "model", fitted, hold)


def _judge_rate(limit: Limit, fitted: WindowFit, hold: Hold) -> Verdict:
    leak = fitted.leak
    if leak is None or leak.throughput_pa_m3_s is None:
        why = "no leak rate without the volume" if leak else "no trustworthy fit"
        remedy = 'Give --volume, for example --volume "250 cm3".' if leak else "Repeat the test."
        return _undecided(limit, f"Cannot compare with {limit.text}: {why}.", remedy)
    measured = leak.throughput_pa_m3_s.scaled(REFERENCE_TEMPERATURE_K / temperature_k(fitted.used))
    return _decided(limit, measured, "model", fitted, hold)


def _decided(limit: Limit, measured: Interval, basis: str, fitted: WindowFit, hold: Hold) -> Verdict:
    word = decided_word(measured, _allowed(limit))
    reason = _reason(word, limit, measured, basis, _unit(fitted), hold)
    remedy = _remedy(limit, measured, basis, _unit(fitted)) if word == "undecided" else ""
    return Verdict(word, limit, measured, basis, reason, remedy)  # type: ignore[arg-type]


def _allowed(limit: Limit) -> float:
    return limit.drop_pa if limit.kind == "drop" else limit.rate_pa_m3_s


def _drop_read(limit: Limit, fitted: WindowFit, hold: Hold) -> Interval | None:
    """The drop over the limit's time read off the hold, when the hold covers it."""
    if fitted.leak is not None:
        try:
            return _drop_on_fit(fitted, hold, limit.start_pa, limit.time_s)
        except NotSolved:
            return None
    t, size = fitted.part.time_s, fitted.size_pa
    inside = (t >= hold.start_s) & (t <= hold.end_s)
    begin = hold.start_s if limit.start_pa is None else _passes(t[inside], size[inside], limit.start_pa)
    if begin is None or begin + limit.time_s > hold.end_s + 1e-6:
        return None
    readings = fitted.chosen.found.model.readings
    sigma_pa = math.hypot(readings.noise_pa, readings.resolution_pa / math.sqrt(12.0))
    first, u_first = _level(t, size, begin, sigma_pa)
    last, u_last = _level(t, size, begin + limit.time_s, sigma_pa)
    start = first if limit.start_pa is None else limit.start_pa
    half = Z_95 * float(np.hypot(u_first, u_last))
    drop = start - last
    return Interval(drop, max(drop - half, 0.0), max(drop + half, half))


def _drop_on_fit(fitted: WindowFit, hold: Hold, start_pa: float | None, time_s: float) -> Interval | None:
    """Loss (Pa) over `time_s` from `start_pa` or the settled start; None where the hold ends first.

    The interval is the fit's covariance carried through both ends and through the moment at which the
    decay passes `start_pa`.
    """
    found = fitted.chosen.found
    span = float(found.model.readings.time_s[-1])
    settled = hold.start_s - hold.closed_s
    fine = np.linspace(0.0, span, 400)
    if start_pa is not None:
        start = float(_fitted_size(fitted, np.array([settled, span]))[0])
        if _T.starts_near * start_pa <= start < start_pa:  # its own start can stand for the level
            start_pa = None
    begin: float | None = settled
    if start_pa is not None:
        inside = fine >= settled - 1e-9
        begin = _passes(fine[inside], _fitted_size(fitted, fine)[inside], start_pa)
    if begin is None or begin + time_s > span + 1e-6:
        return None
    end = min(begin + time_s, span)
    times = np.array([begin, min(begin + 1e-3 * span, span), end - 1e-3 * span, end, span])
    value, jacobian = found.model.at_times(times).predict(found.fit.parameters)
    size = found.model.sign * (value - fitted.zero_pa)
    early, late = size[0] - size[1], size[2] - size[3]
    timing = 1.0 if start_pa is None else late / max(early, 1e-9)
    along = jacobian[3] - timing * jacobian[0]
    half = Z_95 * float(np.sqrt(max(along @ found.fit.covariance @ along, 0.0)))
    drop = float((size[0] if start_pa is None else start_pa) - size[3])
    return Interval(drop, max(drop - half, 0.0), max(drop + half, half))


def _fitted_size(fitted: WindowFit, time_s: Array) -> Array:
    """Magnitudes of the fitted decay at times from the closing of the valve, the zero taken off."""
    found = fitted.chosen.found
    value, _ = found.model.at_times(time_s).predict(found.fit.parameters)
    size: Array = found.model.sign * (value - fitted.zero_pa)
    return size


def _passes(t: Array, size: Array, level_pa: float) -> float | None:
    """When a settled hold falls through a gauge magnitude; None when it starts lower or never gets there."""
    below = np.flatnonzero(size < level_pa)
    if size.size < 2 or size[0] < level_pa or below.size == 0:
        return None
    k = int(below[0])
    return float(np.interp(level_pa, [size[k], size[k - 1]], [t[k], t[k - 1]]))


def _level(t: Array, size: Array, at_s: float, sigma_pa: float) -> tuple[float, float]:
    """Pressure at a moment and its standard deviation: a line through the readings within a second of it."""
    near = np.abs(t - at_s) <= _T.level_within_s
    if near.sum() >= _T.level_readings:
        line = np.polyfit(t[near] - at_s, size[near], 1)
        return float(line[1]), max(sigma_pa / float(np.sqrt(near.sum())), _T.level_least * sigma_pa)
    return float(np.interp(at_s, t, size)), sigma_pa


def _drop_predicted(limit: Limit, fitted: WindowFit, hold: Hold) -> Interval | None:
    """The drop over the limit's time that the model and its doubt allow."""
    sized = fitted.chosen.sized
    if sized is None or not sized.plausible:
        return None
    model, seen = fitted.chosen.found.model, sized.estimate.detected
    start = abs(hold.start_pa) if limit.start_pa is None else limit.start_pa
    drops = [_model_drop(model, x, start, limit.time_s) for x in sized.plausible]
    return Interval(drops[0] if seen else None, min(drops) if seen else 0.0, max(drops))


def _model_drop(model: HoldModel, x: Array, start_pa: float, time_s: float) -> float:
    opened = model.ambient_pa + model.sign * start_pa
    end = settled_pressure(np.array([time_s]), model.leak(x), model.inward, opened)[0]
    return float(start_pa - abs(end - model.ambient_pa))


def _reason(word: str, limit: Limit, measured: Interval, basis: str, unit: str, hold: Hold) -> str:
    against = {"pass": "within", "fail": "over", "undecided": "on both sides of"}[word]
    more = "; the maker's figure wins" if limit.source == "practice" else ""
    whose = "" if limit.source == "given" else f" ({WHOSE[limit.source]}{more})"
    what = f"{against} the limit of {limit.text}{_in_own_unit(limit, unit)}{whose}."
    figures = (measured.low, measured.high, _allowed(limit))
    if limit.kind == "rate":
        low, high, allowed = (standard_cm3_per_min(q) for q in figures)
        seen, unit, how = "No leak seen", "cm3/min", "(20 degC, 101.325 kPa)"
    else:
        low, high, allowed = (p / PRESSURE_PA[unit] for p in figures)
        seen = "Nothing lost"
        how = f"lost, {'read over' if basis == 'reading' else 'reckoned for'} {limit.time_s:g} s"
    unseen = measured.value is None or measured.low <= 0.0
    plainly = abs(hold.start_pa) - abs(hold.end_pa) > _T.plainly_lost * abs(hold.start_pa)
    if unseen and word == "pass" and not plainly:  # how small a leak would have shown is said with its size
        return f"{seen} for certain: {what}"
    span = f"Up to {_span(high, high, allowed)}" if unseen else _span(low, high, allowed)
    return f"{span} {unit} {how}: {what}"


def _in_own_unit(limit: Limit, unit: str) -> str:
    """The limit once more in the gauge's unit, where it is stated in another."""
    if limit.kind == "rate" or unit in limit.text:
        return ""
    start = f" from {show_pressure(limit.start_pa, unit)}" if limit.start_pa else ""
    return f" ({show_pressure(limit.drop_pa, unit)}{start})"


def _span(low: float, high: float, allowed: float) -> str:
    """Both ends to two figures of their doubt, three of the larger end and of the limit at most.

    One number where they are alike; more digits only where rounding would move an end across the limit.
    """
    figures = ((2, high), (2, allowed), (1, 0.5 * (high - low)))
    places = min((n - math.floor(math.log10(size)) for n, size in figures if size > 0.0), default=0)
    while places < 9 and any((round(end, places) > allowed) != (end > allowed) for end in (low, high)):
        places += 1
    first, last = (f"{round(end, places):.{max(places, 0)}f}" for end in (low, high))
    if not last.strip("0."):
        return f"Less than {10.0**-places:.{max(places, 0)}f}"
    first = first if first.strip("0.") else "0"
    return last if first == last else f"{first} to {last}"


def _remedy(limit: Limit, measured: Interval, basis: str, unit: str) -> str:
    """What would decide it."""
    if limit.kind == "drop" and basis == "model":
        return _longer(limit, unit)
    if limit.kind == "rate" and measured.value is not None and measured.low < _allowed(limit) < measured.high:
        return "A longer hold, a finer gauge or a better known volume would decide it."
    return "A longer hold, a finer gauge or less dead volume would decide it; repeat the test."


def _longer(limit: Limit, unit: str) -> str:
    start = f" after passing {show_pressure(limit.start_pa, unit)}" if limit.start_pa else ""
    return f"Hold for at least {limit.time_s:g} s{start}, so that the limit can be read off the gauge."
