"""Rigs, what is reckoned without a recording, and repeats -> JSON objects and lines for a screen."""

from __future__ import annotations

from typing import Any

from leakdown.judge.idle_air import IdleShare
from leakdown.judge.known_leak import both_ways
from leakdown.judge.pumping import PumpedLeak
from leakdown.judge.repeats import Pooled
from leakdown.judge.rig import Cleared, OrificeCheck, Rig
from leakdown.prepare.bench_sums import CentreSeal
from leakdown.quantities import significant, standard_cm3_per_min
from leakdown.uncertainty import Interval
from leakdown.words.known_leak import both_words, known_words
from leakdown.words.numbers import cm3_words, kpa_words
from leakdown.words.objects import flag_objects, interval_object, known_object


def rig_object(rig: Rig) -> dict[str, Any]:
    """Plain dicts, text, finite numbers and None."""
    leaks = [
        {"direction": x.direction, "at_pressure_kpa": x.at_pa / 1e3, "measured": x.measured}
        | {"leak_rate_pa_m3_s": interval_object(x.throughput_pa_m3_s)}
        for x in rig.leaks
    ]
    size = None if rig.volume_m3 is None else rig.volume_m3 * 1e6
    known = {"known_leaks": [known_object(x) for x in rig.known], "both_ways": interval_object(both_ways(rig.known))}
    return {"rig": rig.name, "volume_cm3": size, "leaks": leaks, **known}


def rig_lines(rig: Rig) -> list[str]:
    """Name, volume, what it leaks each way."""
    size = "volume not given" if rig.volume_m3 is None else f"{cm3_words(rig.volume_m3)}"
    lines = [f"{rig.name}: {size}"]
    for x in rig.leaks:
        when = f" (measured {x.measured})" if x.measured else ""
        lines.append(f"  {x.direction}: {_rig_words(x.throughput_pa_m3_s)} at {kpa_words(x.at_pa, 6)}{when}")
    for known in rig.known:
        sign = f"{known.direction}, {known.measured_on}"
        lines.append(f"  known leak ({sign}): {known_words(known)}")
    both = both_ways(rig.known)
    return [*lines, f"  {both_words(both)}"] if both else lines


def cleared_object(found: Cleared) -> dict[str, Any]:
    """Plain dicts, text, finite numbers and None."""
    rates = {n: interval_object(getattr(found, n)) for n in ("test_pa_m3_s", "rig_pa_m3_s", "left_pa_m3_s")}
    head = {"rig": found.rig, "direction": found.direction, "at_pressure_kpa": found.at_pa / 1e3}
    return {**head, **rates, "warnings": flag_objects(found.flags)}


def cleared_lines(found: Cleared) -> list[str]:
    """What is left when the rig's leak is taken off."""
    return [
        f"Without the rig {found.rig}: {_rig_words(found.left_pa_m3_s)} at {kpa_words(found.at_pa, 6)}.",
        f"  test {_rig_words(found.test_pa_m3_s)}; rig {_rig_words(found.rig_pa_m3_s)}",
        *(f"  - {flag.text}" for flag in found.flags),
    ]


def check_object(found: OrificeCheck) -> dict[str, Any]:
    """Plain dicts, text and finite numbers."""
    return {"measured_over_known": interval_object(found.ratio), "agrees": found.agrees, "text": found.sentence}


def _rig_words(interval: Interval) -> str:
    flow = interval.scaled(standard_cm3_per_min(1.0))
    if flow.value is None:
        return f"no leak seen, at most {significant(flow.high, 2)} cm3/min"
    return f"{_sum_words(flow)} cm3/min"


def pumped_object(leak: PumpedLeak) -> dict[str, Any]:
    """Plain dicts, text and finite numbers."""
    return {
        "at_pressure_kpa": leak.held_pa / 1e3,
        "leak_rate_pa_m3_s": _sum_object(leak.throughput_pa_m3_s),
        "equivalent_hole_mm": _sum_object(leak.hole_m.scaled(1e3)),
        "formula": leak.formula,
        "used": [x.note for x in leak.inputs],
    }


