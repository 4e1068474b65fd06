"""One row for each analysed file, for a spreadsheet: CSV that no spreadsheet takes for a formula."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping

from leakdown.analysis import Analysis
from leakdown.quantities import standard_cm3_per_min
from leakdown.uncertainty import Interval

COLUMNS = (
    "file",
    "circuit",
    "direction",
    "verdict",
    "limit",
    "start_kpa",
    "end_kpa",
    "hold_s",
    "readings",
    "detected",
    "loss_kpa_per_min",
    "loss_low",
    "loss_high",
    "leak_cm3_per_min",
    "leak_low",
    "leak_high",
    "hole_mm",
    "hole_low",
    "hole_high",
    "detection_limit_cm3_per_min",
    "volume_cm3",
    "flags",
    "note",
    "error",
)
"""Leak rates in standard cm3/min (20 degC, 101.325 kPa); empty cells are unknown."""

_FORMULA = re.compile(r"^\s*[=+\-@\t\r\n|%]")
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d*)?(?:[eE][-+]?\d+)?")


def row_of(file: str, analysis: Analysis) -> dict[str, str]:
    """A row of text cells, by column."""
    leak, hold, verdict = analysis.leak, analysis.hold, analysis.verdict
    volume = analysis.used.volume_m3.value
    row = {
        "file": file,
        "circuit": analysis.circuit,
        "direction": analysis.direction,
        "verdict": verdict.word if verdict else "",
        "limit": verdict.limit.text if verdict else "",
        "start_kpa": _figure(hold.start_pa / 1e3),
        "end_kpa": _figure(hold.end_pa / 1e3),
        "hold_s": _figure(hold.end_s - hold.start_s),
        "readings": str(hold.readings),
        "volume_cm3": _figure(None if volume is None else volume * 1e6),
        "flags": " ".join(flag.code for flag in analysis.flags),
        "note": analysis.recording.conditions.note or "",
    }
    if leak is not None:
        temperature = analysis.used.temperature_k.value or 293.15
        to_flow = standard_cm3_per_min(1.0, temperature)
        detection = leak.detection_pa_m3_s
        row |= {
            "detected": "yes" if leak.detected else "no",
            **_three("loss_kpa_per_min", "loss", leak.rate_pa_s, 0.06),
            **_three("leak_cm3_per_min", "leak", leak.throughput_pa_m3_s, to_flow),
            **_three("hole_mm", "hole", leak.hole_m, 1e3),
            "detection_limit_cm3_per_min": _figure(None if detection is None else detection * to_flow),
        }
    return row


def row_of_error(file: str, error: Exception) -> dict[str, str]:
    """The row of a file that could not be analysed."""
    return {"file": file, "error": " ".join(str(error).split())}


def csv_text(rows: Iterable[Mapping[str, str]]) -> str:
    """Rows under the heading, in order, ready to write as UTF-8."""
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, restval="", lineterminator="\r\n")
    writer.writeheader()
    writer.writerows({key: harmless(value) for key, value in row.items()} for row in rows)
    return out.getvalue()


def harmless(cell: str) -> str:
    """The cell as text that no spreadsheet runs: an apostrophe before = + - @ | % and control characters.

    Numbers keep their sign. Source of the rule: OWASP, "CSV Injection".
    """
    if _NUMBER.fullmatch(cell) or not _FORMULA.match(cell):
        return cell
    return f"'{cell}"


def _three(name: str, short: str, interval: Interval | None, factor: float) -> dict[str, str]:
    if interval is None:
        return {}
    value = None if interval.value is None else interval.value * factor
    return {
        name: _figure(value),
        f"{short}_low": _figure(interval.low * factor),
        f"{short}_high": _figure(interval.high * factor),
    }


def _figure(value: float | None) -> str:
    return "" if value is None else f"{value:.6g}"
