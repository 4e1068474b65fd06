"""Random hand sheets whose truth is known: what a person may write, in any mixture."""

from __future__ import annotations

import random
from dataclasses import dataclass, field
from typing import Any

UNITS_KPA = {
    "psi": 6.894757293168361,
    "kPa": 1.0,
    "mbar": 0.1,
    "bar": 100.0,
    "hPa": 0.1,
    "inHg": 3.386388640341,
    "mmHg": 0.1333223684210526,
    "kgf/cm2": 98.0665,
}
"""NIST SP 811 (2008), Appendix B.8; the conventional column of mercury."""
PLACES = {"psi": 2, "kPa": 1, "mbar": 0, "bar": 3, "hPa": 0, "inHg": 2, "mmHg": 0, "kgf/cm2": 3}
SEPARATORS = [",", ";", "\t", "|", "   ", " "]
_SIGNS = {0.25: "¼", 0.5: "½", 0.75: "¾"}


@dataclass
class Sheet:
    """A text and what it means: seconds from the first reading, signed kPa, conditions; and the options."""

    text: str
    seconds: list[float]
    kpa: list[float]
    conditions: dict[str, float] = field(default_factory=dict)
    options: dict[str, Any] = field(default_factory=dict)
    displacement: bool = False


def sheet(seed: int) -> Sheet:
    """One random sheet."""
    r = random.Random(seed)
    separator = r.choice(SEPARATORS)
    comma = separator != "," and r.random() < 0.4
    vacuum = r.random() < 0.4
    unit = r.choice(list(UNITS_KPA))
    if unit == "inHg":
        vacuum = True
    quarters = unit in ("psi", "inHg") and r.random() < 0.6
    values = _decay(r, unit, quarters)
    every = r.choice([5, 10, 15, 20, 30, 60])
    seconds = [float(every * i) for i in range(len(values))]
    times, time_heading = _times(r, seconds, comma, separator)
    cells, heading = _cells(r, values, unit, vacuum, quarters, comma)
    columns = [(time_heading, times), (heading, cells)]
    if r.random() < 0.15:
        columns = columns[::-1]
    if r.random() < 0.15:
        columns.insert(0, ("No.", [str(i + 1) for i in range(len(values))]))
    lost = _missed(r, columns, cells)
    _more_columns(r, columns, values, unit, comma, separator)
    head, conditions, engine = _head(r, separator, comma)
    kept = [i for i in range(len(values)) if i not in lost]
    sign = -1 if vacuum else 1
    text = _written(r, columns, head, separator)
    return Sheet(
        text,
        [seconds[i] - seconds[kept[0]] for i in kept],
        [sign * values[i] * UNITS_KPA[unit] for i in kept],
        conditions,
        {},
        engine,
    )


def _decay(r: random.Random, unit: str, quarters: bool) -> list[float]:
    start, count = r.uniform(28, 50) / UNITS_KPA[unit], r.randint(4, 10)
    ease = r.uniform(0.9, 0.995)
    if quarters:
        return [round(4 * start * ease**i) / 4 for i in range(count)]
    return [round(start * ease**i, PLACES[unit]) for i in range(count)]


def _number(value: float, comma: bool) -> str:
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return text.replace(".", ",") if comma else text


def _times(r: random.Random, seconds: list[float], comma: bool, separator: str) -> tuple[list[str], str]:
    kind = r.choice(["s", "min", "m:ss", "clock", "cells", "bare"])
    if kind == "s":
        return [_number(t, comma) for t in seconds], r.choice(["time (s)", "t / s", "Zeit (s)", "time_s"])
    if kind == "min":
        return [_number(t / 60, comma) for t in seconds], r.choice(["time (min)", "Minuten"])
    if kind == "m:ss":
        return [f"{int(t) // 60}:{int(t) % 60:02d}" for t in seconds], "time (m:ss)"
    if kind == "clock":
        start = r.randint(7 * 3600, 17 * 3600)
        whole = [start + int(t) for t in seconds]
        return [f"{w // 3600}:{w // 60 % 60:02d}:{w % 60:02d}" for w in whole], r.choice(["clock", "Uhrzeit"])
    if kind == "cells":
        return [_spelled(t) for t in seconds], "time"
    return [_number(t, comma) for t in seconds], "time"


def _spelled(seconds: float) -> str:
    minutes, rest = divmod(int(seconds), 60)
    return f"{minutes} min" if minutes and not rest else f"{int(seconds)} s"


