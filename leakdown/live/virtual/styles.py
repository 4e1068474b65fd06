"""How a virtual gauge words a reading: one line in each style."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass

from leakdown.live.lines.line import checksum


@dataclass(frozen=True)
class Measured:
    """What a gauge knows when it writes a line; `pressure_pa` is None where it has no reading.

    word: what it then puts in the number's place, "" for the style's own."""

    number: int
    time_ms: int
    pressure_pa: float | None
    temperature_degc: float
    word: str = ""


def own(m: Measured) -> str:
    """The project's own line format (firmware_notes/README.md)."""
    body = f"p_pa={_shown_as(m, '{:.1f}')} t_ms={m.time_ms} temp_c={m.temperature_degc:.1f} n={m.number}"
    return f"{body}*{checksum(body):02X}"


def as_json(m: Measured) -> str:
    """One JSON object a line."""
    shown = (float(m.word) if m.word else None) if m.pressure_pa is None else round(m.pressure_pa / 1e3, 3)
    return json.dumps({"t_ms": m.time_ms, "pressure_kpa": shown, "temp_c": round(m.temperature_degc, 1)})


def inches(m: Measured) -> str:
    """Vacuum in inches of mercury, shown without a sign below ambient."""
    if m.pressure_pa is None:
        return f"PRESS {m.word} inHg" if m.word else "over range"
    inhg = m.pressure_pa / 3386.389
    return f"VAC {-inhg:.2f} inHg" if inhg < 0 else f"PRESS {inhg:.2f} inHg"


def log_line(m: Measured) -> str:
    """A coloured log line of a small board, with tags and other numbers."""
    return f"\x1b[0;36m[D][gauge:041]: 'Bench': state now {_shown_as(m, '{:.3f}', 1e3)} kPa, 3 decimals kept\x1b[0m"


def _shown_as(m: Measured, form: str, unit_pa: float = 1.0, none: str = "OL", unit: str = "") -> str:
    if m.pressure_pa is None and not m.word:
        return none
    return (m.word if m.pressure_pa is None else form.format(m.pressure_pa / unit_pa)) + unit


STYLES: dict[str, Callable[[Measured], str]] = {
    "own": own,
    "labelled": lambda m: f"Pressure: {_shown_as(m, '{:.3f}', 1e3, unit=' kPa')} | Temp: {m.temperature_degc:.1f} C",
    "json": as_json,
    "table": lambda m: f"{m.time_ms},{_shown_as(m, '{:.3f}', 1e3, '----')}",
    "bare": lambda m: _shown_as(m, "{:.3f}", 1e3),
    "comma": lambda m: _shown_as(m, "{:.5f}", 1e5, "----", " bar").replace(".", ","),
    "inches": inches,
    "psi": lambda m: f"t={m.time_ms} ms P={_shown_as(m, '{:.2f}', 6894.757)} psi",
    "log": log_line,
}
"""A line in each wording: the project's own, a sentence, an object, a row, a number in kPa, -0,40123 bar, a dial's,
one in psi, a board's log."""

HEADINGS = {"table": "time_ms,pressure_kpa", "own": "# leakdown virtual gauge", "labelled": "virtual gauge ready"}
