"""Results -> the JSON objects of `--json`. Every number is finite; what is unknown is None."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from leakdown.analysis import (
    Analysis,
    Finding,
    Flag,
    KnownLeak,
    LeakEstimate,
    MarkEffect,
    Quantity,
    RigSeen,
    Used,
    Verdict,
)
from leakdown.circuits import DIRECTIONS
from leakdown.judge.known_leak import agrees, ratio_of
from leakdown.recording import Conditions
from leakdown.uncertainty import Interval
from leakdown.where.located import Change, Complaint, Located, MarkOutcome, NextTest, Ratio, SectionShare, TestVerdict

CONFIDENCE = 0.95


def analysis_object(analysis: Analysis) -> dict[str, Any]:
    """Plain dicts, lists, text, numbers and None. Magnitudes positive in both directions, gauge signed."""
    leak, verdict = analysis.leak, analysis.verdict
    return {
        "file": analysis.recording.source,
        "circuit": analysis.circuit,
        "direction": analysis.direction,
        "hold": _hold(analysis),
        "start_pressure_kpa": _number(analysis.hold.start_pa, 1e-3),
        "end_pressure_kpa": _number(analysis.hold.end_pa, 1e-3),
        "exponential": _numbers(analysis, "time_constant_s", "half_life_s"),
        "half_gone_s": _number(analysis.half_gone_s),
        "leak_rate": _leak_rate(leak),
        "loss_kpa_per_min": interval_object(leak.rate_pa_s if leak else None, 60e-3),
        "equivalent_hole_mm": interval_object(leak.hole_m if leak else None, 1e3),
        "viscous_share": interval_object(leak.viscous_share if leak else None),
        "detected": leak.detected if leak else None,
        "detection_limit_kpa_per_min": _number(leak.detection_rate_pa_s if leak else None, 60e-3),
        "opening_pressure_kpa": _number(leak.opening_pa if leak else None, 1e-3),
        "growth_per_min": _number(leak.growth_per_min if leak else None),
        "limit": _limit(verdict),
        "verdict": verdict.word if verdict else "undecided",
        "verdict_detail": _verdict_detail(verdict),
        "marks": [_effect(mark) for mark in analysis.marks],
        "findings": [_finding(finding) for finding in analysis.findings],
        "warnings": flag_objects(analysis.flags),
        "used": _used(analysis.used),
        "rig": rig_object_of(analysis.rig),
        "before_watch": _before_watch(analysis.recording.conditions),
        "remarks": list(analysis.recording.remarks),
    }


def _before_watch(c: Conditions) -> dict[str, Any]:
    """What was done between the first closing of the valve and time zero; None is not said."""
    said = {"topped_up": c.topped_up, "pump_off": c.pump_off}
    return {"valve_shut_at_kpa": _number(c.shut_pa, 1e-3), "waited_s": _number(c.waited_s), **said}


def _numbers(record: object, *names: str) -> dict[str, float | None]:
    """Numbers of a record by their names; pressures come in Pa and go out in kPa."""
    shown = {name: (f"{name[:-2]}kpa", 1e-3) if name.endswith("_pa") else (name, 1.0) for name in names}
    return {key: _number(getattr(record, name), factor) for name, (key, factor) in shown.items()}


def _number(value: float | None, factor: float = 1.0) -> float | None:
    """`value` times `factor`, or None for what is unknown or not finite."""
    if value is None or not math.isfinite(value):
        return None
    scaled = float(value) * factor
    return scaled if math.isfinite(scaled) else None


def interval_object(interval: Interval | None, factor: float = 1.0) -> dict[str, float | None] | None:
    """Value and bounds times `factor`; what is unknown or unbounded is None."""
    if interval is None:
        return None
    ends = {"value": interval.value, "low": interval.low, "high": interval.high}
    return {key: _number(value, factor) for key, value in ends.items()}


def flag_objects(flags: Sequence[Flag]) -> list[dict[str, str]]:
    """Code and text of each."""
    return [{"code": flag.code, "text": flag.text} for flag in flags]


def _hold(analysis: Analysis) -> dict[str, Any]:
    hold = analysis.hold
    return {
        **_numbers(hold, "start_s", "end_s"),
        "readings": int(hold.readings),
        **_numbers(hold, "closed_s"),
        "chosen": "given" if hold.given else "found",
        "phases": [{"name": p.name, **_numbers(p, "start_s", "end_s")} for p in hold.phases],
        "steps": [_numbers(s, "time_s", "change_pa") for s in hold.steps],
        "zero": {**_numbers(hold.zero, "offset_pa", "drift_pa"), "source": hold.zero.source},
    }


def _leak_rate(leak: LeakEstimate | None) -> dict[str, Any] | None:
    if leak is None or leak.throughput_pa_m3_s is None:
        return None
    rate = interval_object(leak.throughput_pa_m3_s) or {}
    return {
        **{f"{end}_pa_m3_s": value for end, value in rate.items()},
        "at_pressure_kpa": _number(leak.at_pa, 1e-3),
        "confidence": CONFIDENCE,
        "detected": bool(leak.detected),
        "detection_limit_pa_m3_s": _number(leak.detection_pa_m3_s),
    }


def _limit(verdict: Verdict | None) -> dict[str, Any] | None:
    if verdict is None:
        return None
    limit = verdict.limit
    figures: dict[str, float | None] = dict.fromkeys(("drop_kpa", "time_s", "start_kpa", "rate_pa_m3_s"))
    if limit.kind == "drop":
        figures |= _numbers(limit, "drop_pa", "time_s", "start_pa")
    elif limit.kind in ("rate", "inflow"):
        figures["rate_pa_m3_s"] = _number(limit.rate_pa_m3_s)
    return {"text": limit.text, "kind": limit.kind, "source": limit.source, **figures}


def _verdict_detail(verdict: Verdict | None) -> dict[str, Any]:
    if verdict is None:
        reason = "no limit given, and common practice has none for this circuit and direction"
        return {"reason": reason, "remedy": "Give --limit.", "basis": "none", "measured": None, "unit": None}
    drop = verdict.limit.kind == "drop"
    measured = {"measured": interval_object(verdict.measured, 1e-3 if drop else 1.0)}
    said = {"reason": verdict.reason, "remedy": verdict.remedy or None, "basis": verdict.basis}
    return said | measured | {"unit": "kPa" if drop else "Pa m3/s"}


def _finding(finding: Finding) -> dict[str, Any]:
    figures = {figure.key: interval_object(figure.interval) for figure in finding.figures}
    return {"name": finding.name, "text": finding.sentence, "figures": figures}


def _used(used: Used) -> dict[str, Any]:
    def given(quantity: Quantity, factor: float = 1.0, shift: float = 0.0) -> dict[str, Any]:
        value = _number(quantity.value, factor)
        return {"value": None if value is None else value + shift, "source": quantity.source}

    return {
        "barometer_kpa": given(used.barometer_pa, 1e-3),
        "temperature_degc": given(used.temperature_k, 1.0, -273.15),
        "volume_cm3": given(used.volume_m3, 1e6),
        "volume_uncertainty_cm3": given(used.volume_u_m3, 1e6),
        "discharge_coefficient": given(used.discharge_coefficient),
        "resolution_kpa": given(used.resolution_pa, 1e-3),
        "noise_kpa": {"value": _number(used.noise_pa, 1e-3), "source": "estimated"},
    }


def known_object(known: KnownLeak) -> dict[str, Any]:
    """Plain dicts, text and finite numbers; flows in Pa m3/s at 20 degC."""
    said = {"direction": known.direction, "at_pressure_kpa": known.at_pa / 1e3, "kind": known.kind}
    whence = {"stated_as": known.text, "source": known.source, "date": known.measured_on}
    stated, measured = (interval_object(x) for x in (known.stated_pa_m3_s, known.measured_pa_m3_s))
    sizes = {"stated_pa_m3_s": stated, "measured_pa_m3_s": measured, "ratio": interval_object(ratio_of(known))}
    return {**said, **whence, **sizes, "agrees": agrees(ratio_of(known))}


def rig_object_of(seen: RigSeen | None) -> dict[str, Any] | None:
    """The rig of a test for its JSON object; `known_leak` None where none is on record."""
    if seen is None:
        return None
    known = None if seen.known is None else {**known_object(seen.known), "age_days": seen.age_days}
    return {"name": seen.name, "known_leak": known, "both_ways": interval_object(seen.both_ways)}


def located_object(found: Located) -> dict[str, Any]:
    """Plain dicts, lists, text, numbers and None."""
    return {
        "circuit": found.circuit,
        "files": list(found.files),
        "headline": found.headline,
        "vacuum_over_pressure": _ratio(found.ratio),
        "groups": [{"group": g.group, **_numbers(g, "probability"), "reasons": list(g.reasons)} for g in found.groups],
        "places": [{"place": p.place, "group": p.group, **_numbers(p, "probability")} for p in found.places],
        "sections": [_section(s) for s in found.sections],
        "ruled_out": [f"{name}: {why}" for name, why in found.ruled_out],
        "not_tested": list(found.not_tested),
        "next_test": _next(found.next_test),
        "together": {**_numbers(found.together, "probability"), "doubts": flag_objects(found.together.doubts)},
        "verdicts": [_test_verdict(v) for v in found.verdicts],
        "warnings": flag_objects(found.warnings),
        "marks": [_mark(m) for m in found.marks],
        "complaint": _complaint(found.complaint),
    }


def _next(step: NextTest) -> dict[str, Any]:
    return {
        **{key: getattr(step, key) for key in ("id", "do", "why", "direction")},
        **_numbers(step, "minutes"),
        "enter": [{entry.kind: entry.what} for entry in step.enter],
    }


def _test_verdict(test: TestVerdict) -> dict[str, Any]:
    would = None if test.would_see_pa_s is None else _number(test.would_see_pa_s, 0.06)
    said = {key: getattr(test, key) for key in ("file", "circuit", "direction")}
    return {**said, "verdict": test.word, "lax_limit": test.lax, "detection_limit_kpa_per_min": would}


def _mark(mark: MarkOutcome) -> dict[str, Any]:
    own = {key: value for key, value in vars(mark).items() if key != "effect"}
    return own | _effect(mark.effect)


def _effect(effect: MarkEffect) -> dict[str, Any]:
    ratio = interval_object(effect.after_over_before)
    return {**_numbers(effect, "time_s"), "text": effect.text, "after_over_before": ratio}


def _complaint(said: Complaint | None) -> dict[str, Any] | None:
    """The answers that were weighed in, and what they did together to the odds of each place."""
    if said is None:
        return None
    return {
        "answers": [{"id": a.id, "seen": a.seen, "text": a.text} for a in said.answers],
        "factors": {place: _number(factor) for place, factor in said.factors.items()},
    }


def change_object(change: Change) -> dict[str, Any]:
    """Plain dicts, lists, text, numbers and None."""
    ends = zip(("value", "low", "high"), change.after_over_before, strict=True)
    return {
        "direction": change.direction,
        "after_over_before": {key: _number(end) for key, end in ends},
        "change": change.word,
        "sentence": change.sentence,
        "verdict_before": change.verdict_before,
        "verdict_after": change.verdict_after,
        "warnings": flag_objects(change.warnings),
    }


def _ratio(ratio: Ratio | None) -> dict[str, Any] | None:
    if ratio is None:
        return None
    return _numbers(ratio, "value", "low", "high", "at_least") | {"same_law": ratio.same_law}


def _section(section: SectionShare) -> dict[str, Any]:
    own, together = dict(section.shares), dict(section.together)
    return {
        "section": section.section,
        **{d: _share(own.get(d)) for d in DIRECTIONS},
        "separable": section.separable,
        "with": list(section.with_),
        "together": {d: _share(together.get(d)) for d in DIRECTIONS} if together else None,
    }


def _share(interval: Interval | None) -> dict[str, float | None] | None:
    whole = interval_object(interval)
    return whole and {"share": whole.pop("value"), **whole}
