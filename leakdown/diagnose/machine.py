"""Located and Change -> the JSON objects of `locate --json` and `compare --json`. Every number is finite."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from leakdown.analysis import Flag
from leakdown.diagnose.complaint import Complaint
from leakdown.diagnose.result import Change, Located, Marked, Ratio, SectionShare
from leakdown.uncertainty import Interval


def located_object(found: Located) -> dict[str, Any]:
    """Plain dicts, lists, text, numbers and None."""
    return {
        "circuit": found.circuit,
        "files": list(found.files),
        "headline": found.headline,
        "vacuum_over_pressure": _ratio(found.ratio),
        "groups": [
            {"group": g.group, "probability": _number(g.probability), "reasons": list(g.reasons)}
            for g in found.groups
        ],
        "places": [
            {"place": p.place, "group": p.group, "probability": _number(p.probability)} for p in found.places
        ],
        "sections": [_section(s) for s in found.sections],
        "ruled_out": [f"{name}: {why}" for name, why in found.ruled_out],
        "not_tested": list(found.not_tested),
        "next_test": None
        if found.next_test is None
        else {"do": found.next_test.do, "why": found.next_test.why},
        "warnings": _flags(found.warnings),
        "marks": [_mark(m) for m in found.marks],
        "complaint": _complaint(found.complaint),
    }


def _mark(mark: Marked) -> dict[str, Any]:
    change = mark.effect.after_over_before
    return {
        "file": mark.file,
        "time_s": _number(mark.effect.time_s),
        "text": mark.effect.text,
        "place": mark.place,
        "after_over_before": {
            "value": _number(change.value),
            "low": _number(change.low),
            "high": _number(change.high),
        },
        "changed": mark.changed,
        "steady": mark.steady,
    }


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
    value, low, high = change.after_over_before
    return {
        "direction": change.direction,
        "after_over_before": {"value": _number(value), "low": _number(low), "high": _number(high)},
        "change": change.word,
        "sentence": change.sentence,
        "verdict_before": change.verdict_before,
        "verdict_after": change.verdict_after,
        "warnings": _flags(change.warnings),
    }


def _ratio(ratio: Ratio | None) -> dict[str, Any] | None:
    if ratio is None:
        return None
    return {
        "value": _number(ratio.value),
        "low": _number(ratio.low),
        "high": _number(ratio.high),
        "at_least": _number(ratio.at_least),
        "same_law": ratio.same_law,
    }


def _section(section: SectionShare) -> dict[str, Any]:
    own, together = dict(section.shares), dict(section.together)
    return {
        "section": section.section,
        "pressure": _share(own.get("pressure")),
        "vacuum": _share(own.get("vacuum")),
        "separable": section.separable,
        "with": list(section.with_),
        "together": {d: _share(together.get(d)) for d in ("pressure", "vacuum")} if together else None,
    }


def _share(interval: Interval | None) -> dict[str, float | None] | None:
    if interval is None:
        return None
    return {"share": _number(interval.value), "low": _number(interval.low), "high": _number(interval.high)}


def _flags(flags: Sequence[Flag]) -> list[dict[str, str]]:
    return [{"code": flag.code, "text": flag.text} for flag in flags]


def _number(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)