def pumped_lines(leak: PumpedLeak) -> list[str]:
    """The answer, the sum, what was assumed."""
    flow = _sum_words(leak.throughput_pa_m3_s.scaled(standard_cm3_per_min(1.0)))
    return [
        f"Would not go past {kpa_words(leak.held_pa, 6)}: a leak of {flow} cm3/min there "
        f"(20 degC, 101.325 kPa), about a {_sum_words(leak.hole_m.scaled(1e3))} mm hole. Find it by soap or "
        "ear first.",
        leak.formula,
        *(f"  - {x.note}" for x in leak.inputs),
    ]


def share_object(share: IdleShare) -> dict[str, Any]:
    """Plain dicts, text and finite numbers."""
    return {
        "share_of_idle_air": _sum_object(share.share),
        "leak_l_per_min": 6e4 * share.leak_m3_s,
        "idle_air_l_per_min": 6e4 * share.idle_m3_s,
        "explains_complaint": share.word,
        "text": share.sentence,
    }


def seal_object(seal: CentreSeal) -> dict[str, Any]:
    """Plain dicts, text and finite numbers or None."""
    return {
        "centre_seal_pa_m3_s": _sum_object(seal.throughput_pa_m3_s),
        "share_of_leak": None if seal.share is None else _sum_object(seal.share),
        "formula": seal.formula,
        "notes": list(seal.notes),
    }


def seal_lines(seal: CentreSeal) -> list[str]:
    """The answer, the sum, what it means."""
    flow = _sum_words(seal.throughput_pa_m3_s.scaled(standard_cm3_per_min(1.0)))
    return [f"Past the centre seal: {flow} cm3/min (20 degC, 101.325 kPa).", seal.formula, *seal.notes]


def _sum_object(interval: Interval) -> dict[str, float]:
    value = interval.low if interval.value is None else interval.value
    return {"value": value, "low": interval.low, "high": interval.high}


def _sum_words(interval: Interval) -> str:
    value, low, high = (significant(figure, 2) for figure in _sum_object(interval).values())
    return f"{value} ({low} to {high})"


def pooled_object(found: Pooled) -> dict[str, Any]:
    """Plain dicts, text, finite numbers and None; losses in kPa/min, leak rates in Pa m3/s."""
    unit, factor = ("kPa/min", 0.06) if found.what == "Pa/s" else (found.what, 1.0)
    return {
        "unit": unit,
        "direction": found.direction,
        "at_pressure_kpa": found.at_pa / 1e3,
        "leak_rate_pa_m3_s": interval_object(found.throughput_pa_m3_s),
        "holds": [interval_object(v, factor) for v in found.values],
        "pooled": interval_object(found.pooled, factor),
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
        f"Together at {kpa_words(found.at_pa, 6)} ({found.direction}): {_pooled_words(found.pooled, found)}.",
        *_leak_rate(found),
        found.sentence,
        *(f"  {k}. {_pooled_words(v, found)}" for k, v in enumerate(found.values, 1)),
    ]
    return [*lines, f"Two holds may differ by {_number(found.limit, found)} once in twenty without a reason."]


def _leak_rate(found: Pooled) -> list[str]:
    if found.throughput_pa_m3_s is None or found.what != "Pa/s":
        return []
    flow = found.throughput_pa_m3_s.scaled(standard_cm3_per_min(1.0))
    if flow.value is None:
        return [f"As a leak: at most {significant(flow.high)} cm3/min."]
    return [f"As a leak: {significant(flow.value)} cm3/min ({significant(flow.low)} to {significant(flow.high)})."]


def _number(value: float, found: Pooled) -> str:
    if found.what == "Pa/s":
        return f"{significant(0.06 * value)} kPa/min"
    return f"{significant(standard_cm3_per_min(value))} cm3/min"


def _pooled_words(interval: Interval, found: Pooled) -> str:
    if interval.value is None:
        return f"no leak seen, at most {_number(interval.high, found)}"
    low, high = (_number(end, found) for end in (interval.low, interval.high))
    return f"{_number(interval.value, found)} ({low} to {high})"
