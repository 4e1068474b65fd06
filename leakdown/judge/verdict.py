"""Pass, fail or undecided: the interval of what was seen against the limit (guard band)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from leakdown.analysis import Hold, LeakEstimate, Limit, Verdict, VerdictWord
from leakdown.fit.model import HoldModel
from leakdown.fit.search import HoldFit
from leakdown.judge.limits import WHOSE
from leakdown.physics.balance import NotSolved, settled_pressure
from leakdown.quantities import (
    PRESSURE_PA,
    REFERENCE_TEMPERATURE_K,
    show_pressure,
    standard_cm3_per_min,
)
from leakdown.uncertainty import Z_95, Interval

Array = NDArray[np.float64]


def drop_on_fit(
    found: HoldFit, hold: Hold, zero_pa: float, start_pa: float | None, time_s: float
) -> Interval | None:
    """Loss (Pa) over `time_s` from `start_pa` or the settled start; None where the hold ends first.

    The interval is the fit's covariance carried through both ends and through the moment at which the
    decay passes `start_pa`.
    """
    try:
        return _drop(found, hold, zero_pa, start_pa, time_s)
    except NotSolved:
        return None


def _drop(
    found: HoldFit, hold: Hold, zero_pa: float, start_pa: float | None, time_s: float
) -> Interval | None:
    span = float(found.model.readings.time_s[-1])
    settled = hold.start_s - hold.closed_s
    if start_pa is not None and _starts_near(found, settled, span, zero_pa, start_pa):
        start_pa = None
    begin = settled if start_pa is None else _passes_slowly(found, settled, span, zero_pa, start_pa)
    if begin is None or begin + time_s > span + 1e-6:
        return None
    end = min(begin + time_s, span)
    times = np.array([begin, min(begin + 1e-3 * span, span), end - 1e-3 * span, end, span])
    value, jacobian = found.model.at_times(times).predict(found.fit.parameters)
    size = found.model.sign * (value - zero_pa)
    early, late = size[0] - size[1], size[2] - size[3]
    timing = 1.0 if start_pa is None else late / max(early, 1e-9)
    along = jacobian[3] - timing * jacobian[0]
    half = Z_95 * float(np.sqrt(max(along @ found.fit.covariance @ along, 0.0)))
    drop = float((size[0] if start_pa is None else start_pa) - size[3])
    return Interval(drop, max(drop - half, 0.0), max(drop + half, half))


def _starts_near(found: HoldFit, settled: float, span: float, zero_pa: float, level_pa: float) -> bool:
    """Whether the settled hold starts a little below the level, so that its own start can stand for it."""
    value, _ = found.model.at_times(np.array([settled, span])).predict(found.fit.parameters)
    start = float(found.model.sign * (value[0] - zero_pa))
    return 0.95 * level_pa <= start < level_pa


def _passes_slowly(
    found: HoldFit, settled: float, span: float, zero_pa: float, level_pa: float
) -> float | None:
    """When the fitted decay falls through a gauge magnitude, seconds from the closing of the valve."""
    fine = np.linspace(0.0, span, 400)
    value, _ = found.model.at_times(fine).predict(found.fit.parameters)
    size = found.model.sign * (value - zero_pa)
    inside = fine >= settled - 1e-9
    fine, size = fine[inside], size[inside]
    below = np.flatnonzero(size <= level_pa)
    if size.size < 2 or size[0] < level_pa or below.size == 0:
        return None
    k = max(int(below[0]), 1)
    return float(np.interp(level_pa, [size[k], size[k - 1]], [fine[k], fine[k - 1]]))


_PLAINLY = 0.05  # of the hold's start: nobody calls that nothing
_BEYOND = 1.15  # of the hold's start: a limit's start this far above it was not held


@dataclass(frozen=True)
class VerdictInputs:
    """What a verdict can look at.

    time_s, size_pa: readings, gauge magnitudes with the zero taken off; sigma_pa of one reading.
    model, plausible: the fit and its parameter vectors (best first), or None when there is no estimate;
    found is that fit with its covariance, zero_pa the gauge zero that was taken off. fell_from_pa: the level
    from which the reading fell quickly just before the hold, magnitude.
    temperature_k: of the gas, to state rates at 20 degC.
    """

    hold: Hold
    time_s: Array
    size_pa: Array
    sigma_pa: float
    leak: LeakEstimate | None
    model: HoldModel | None
    plausible: tuple[Array, ...]
    temperature_k: float
    unit: str
    found: HoldFit | None = None
    zero_pa: float = 0.0
    climbing: bool = False
    fell_from_pa: float | None = None


def judge(limit: Limit, evidence: VerdictInputs) -> Verdict:
    """The verdict against one limit. A reading that climbs hides a leak: never a pass."""
    if evidence.climbing:
        return Verdict(
            "undecided",
            limit,
            None,
            "none",
            "The reading moved away from zero, which no leak does.",
            "Let it cool, dry it and repeat: vapour or warming may hide a leak.",
        )
    verdict = _compared(limit, evidence)
    return _above_the_hold(verdict, evidence) if verdict.word == "pass" else verdict


def frozen_verdict(limit: Limit) -> Verdict:
    """Nothing can be said of a hold in which the gauge stood still."""
    why = "The gauge froze: its reading stopped moving altogether, noise included."
    return Verdict("undecided", limit, None, "none", why, "Wake or replace the gauge and repeat the test.")


def _above_the_hold(verdict: Verdict, evidence: VerdictInputs) -> Verdict:
    """A pass at a pressure from which the reading fell before the hold is none: it was never held there."""
    start, held = verdict.limit.start_pa, abs(evidence.hold.start_pa)
    if evidence.fell_from_pa is None or start is None or start < _BEYOND * held:
        return verdict
    fell, level = (show_pressure(p, evidence.unit) for p in (evidence.fell_from_pa, held))
    why = f"It fell from {fell} to {level} before it held; what leaks above that is not known."
    remedy = "Pump up again, shut the valve and see whether it falls at once: then something opens up there."
    return Verdict("undecided", verdict.limit, None, "none", why, remedy)


def _compared(limit: Limit, evidence: VerdictInputs) -> Verdict:
    if limit.kind == "rate":
        return _judge_rate(limit, evidence)
    seen = _drop_read(limit, evidence)
    if seen is not None:
        return _decided(limit, seen, limit.drop_pa, "reading", evidence)
    predicted = _drop_predicted(limit, evidence)
    if predicted is None:
        why = "The hold is too short for this limit and no leak model fits it."
        return Verdict("undecided", limit, None, "none", why, _longer(limit, evidence.unit))
    return _decided(limit, predicted, limit.drop_pa, "model", evidence)


def _judge_rate(limit: Limit, evidence: VerdictInputs) -> Verdict:
    leak = evidence.leak
    if leak is None or leak.throughput_pa_m3_s is None:
        why = "no leak rate without the volume" if leak else "no trustworthy fit"
        return Verdict(
            "undecided",
            limit,
            None,
            "none",
            f"Cannot compare with {limit.text}: {why}.",
            'Give --volume, for example --volume "250 cm3".' if leak else "Repeat the test.",
        )
    measured = leak.throughput_pa_m3_s.scaled(REFERENCE_TEMPERATURE_K / evidence.temperature_k)
    return _decided(limit, measured, limit.rate_pa_m3_s, "model", evidence)


def decided_word(measured: Interval, allowed: float) -> VerdictWord:
    """Guarded acceptance and rejection: a word only when the whole interval is on one side of the limit."""
    return "pass" if measured.high <= allowed else "fail" if measured.low > allowed else "undecided"


def _decided(
    limit: Limit, measured: Interval, allowed: float, basis: str, evidence: VerdictInputs
) -> Verdict:
    word = decided_word(measured, allowed)
    reason = _reason(word, limit, measured, basis, evidence)
    remedy = _remedy(limit, measured, allowed, basis, evidence) if word == "undecided" else ""
    return Verdict(word, limit, measured, basis, reason, remedy)  # type: ignore[arg-type]


def _drop_read(limit: Limit, evidence: VerdictInputs) -> Interval | None:
    """The drop over the limit's time read off the hold, when the hold covers it."""
    if evidence.found is not None:
        return drop_on_fit(evidence.found, evidence.hold, evidence.zero_pa, limit.start_pa, limit.time_s)
    t, size, hold = evidence.time_s, evidence.size_pa, evidence.hold
    begin = hold.start_s if limit.start_pa is None else _passes(t, size, limit.start_pa, hold)
    if begin is None or begin + limit.time_s > hold.end_s + 1e-6:
        return None
    first, u_first = _level(t, size, begin, evidence.sigma_pa)
    last, u_last = _level(t, size, begin + limit.time_s, evidence.sigma_pa)
    start = first if limit.start_pa is None else limit.start_pa
    half = Z_95 * float(np.hypot(u_first, u_last))
    drop = start - last
    return Interval(drop, max(drop - half, 0.0), max(drop + half, half))


