"""Pooled -> the JSON object of `repeats --json` and the lines for a screen."""

from __future__ import annotations

from typing import Any

from leakdown.quantities import significant, standard_cm3_per_min
from leakdown.repeats.pool import Pooled
from leakdown.uncertainty import Interval


def pooled_object(found: Pooled) -> dict[str, Any]:
    """Plain dicts, text, finite numbers and None; losses in kPa/min, leak rates in Pa m3/s."""
    factor = _factor(found)
    return {
        "unit": "kPa/min" if found.what == "Pa/s" else found.what,
        "direction": found.direction,
        "at_pressure_kpa": found.at_pa / 1e3,
        "leak_rate_pa_m3_s": None
        if found.throughput_pa_m3_s is None
        else _object(found.throughput_pa_m3_s, 1.0),
        "holds": [_object(v, factor) for v in found.values],
        "pooled": _object(found.pooled, factor),
        "chi2": found.chi2,
        "chi2_chance": found.chi2_chance,
        "birge_ratio": found.birge,
        "agree": found.agree,
        "repeatability": found.repeatability * factor,
        "repeatability_limit": found.limit * factor,
        "text": found.sentence,
    }


def pooled_lines(found: Pooled) -> list[str]:
    """Together, whether they agree, each hold, and how far two holds may differ."""
    lines = [
        f"Together at {found.at_pa / 1e3:g} kPa ({found.direction}): {_words(found.pooled, found)}.",
        *_leak_rate(found),
        found.sentence,
        *(f"  {k}. {_words(v, found)}" for k, v in enumerate(found.values, 1)),
    ]
    limit = Interval(found.limit, found.limit, found.limit)
    return [*lines, f"Two holds may differ by {_number(limit.high, found)} once in twenty without a reason."]


def _leak_rate(found: Pooled) -> list[str]:
    flow = found.throughput_pa_m3_s
    if flow is None or found.what != "Pa/s":
        return []
    low, high = (significant(standard_cm3_per_min(x)) for x in (flow.low, flow.high))
    if flow.value is None:
        return [f"As a leak: at most {high} cm3/min."]
    return [f"As a leak: {significant(standard_cm3_per_min(flow.value))} cm3/min ({low} to {high})."]


def _factor(found: Pooled) -> float:
    return 0.06 if found.what == "Pa/s" else 1.0


def _object(interval: Interval, factor: float) -> dict[str, float | None]:
    value = None if interval.value is None else interval.value * factor
    return {"value": value, "low": interval.low * factor, "high": interval.high * factor}


def _number(value: float, found: Pooled) -> str:
    if found.what == "Pa/s":
        return f"{significant(0.06 * value)} kPa/min"
    return f"{significant(standard_cm3_per_min(value))} cm3/min"


def _words(interval: Interval, found: Pooled) -> str:
    if interval.value is None:
        return f"no leak seen, at most {_number(interval.high, found)}"
    low, high = (_number(end, found) for end in (interval.low, interval.high))
    return f"{_number(interval.value, found)} ({low} to {high})"
