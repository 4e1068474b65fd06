"""The bench sums -> JSON objects and lines for a screen."""

from __future__ import annotations

from typing import Any

from leakdown.quantities import significant, standard_cm3_per_min
from leakdown.sums.idle_air import IdleShare
from leakdown.sums.neighbour import CentreSeal
from leakdown.sums.pumped import PumpedLeak
from leakdown.uncertainty import Interval


def pumped_object(leak: PumpedLeak) -> dict[str, Any]:
    """Plain dicts, text and finite numbers."""
    return {
        "at_pressure_kpa": leak.held_pa / 1e3,
        "leak_rate_pa_m3_s": _object(leak.throughput_pa_m3_s),
        "equivalent_hole_mm": _object(leak.hole_m.scaled(1e3)),
        "formula": leak.formula,
        "used": [x.note for x in leak.inputs],
    }


def pumped_lines(leak: PumpedLeak) -> list[str]:
    """The answer, the sum, what was assumed."""
    flow = Interval(*(standard_cm3_per_min(x) for x in _figures(leak.throughput_pa_m3_s)))
    return [
        f"Would not go past {leak.held_pa / 1e3:g} kPa: a leak of {_words(flow)} cm3/min there (20 degC, "
        f"101.325 kPa), about a {_words(leak.hole_m.scaled(1e3))} mm hole. Find it by soap or ear first.",
        leak.formula,
        *(f"  - {x.note}" for x in leak.inputs),
    ]


def share_object(share: IdleShare) -> dict[str, Any]:
    """Plain dicts, text and finite numbers."""
    return {
        "share_of_idle_air": _object(share.share),
        "leak_l_per_min": 6e4 * share.leak_m3_s,
        "idle_air_l_per_min": 6e4 * share.idle_m3_s,
        "explains_complaint": share.word,
        "text": share.sentence,
    }


def seal_object(seal: CentreSeal) -> dict[str, Any]:
    """Plain dicts, text and finite numbers or None."""
    return {
        "centre_seal_pa_m3_s": _object(seal.throughput_pa_m3_s),
        "share_of_leak": None if seal.share is None else _object(seal.share),
        "formula": seal.formula,
        "notes": list(seal.notes),
    }


def seal_lines(seal: CentreSeal) -> list[str]:
    """The answer, the sum, what it means."""
    flow = Interval(*(standard_cm3_per_min(x) for x in _figures(seal.throughput_pa_m3_s)))
    return [
        f"Past the centre seal: {_words(flow)} cm3/min (20 degC, 101.325 kPa).",
        seal.formula,
        *seal.notes,
    ]


def _figures(interval: Interval) -> tuple[float, float, float]:
    value = interval.low if interval.value is None else interval.value
    return value, interval.low, interval.high


def _object(interval: Interval) -> dict[str, float]:
    value, low, high = _figures(interval)
    return {"value": value, "low": low, "high": high}


def _words(interval: Interval) -> str:
    value, low, high = _figures(interval)
    return f"{significant(value, 2)} ({significant(low, 2)} to {significant(high, 2)})"