def _passes(t: Array, size: Array, level: float, hold: Hold) -> float | None:
    """When the settled hold falls through `level`; None when it starts lower or never gets there."""
    inside = (t >= hold.start_s) & (t <= hold.end_s)
    t, size = t[inside], size[inside]
    if t.size < 2 or size[0] < level:
        return None
    below = np.flatnonzero(size < level)
    if below.size == 0:
        return None
    k = int(below[0])
    share = (size[k - 1] - level) / max(size[k - 1] - size[k], 1e-12)
    return float(t[k - 1] + share * (t[k] - t[k - 1]))


def _level(t: Array, size: Array, at_s: float, sigma_pa: float) -> tuple[float, float]:
    """Pressure at a moment and its standard deviation: a line through the readings within a second of it."""
    near = np.abs(t - at_s) <= 1.0
    if near.sum() >= 6:
        line = np.polyfit(t[near] - at_s, size[near], 1)
        return float(line[1]), max(sigma_pa / float(np.sqrt(near.sum())), 0.3 * sigma_pa)
    return float(np.interp(at_s, t, size)), sigma_pa


def _drop_predicted(limit: Limit, evidence: VerdictInputs) -> Interval | None:
    """The drop over the limit's time that the model and its doubt allow."""
    if evidence.model is None or evidence.leak is None or not evidence.plausible:
        return None
    start = abs(evidence.hold.start_pa) if limit.start_pa is None else limit.start_pa
    drops = [_model_drop(evidence.model, x, start, limit.time_s) for x in evidence.plausible]
    low = min(drops) if evidence.leak.detected else 0.0
    return Interval(drops[0] if evidence.leak.detected else None, low, max(drops))


