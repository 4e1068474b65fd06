"""Results as tables: a row of numbers for each, with the unit in every column's name; and as harmless CSV."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

from leakdown.analysis import Analysis
from leakdown.errors import UsageError
from leakdown.quantities import REFERENCE_TEMPERATURE_K, standard_cm3_per_min
from leakdown.uncertainty import Interval

if TYPE_CHECKING:
    import pandas as pd

COLUMNS = (
    "file", "circuit", "direction", "verdict", "limit", "start_kpa", "end_kpa",
    "hold_s", "readings", "detected",
    "loss_kpa_per_min", "loss_low_kpa_per_min", "loss_high_kpa_per_min",
    "leak_cm3_per_min", "leak_low_cm3_per_min", "leak_high_cm3_per_min",
    "hole_mm", "hole_low_mm", "hole_high_mm", "detection_limit_cm3_per_min", "volume_cm3",
    "flags", "note", "error",
)  # fmt: skip
"""Leak rates in standard cm3/min (20 degC, 101.325 kPa); empty cells are unknown."""

_FORMULA = re.compile(r"^\s*[=+\-@\t\r\n|%]")
_NUMBER = re.compile(r"[-+]?\d+(?:\.\d*)?(?:[eE][-+]?\d+)?")


def table(results: Analysis | Iterable[Analysis]) -> pd.DataFrame:
    """Numbers of one or more analyses, one row each; what is unknown is NaN. Raises UsageError."""
    import pandas as pd

    listed = [results] if isinstance(results, Analysis) else list(results)
    for each in listed:
        if not isinstance(each, Analysis):
            raise UsageError(f"a table is made of analyses, not of {type(each).__name__}")
    rows = [numbers_of(each.recording.source, each) for each in listed]
    return pd.DataFrame(rows, columns=[name for name in COLUMNS if name != "error"])


def numbers_of(file: str, analysis: Analysis) -> dict[str, Any]:
    """A row of numbers and texts by column; what is unknown is left out or None."""
    leak, hold, verdict = analysis.leak, analysis.hold, analysis.verdict
    row: dict[str, Any] = {
        "file": file,
        "circuit": analysis.circuit,
        "direction": analysis.direction,
        "verdict": verdict.word if verdict else None,
        "limit": verdict.limit.text if verdict else None,
        "start_kpa": hold.start_pa / 1e3,
        "end_kpa": hold.end_pa / 1e3,
        "hold_s": hold.end_s - hold.start_s,
        "readings": hold.readings,
        "volume_cm3": _times(analysis.used.volume_m3.value, 1e6),
        "flags": " ".join(flag.code for flag in analysis.flags),
        "note": analysis.recording.conditions.note,
    }
    if leak is None:
        return row
    to_flow = standard_cm3_per_min(1.0, analysis.used.temperature_k.value or REFERENCE_TEMPERATURE_K)
    return row | {
        "detected": leak.detected,
        **_three("loss", "kpa_per_min", leak.rate_pa_s, 0.06),
        **_three("leak", "cm3_per_min", leak.throughput_pa_m3_s, to_flow),
        **_three("hole", "mm", leak.hole_m, 1e3),
        "detection_limit_cm3_per_min": _times(leak.detection_pa_m3_s, to_flow),
    }


def row_of(file: str, analysis: Analysis) -> dict[str, str]:
    """A row of text cells, by column."""
    return {name: _cell(value) for name, value in numbers_of(file, analysis).items()}


def row_of_error(file: str, error: Exception) -> dict[str, str]:
    """The row of a file that could not be analysed."""
    return {"file": file, "error": " ".join(str(error).split())}


def csv_text(rows: Iterable[Mapping[str, str]], columns: Iterable[str] = COLUMNS) -> str:
    """Rows under the heading, in order, ready to write as UTF-8."""
    out = io.StringIO()
    writer = csv.DictWriter(out, list(columns), restval="", lineterminator="\r\n")
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


def _three(name: str, unit: str, interval: Interval | None, factor: float) -> dict[str, float | None]:
    if interval is None:
        return {}
    return {
        f"{name}_{unit}": _times(interval.value, factor),
        f"{name}_low_{unit}": interval.low * factor,
        f"{name}_high_{unit}": interval.high * factor,
    }


def _times(value: float | None, factor: float) -> float | None:
    return None if value is None else value * factor


def _cell(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.6g}"
    return "" if value is None else str(value)