def _cells(
    r: random.Random, values: list[float], unit: str, vacuum: bool, quarters: bool, comma: bool
) -> tuple[list[str], str]:
    negative = vacuum and r.random() < 0.4
    in_cells = r.random() < 0.25
    factor = 10 if unit in ("kPa", "mbar", "hPa") and not in_cells and r.random() < 0.1 else 1
    form = r.choice(["point", "blank", "hyphen", "sign"]) if quarters else "point"
    cells = []
    for value in values:
        text = _fraction(value, form) if form != "point" else _number(value / factor, comma)
        cells.append(("-" if negative and value else "") + text + (f" {unit}" if in_cells else ""))
    name = r.choice(["vacuum", "Vakuum", "Unterdruck"]) if vacuum else r.choice(["pressure", "p", "Druck"])
    if in_cells:
        return cells, name
    size = f"{unit} x {factor}" if factor > 1 else unit
    return cells, r.choice([f"{name} ({size})", f"{name} [{size}]"])


def _fraction(value: float, form: str) -> str:
    whole, part = int(value), value - int(value)
    if not part:
        return str(whole)
    if form == "sign":
        return f"{whole or ''}{_SIGNS[part]}"
    small = {0.25: "1/4", 0.5: "1/2", 0.75: "3/4"}[part]
    return small if not whole else f"{whole}{' ' if form == 'blank' else '-'}{small}"


def _missed(r: random.Random, columns: list[tuple[str, list[str]]], cells: list[str]) -> set[int]:
    if len(cells) < 6 or r.random() < 0.7:
        return set()
    lost = {r.randrange(1, len(cells) - 1)}
    for i in lost:
        cells[i] = r.choice(["-", "missed", "n/a"])
    return lost


def _more_columns(
    r: random.Random, columns: list[tuple[str, list[str]]], values: list[float], unit: str, comma: bool, separator: str
) -> None:
    if r.random() < 0.15:
        losses = [_number(round(values[0] - value, 3), comma) for value in values]
        columns.append((f"drop ({unit})", losses))
    if r.random() < 0.15:
        columns.append(("T (°C)", ["21"] * len(values)))
    if (separator.strip() or separator == "\t") and r.random() < 0.4:
        notes = [""] * len(values)
        notes[r.randrange(len(values))] = r.choice(["soap on boot", "hose moved", "ok", "quiet"])
        columns.append((r.choice(["remarks", "Bemerkung", "notes"]), notes))


def _head(r: random.Random, separator: str, comma: bool) -> tuple[list[str], dict[str, float], bool]:
    lines, truth, engine = [], {}, False
    if r.random() < 0.3:
        lines.append(r.choice(["Saw job 4711", "Leak sheet", "Customer: J. Doe", "Werkstatt Nord"]))
    if r.random() < 0.3:
        lines.append(r.choice(["Volume: 250 cc", "Vol. 0,25 l", "Volumen: 250 cm3", "Volume 250 cc"]))
        truth["volume_m3"] = 250e-6
    if r.random() < 0.3:
        lines.append(r.choice(["Engine volume 50 cc", "Hubraum: 50 cc", "Hubraum 50 ccm", "Motor 50 cm3"]))
        engine = True
    if r.random() < 0.3:
        lines.append(r.choice(["Umgebungsdruck: 965 mbar", "Barometer 965 hPa", "Baro: 96.5 kPa"]))
        truth["barometer_pa"] = 96_500.0
    elif r.random() < 0.3:
        lines.append(r.choice(["Altitude: 1500 m", "Elevation 1500m", "Höhe 1500 m"]))
        truth["barometer_pa"] = 84_560.0
    if r.random() < 0.2:
        lines.append("Limit: 7 kPa in 60 s")
    r.shuffle(lines)
    return [("# " if r.random() < 0.2 else "") + line for line in lines], truth, engine


def _written(r: random.Random, columns: list[tuple[str, list[str]]], head: list[str], separator: str) -> str:
    rows = [[name, *cells] for name, cells in columns]
    turned = not any(name in ("No.",) for name, _ in columns) and r.random() < 0.12
    if turned:
        table = [separator.join(row) for row in rows]
    else:
        table = [separator.join(cells) for cells in zip(*rows, strict=True)]
    if r.random() < 0.15 and not turned:
        table.append(r.choice(["Signed J. Doe", "no bubbles seen"]))
    end = r.choice(["\n", "\n", "\r\n"])
    return ("\ufeff" if r.random() < 0.1 else "") + end.join([*head, *table]) + end
