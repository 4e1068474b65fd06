"""Needle and vent results -> JSON objects and lines for a screen."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from leakdown.analysis import Flag
from leakdown.oneway.result import NeedleResult, VentResult, VentWay
from leakdown.oneway.vent import NEEDED_M3_S
from leakdown.uncertainty import Interval

Wrap = Callable[[str, int, str, str], list[str]]
Style = Callable[[str, str], str]
_TO_CM3_PER_MIN = 6e7


def needle_object(found: NeedleResult) -> dict[str, Any]:
    """Plain dicts, text, finite numbers and None."""
    hold = found.hold_at_pa
    return {
        "verdict": found.word,
        "reason": found.reason,
        "opening_kpa": _interval(found.opening_pa, 1e-3),
        "reseat_kpa": _interval(found.reseat_pa, 1e-3),
        "spread": found.spread,
        "hold_next_at_kpa": None if hold is None else hold / 1e3,
        "openings": [
            {
                "time_s": pop.time_s,
                "opening_kpa": pop.opening_pa / 1e3,
                "reseat_kpa": None if pop.reseat_pa is None else pop.reseat_pa / 1e3,
                "fall_per_s": pop.fall_per_s,
                "at_end_of_gauge": pop.clipped,
            }
            for pop in found.pops
        ],
        "warnings": _flags(found.flags),
    }


def needle_lines(found: NeedleResult, width: int, wrap: Wrap, style: Style) -> list[str]:
    """Verdict, the openings, and what to hold next."""
    lines = [
        style(line, found.word) for line in wrap(f"{found.word.upper()}: {found.reason}", width, "", "  ")
    ]
    for number, pop in enumerate(found.pops, 1):
        reseat = "did not reseat" if pop.reseat_pa is None else f"reseats at {pop.reseat_pa / 1e3:.3g} kPa"
        more = " (end of the gauge)" if pop.clipped else ""
        lines.append(f"  {number}. opens at {pop.opening_pa / 1e3:.3g} kPa{more}, {reseat}")
    if found.hold_at_pa is not None:
        lines += wrap(
            f"Next: hold {found.hold_at_pa / 1e3:.3g} kPa (70 % of reseat) for a minute.", width, "", "  "
        )
    return [*lines, *_mind(found.flags, width, wrap)]


def vent_object(found: VentResult) -> dict[str, Any]:
    """Plain dicts, text, finite numbers and None."""
    return {
        "verdict": found.word,
        "reason": found.reason,
        "needed_cm3_per_min": NEEDED_M3_S * _TO_CM3_PER_MIN,
        "inward": _way(found.inward),
        "outward": None if found.outward is None else _way(found.outward),
        "warnings": _flags(found.flags),
    }


def vent_lines(found: VentResult, width: int, wrap: Wrap, style: Style) -> list[str]:
    """Verdict with its reason, where the vent closes, and what to mind."""
    lines = [
        style(line, found.word) for line in wrap(f"{found.word.upper()}: {found.reason}", width, "", "  ")
    ]
    if found.inward.levels_pa is not None:
        lines.append(f"  inward it comes to rest at -{max(found.inward.levels_pa, 0.0) / 1e3:.2g} kPa")
    return [*lines, *_mind(found.flags, width, wrap)]


def _way(way: VentWay) -> dict[str, Any]:
    return {
        "start_kpa": way.start_pa / 1e3,
        "end_kpa": way.end_pa / 1e3,
        "comes_to_rest_at_kpa": None if way.levels_pa is None else way.levels_pa / 1e3,
        "flow_cm3_per_min": _interval(way.flow_m3_s, _TO_CM3_PER_MIN),
        "at_pressure_kpa": way.at_pa / 1e3,
    }


def _interval(interval: Interval | None, factor: float) -> dict[str, float | None] | None:
    if interval is None:
        return None
    value = None if interval.value is None else interval.value * factor
    high = interval.high * factor if math.isfinite(interval.high) else None
    return {"value": value, "low": interval.low * factor, "high": high}


def _flags(flags: tuple[Flag, ...]) -> list[dict[str, str]]:
    return [{"code": flag.code, "text": flag.text} for flag in flags]


def _mind(flags: tuple[Flag, ...], width: int, wrap: Wrap) -> list[str]:
    return [line for flag in flags for line in wrap(flag.text, width, "  - ", "    ")]
