"""Recording -> the project's own form."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from typing import TextIO

import numpy as np

from leakdown.disk import write_output
from leakdown.errors import OutputError
from leakdown.recording import Conditions, Recording
from leakdown.sheets.preamble_values import NATIVE_KEYS

HEADER = ("time_s", "pressure_kpa")
BARS = " (bars a pass)"


def write(recording: Recording, to: TextIO | str | Path) -> None:
    """Write `recording` in the project's own form to a text stream or a file (UTF-8, line feeds).

    Reading it back gives the same numbers to 1e-11 relative. Raises OutputError.
    """
    pairs = [*key_values(recording), *_doubts(recording)]
    text = "".join(f"# {key}: {value}\n" for key, value in pairs) + _table(recording)
    if isinstance(to, str | Path):
        write_output(Path(to), text.encode("utf-8", "replace"))
        return
    try:
        to.write(text)
    except OSError as error:
        remedy = "Check the folder and the free space."
        raise OutputError(f"cannot be written: {error.strerror or error}", remedy=remedy) from None


def key_values(recording: Recording) -> list[tuple[str, str]]:
    """The leading lines of a recording: conditions first, then what this form adds for its own use."""
    pairs = condition_pairs(recording.conditions)
    if recording.conditions.unit != "kPa":
        pairs.append(("shown_in", recording.conditions.unit))
    if recording.conditions.direction == "vacuum" and bool((recording.pressure_pa > 0.0).any()):
        pairs.append(("signed", "yes"))
    if recording.by_hand:
        pairs.append(("by_hand", "yes"))
    if recording.unreadable:
        pairs.append(("unreadable", str(recording.unreadable)))
    pairs.extend(_lone_marks(recording))
    return pairs


def _doubts(recording: Recording) -> list[tuple[str, str]]:
    """What the reader was not sure of: it goes with the readings, and is not asked again when they are read."""
    told = [f"{d.code}{BARS if d.bars_pass else ''}: {' '.join(d.text.split())}" for d in recording.doubts]
    return [("doubt", text) for text in told] or [("doubt", "none")]


def condition_pairs(conditions: Conditions) -> list[tuple[str, str]]:
    """Keys and values of everything that is known, in a fixed order, unknown keys last."""
    c = conditions
    sized = (
        ("volume", c.volume_m3, 1e6, 0.0, "cm3"),
        ("volume_uncertainty", c.volume_u_m3, 1e6, 0.0, "cm3"),
        ("barometer", c.barometer_pa, 1e-3, 0.0, "kPa"),
        ("temperature", c.temperature_k, 1.0, 273.15, "degC"),
        ("resolution", c.resolution_pa, 1e-3, 0.0, "kPa"),
        ("zero", c.zero_pa, 1e-3, 0.0, "kPa"),
        ("zero_after", c.zero_after_pa, 1e-3, 0.0, "kPa"),
        ("shut", c.shut_pa, 1e-3, 0.0, "kPa"),
        ("waited", c.waited_s, 1.0, 0.0, "s"),
    )
    answers = (("topped_up", c.topped_up), ("pump_off", c.pump_off))
    quantities = [
        (key, f"{value * scale - zero:.12g} {unit}") for key, value, scale, zero, unit in sized if value is not None
    ]
    texts = [
        ("circuit", c.circuit),
        ("direction", c.direction),
        *quantities,
        *((key, "yes" if answer else "no") for key, answer in answers if answer is not None),
        ("gauge", c.gauge),
        ("includes", ", ".join(c.includes)),
        ("blocked", ", ".join(c.blocked)),
        ("note", c.note),
        ("started", c.started),
    ]
    extra = [(_plain_key(key), value) for key, value in c.extra]
    return [(key, " ".join(value.split())) for key, value in [*texts, *extra] if value and value.strip()]


def _plain_key(key: str) -> str:
    plain = " ".join(re.sub(r"[:=#]", " ", key).split()) or "note"
    return f"{plain} as written" if plain.lower().replace(" ", "_") in NATIVE_KEYS else plain


def _table(recording: Recording) -> str:
    """Header and rows; every row has a pressure, and a mark stands beside the reading of its moment."""
    temperature = recording.temperature_k
    texts = _marks_by_reading(recording)
    names = [*HEADER] + ["temperature_degc"] * (temperature is not None) + ["mark"] * bool(texts)
    time_s = [f"{t:.15g}" for t in recording.time_s.tolist()]
    columns = [time_s, [f"{p:.12g}" for p in (recording.pressure_pa / 1e3).tolist()]]
    if temperature is not None:
        columns.append(["" if np.isnan(k) else f"{k - 273.15:.12g}" for k in temperature.tolist()])
    if not texts:
        return ",".join(names) + "\n" + "".join(",".join(row) + "\n" for row in zip(*columns, strict=True))
    columns.append([texts.get(t, "") for t in recording.time_s.tolist()])
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(names)
    writer.writerows(zip(*columns, strict=True))
    return stream.getvalue()


def _marks_by_reading(recording: Recording) -> dict[float, str]:
    """The first mark of each moment that has a reading."""
    times = set(recording.time_s.tolist())
    texts: dict[float, str] = {}
    for mark in recording.marks:
        if mark.time_s in times:
            texts.setdefault(mark.time_s, " ".join(mark.text.split()))
    return texts


def _lone_marks(recording: Recording) -> list[tuple[str, str]]:
    """`mark` keys for what the table has no row for: a moment without a reading, a second mark."""
    beside = _marks_by_reading(recording)
    pairs = []
    for mark in recording.marks:
        text = " ".join(mark.text.split())
        if beside.pop(mark.time_s, None) != text:
            pairs.append(("mark", f"{mark.time_s:.15g} s {text}"))
    return pairs
