"""Rigs -> JSON objects and lines for a screen."""

from __future__ import annotations

from typing import Any

from leakdown.quantities import significant, standard_cm3_per_min
from leakdown.rigs.result import Cleared, OrificeCheck, Rig
from leakdown.uncertainty import Interval


def rig_object(rig: Rig) -> dict[str, Any]:
    """Plain dicts, text, finite numbers and None."""
    return {
        "rig": rig.name,
        "volume_cm3": None if rig.volume_m3 is None else rig.volume_m3 * 1e6,
        "leaks": [
            {
                "direction": x.direction,
                "at_pressure_kpa": x.at_pa / 1e3,
                "leak_rate_pa_m3_s": _object(x.throughput_pa_m3_s),
                "measured": x.measured,
            }
            for x in rig.leaks
        ],
    }


def rig_lines(rig: Rig) -> list[str]:
    """Name, volume, what it leaks each way."""
    size = "volume not given" if rig.volume_m3 is None else f"{rig.volume_m3 * 1e6:.3g} cm3"
    lines = [f"{rig.name}: {size}"]
    for x in rig.leaks:
        when = f" (measured {x.measured})" if x.measured else ""
        lines.append(f"  {x.direction}: {_words(x.throughput_pa_m3_s)} at {x.at_pa / 1e3:g} kPa{when}")
    return lines


def cleared_object(found: Cleared) -> dict[str, Any]:
    """Plain dicts, text, finite numbers and None."""
    return {
        "rig": found.rig,
        "direction": found.direction,
        "at_pressure_kpa": found.at_pa / 1e3,
        "test_pa_m3_s": _object(found.test_pa_m3_s),
        "rig_pa_m3_s": _object(found.rig_pa_m3_s),
        "left_pa_m3_s": _object(found.left_pa_m3_s),
        "warnings": [{"code": flag.code, "text": flag.text} for flag in found.flags],
    }


def cleared_lines(found: Cleared) -> list[str]:
    """What is left when the rig's leak is taken off."""
    return [
        f"Without the rig {found.rig}: {_words(found.left_pa_m3_s)} at {found.at_pa / 1e3:g} kPa.",
        f"  test {_words(found.test_pa_m3_s)}; rig {_words(found.rig_pa_m3_s)}",
        *(f"  - {flag.text}" for flag in found.flags),
    ]


def check_object(found: OrificeCheck) -> dict[str, Any]:
    """Plain dicts, text and finite numbers."""
    return {"measured_over_known": _object(found.ratio), "agrees": found.agrees, "text": found.sentence}


def _object(interval: Interval) -> dict[str, float | None]:
    return {"value": interval.value, "low": interval.low, "high": interval.high}


def _words(interval: Interval) -> str:
    low, high = (significant(standard_cm3_per_min(x), 2) for x in (interval.low, interval.high))
    if interval.value is None:
        return f"no leak seen, at most {high} cm3/min"
    return f"{significant(standard_cm3_per_min(interval.value), 2)} ({low} to {high}) cm3/min"
