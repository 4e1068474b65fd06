"""Kinds of line that gauges send, each a function of the line's number and the pressure in kPa; made up here."""

from __future__ import annotations

import json
from collections.abc import Callable

from leakdown.live.lines.line import checksum


def _summed(body: str, lead: str = "") -> str:
    return f"{lead}{body}*{checksum(body):02X}"


PRETTY = ["{", '  "warmth": 24.8,', '  "pressure": {p:.2f}', "}"]
PROSE = ["The pressure in kPa is : {p:.2f}", "The water column (mm) is : {mm:.1f}"]

SHAPES: dict[str, Callable[[int, float], str]] = {
    "row": lambda i, p: f"{123456 + i},{p:.3f}",
    "row of blanks": lambda i, p: f"{i * 0.001:.3f} {p:.3f}",
    "alone": lambda i, p: f"{p:.3f}",
    "unit": lambda i, p: f"{p:.3f} kPa",
    "no closing zeros": lambda i, p: f"{round(p, 3)} kPa",
    "labelled": lambda i, p: f"Pressure: {p:.3f} kPa | Temp: {22 + i % 3 / 10:.1f} C",
    "three channels": lambda i, p: f"Time (s): {i / 1000:.3f} | U: {1 + p / 100:.3f} V | Pressure: {p / 7:.2f} PSI",
    "object": lambda i, p: json.dumps({"t_ms": i, "pressure_kpa": round(p, 3), "temp_c": 22.5}),
    "object over lines": lambda i, p: PRETTY[i % 4].replace("{p:.2f}", f"{p:.2f}"),
    "sentence": lambda i, p: _summed(f"IIXDR,P,{1 + p / 1000:.4f},B,Barometer", "$"),
    "summed": lambda i, p: _summed(f"p_pa={p * 1e3:.1f} t_ms={i} temp_c=22.1 n={i}"),
    "comma and unit": lambda i, p: f"{p / 100:.5f}".replace(".", ",") + " bar",
    "comma": lambda i, p: f"{p:.2f}".replace(".", ","),
    "semicolons": lambda i, p: f"{i};{p:.2f};22,5".replace(".", ","),
    "status": lambda i, p: f"status=OK p={p:.2f} kPa t={i} ms",
    "error code": lambda i, p: f"ERR=0 P={p:.2f} kPa",
    "time of day": lambda i, p: f"12:34:{i // 1000 % 60:02d}.{i % 1000:03d} -> {p:.2f} kPa",
    "coloured log": lambda i, p: (
        f"\x1b[0;36m[D][sensor:094]: 'Tank': Sending state {1013.2 + p * 10:.5f} hPa with 1 decimals\x1b[0m"
    ),
    "exponent": lambda i, p: f"{p * 1e3:+.5E}",
    "heading": lambda i, p: "time_ms,pressure_kpa" if i == 0 else f"{i},{p:.3f}",
    "list": lambda i, p: f"T+{i % 50}: x35: {500 + p:.0f},0,0,0,",
    "tags and fields": lambda i, p: f"RIG,state=hold elapsed={i}i,p={p:.2f},t=22.9",
    "prose": lambda i, p: PROSE[i % 2].replace("{p:.2f}", f"{p:.2f}").replace("{mm:.1f}", f"{p * 102:.1f}"),
    "two units": lambda i, p: f"P: {p:.2f} kPa  P: {p / 6.895:.3f} psi",
}