def _model_drop(model: HoldModel, x: Array, start_pa: float, time_s: float) -> float:
    opened = model.ambient_pa + model.sign * start_pa
    end = settled_pressure(np.array([time_s]), model.leak(x), model.inward, opened)[0]
    return float(start_pa - abs(end - model.ambient_pa))


def _reason(word: str, limit: Limit, measured: Interval, basis: str, evidence: VerdictInputs) -> str:
    against = {"pass": "within", "fail": "over", "undecided": "on both sides of"}[word]
    more = "; the maker's figure wins" if limit.source == "practice" else ""
    whose = "" if limit.source == "given" else f" ({WHOSE[limit.source]}{more})"
    what = f"{against} the limit of {limit.text}{_in_own_unit(limit, evidence.unit)}{whose}."
    if limit.kind == "rate":
        low, high, allowed = (
            standard_cm3_per_min(q) for q in (measured.low, measured.high, limit.rate_pa_m3_s)
        )
        seen, unit, how = "No leak seen", "cm3/min", "(20 degC, 101.325 kPa)"
    else:
        low, high, allowed = (
            p / PRESSURE_PA[evidence.unit] for p in (measured.low, measured.high, limit.drop_pa)
        )
        seen, unit = "Nothing lost", evidence.unit
        how = f"lost, {'read over' if basis == 'reading' else 'reckoned for'} {limit.time_s:g} s"
    unseen = measured.value is None or measured.low <= 0.0
    lost = abs(evidence.hold.start_pa) - abs(evidence.hold.end_pa)
    plainly = lost > _PLAINLY * abs(evidence.hold.start_pa)
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


def _remedy(limit: Limit, measured: Interval, allowed: float, basis: str, evidence: VerdictInputs) -> str:
    """What would decide it."""
    if limit.kind == "drop" and basis == "model":
        return _longer(limit, evidence.unit)
    if limit.kind == "rate" and measured.value is not None and measured.low < allowed < measured.high:
        return "A longer hold, a finer gauge or a better known volume would decide it."
    return "A longer hold, a finer gauge or less dead volume would decide it; repeat the test."


def _longer(limit: Limit, unit: str) -> str:
    start = f" after passing {show_pressure(limit.start_pa, unit)}" if limit.start_pa else ""
    return f"Hold for at least {limit.time_s:g} s{start}, so that the limit can be read off the gauge."
