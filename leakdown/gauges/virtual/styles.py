"""How a virtual gauge words its lines. Pure; each style is one function of a moment."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass

from leakdown.gauges.lines.nmea import checksum


@dataclass(frozen=True)
class Moment:
    """What a gauge knows when it writes a line; `pressure_pa` is None where it has no reading."""

    number: int
    time_ms: int
    pressure_pa: float | None
    temperature_degc: float


def own(m: Moment) -> str:
    """The project's own line format (firmware_notes/README.md)."""
    pressure = "OL" if m.pressure_pa is None else f"{m.pressure_pa:.1f}"
    body = f"p_pa={pressure} t_ms={m.time_ms} temp_c={m.temperature_degc:.1f} n={m.number}"
    return f"{body}*{checksum(body):02X}"


def labelled(m: Moment) -> str:
    """Pressure: 40.12 kPa | Temp: 22.1 C"""
    pressure = "OL" if m.pressure_pa is None else f"{m.pressure_pa / 1e3:.3f} kPa"
    return f"Pressure: {pressure} | Temp: {m.temperature_degc:.1f} C"


def as_json(m: Moment) -> str:
    """One JSON object a line."""
    pressure = None if m.pressure_pa is None else round(m.pressure_pa / 1e3, 3)
    return json.dumps({"t_ms": m.time_ms, "pressure_kpa": pressure, "temp_c": round(m.temperature_degc, 1)})


def table(m: Moment) -> str:
    """Rows under the heading time_ms,pressure_kpa."""
    pressure = "----" if m.pressure_pa is None else f"{m.pressure_pa / 1e3:.3f}"
    return f"{m.time_ms},{pressure}"


def bare(m: Moment) -> str:
    """The number alone, in kPa."""
    return "OL" if m.pressure_pa is None else f"{m.pressure_pa / 1e3:.3f}"


def comma(m: Moment) -> str:
    """-0,4012 bar"""
    return "----" if m.pressure_pa is None else f"{m.pressure_pa / 1e5:.5f}".replace(".", ",") + " bar"


def inches(m: Moment) -> str:
    """Vacuum in inches of mercury, shown without a sign below ambient."""
    if m.pressure_pa is None:
        return "over range"
    inhg = m.pressure_pa / 3386.389
    return f"VAC {-inhg:.2f} inHg" if inhg < 0 else f"PRESS {inhg:.2f} inHg"


STYLES: dict[str, Callable[[Moment], str]] = {
    "own": own,
    "labelled": labelled,
    "json": as_json,
    "table": table,
    "bare": bare,
    "comma": comma,
    "inches": inches,
}
HEADINGS = {
    "table": "time_ms,pressure_kpa",
    "own": "# leakdown virtual gauge",
    "labelled": "virtual gauge ready",
}
