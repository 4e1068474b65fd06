"""Pass, fail or undecided: the interval of what was seen against the limit (guard band)."""

from __future__ import annotations

import math
from dataclasses import replace

from leakdown.analysis import Hold, Limit, Verdict
from leakdown.fit.inputs import temperature_k
from leakdown.judge.limits import WHOSE, decided_word
from leakdown.judge.loss import Loss, plainly_over, settled_loss
from leakdown.judge.window_fit import WindowFit
from leakdown.quantities import PRESSURE_PA, REFERENCE_TEMPERATURE_K, show_pressure, standard_cm3_per_min
from leakdown.recording import Recording
from leakdown.tuned import tuned
from leakdown.uncertainty import Interval

_T = tuned("judge")


def judge(limit: Limit, fitted: WindowFit, hold: Hold) -> Verdict:
    """The verdict against one limit. A reading that climbs hides a leak: never a pass."""
    if fitted.climbs:
        why = "The reading moved away from zero, which no leak does."
        return _undecided(limit, why, "Let it cool, dry it and repeat: vapour or warming may hide a leak.")
    cooling = (fitted.warmed_k or 0.0) / max(hold.end_s - hold.closed_s, 1e-9) * 60.0
    if cooling > _T.too_warm_k_per_min:
        why = f"The temperature moved by {cooling:.1f} K a minute: that hides a leak, or looks like one."
        return _undecided(limit, why, "Let it come to room temperature (an engine that just ran: an hour), and repeat.")
    verdict = _compared(limit, fitted, hold)
    if verdict.word != "fail":
        verdict = _from_the_valve_on(verdict, fitted, hold)
    return _above_the_hold(verdict, fitted, hold) if verdict.word == "pass" else verdict


def _undecided(limit: Limit, why: str, remedy: str) -> Verdict:
    return Verdict("undecided", limit, None, "none", why, remedy)


def frozen_verdict(limit: Limit) -> Verdict:
    """Nothing can be said of a hold in which the gauge stood still."""
    why = "The gauge froze: its reading stopped moving altogether, noise included."
    return _undecided(limit, why, "Wake or replace the gauge and repeat the test.")


def _from_the_valve_on(verdict: Verdict, fitted: WindowFit, hold: Hold) -> Verdict:
    """A loss that counts from no stated pressure counts from where the valve was shut, if it fell since.

    The law of the leak says what it loses from there. Over the limit is that only where as much had gone by the
    watch's start: some of it may have been let out.
    """
    limit, shut_pa = verdict.limit, abs(fitted.recording.conditions.shut_pa or 0.0)
    if limit.kind != "drop" or limit.start_pa is not None or shut_pa <= _T.fell_before_watch * abs(hold.start_pa):
        return verdict
    lost = settled_loss(replace(limit, start_pa=shut_pa), fitted, hold)
    word = "undecided" if lost is None else decided_word(lost.measured, limit.drop_pa)
    if word == "pass" or lost is None:
        return verdict if word == "pass" else _fell_before(verdict, fitted, hold, shut_pa)
    if word == "undecided" or _lost_before_the_watch_from_pa(limit, fitted.recording, abs(hold.start_pa)) is None:
        return _fell_before(verdict, fitted, hold, shut_pa)
    failed = _decided_loss(limit, lost, fitted, hold)
    since = f"That counts from {show_pressure(shut_pa, _unit(fitted))}, where the valve was shut."
    return replace(failed, reason=f"{failed.reason} {since}")


def _above_the_hold(verdict: Verdict, fitted: WindowFit, hold: Hold) -> Verdict:
    """A pass at a pressure from which the reading fell before the hold is none: it was never held there."""
    start, held, fell_from = verdict.limit.start_pa, abs(hold.start_pa), fitted.window.fell_from_pa
    below = fell_from is not None and start is not None and start >= _T.beyond_hold * held
    fell_from = fell_from if below else _lost_before_the_watch_from_pa(verdict.limit, fitted.recording, held)
    return verdict if fell_from is None else _fell_before(verdict, fitted, hold, fell_from)


def _fell_before(verdict: Verdict, fitted: WindowFit, hold: Hold, from_pa: float) -> Verdict:
    fell, level = (show_pressure(p, _unit(fitted)) for p in (from_pa, abs(hold.start_pa)))
    why = f"It fell from {fell} to {level} before it held; what leaks above that is not known."
    remedy = "Pump up again, shut the valve and see whether it falls at once: then something opens up there."
    return _undecided(verdict.limit, why, remedy)


def _lost_before_the_watch_from_pa(limit: Limit, recording: Recording, held_pa: float) -> float | None:
    """The magnitude at which the valve was shut, where by the watch's start more was lost than the limit allows.

    A leak at the limit takes the same share of what is left in each of the limit's times. Warm gas alone gives
    back less than `fell_before_watch` says.
    """
    told = recording.conditions
    shut_pa, waited_s = abs(told.shut_pa or 0.0), told.waited_s or 0.0
    if limit.kind != "drop" or shut_pa <= _T.fell_before_watch * held_pa:
        return None
    left = max(1.0 - limit.drop_pa / shut_pa, 0.0) ** max(waited_s / limit.time_s, 1.0)
    return shut_pa if held_pa < left * shut_pa else None


def _unit(fitted: WindowFit) -> str:
    return fitted.recording.conditions.show_unit


def _compared(limit: Limit, fitted: WindowFit, hold: Hold) -> Verdict:
    if limit.kind == "rate":
        return _judge_rate(limit, fitted, hold)
    fallen = plainly_over(limit, fitted)
    if fallen is not None:
        return _decided_loss(limit, fallen, fitted, hold)
    lost = settled_loss(limit, fitted, hold)
    if lost is None:
        why = "The hold is too short for this limit and no leak model fits it."
        return _undecided(limit, why, _longer(limit, _unit(fitted)))
    verdict = _decided_loss(limit, lost, fitted, hold)
    odd = fitted.chosen.odd
    if verdict.word == "pass" and lost.basis == "model" and odd is not None and odd.name != "step":
        why = "What was read does not reach over the limit's time, and it does not fall as a plain leak does."
        return _undecided(limit, why, _longer(limit, _unit(fitted)))
    return verdict


def _judge_rate(limit: Limit, fitted: WindowFit, hold: Hold) -> Verdict:
    leak = fitted.leak
    if leak is None or leak.throughput_pa_m3_s is None:
        why = "no leak rate without the volume" if leak else "no trustworthy fit"
        remedy = 'Give --volume, for example --volume "250 cm3".' if leak else "Repeat the test."
        return _undecided(limit, f"Cannot compare with {limit.text}: {why}.", remedy)
    measured = leak.throughput_pa_m3_s.scaled(REFERENCE_TEMPERATURE_K / temperature_k(fitted.used))
    return _decided(limit, measured, "model", fitted, hold)


def _decided_loss(limit: Limit, lost: Loss, fitted: WindowFit, hold: Hold) -> Verdict:
    verdict = _decided(limit, lost.measured, lost.basis, fitted, hold)
    from_s = None if lost.from_s is None else hold.closed_s + lost.from_s
    return replace(verdict, from_s=from_s, from_pa=None if from_s is None else lost.from_pa)


def _decided(limit: Limit, measured: Interval, basis: str, fitted: WindowFit, hold: Hold) -> Verdict:
    word = decided_word(measured, _allowed(limit))
    reason = _reason(word, limit, measured, basis, _unit(fitted), hold)
    remedy = _remedy(limit, measured, basis, _unit(fitted)) if word == "undecided" else ""
    return Verdict(word, limit, measured, basis, reason, remedy)  # type: ignore[arg-type]


def _allowed(limit: Limit) -> float:
    return limit.drop_pa if limit.kind == "drop" else limit.rate_pa_m3_s


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
