"""The readings themselves as a table; long logs thinned, marks kept."""

from __future__ import annotations

import numpy as np

from leakdown.quantities import PRESSURE_PA
from leakdown.recording import Recording
from leakdown.report.html import plain_table
from leakdown.report.thin import spread

MOST_ROWS = 120
OPEN_UP_TO = 24


def readings_table(recording: Recording) -> str:
    """A <details> element, open when the table is short enough to be read."""
    n = recording.time_s.size
    marked = _marked_rows(recording)
    rows = np.union1d(spread(n, MOST_ROWS), np.array(sorted(marked), dtype=int)) if n else np.zeros(0, int)
    unit = recording.conditions.unit
    head = ["Time (s)", f"Gauge pressure ({unit})"]
    warm = recording.temperature_k
    head += ["Temperature (degC)"] if warm is not None else []
    head += ["Done"] if marked else []
    body = []
    for i in rows:
        cells = [f"{recording.time_s[i]:.2f}", f"{recording.pressure_pa[i] / PRESSURE_PA[unit]:.4g}"]
        if warm is not None:
            cells.append(f"{warm[i] - 273.15:.1f}" if np.isfinite(warm[i]) else "")
        if marked:
            cells.append("; ".join(marked.get(int(i), [])))
        body.append(cells)
    thinned = f", of which {len(rows)} are shown" if len(rows) < n else ""
    is_open = " open" if n <= OPEN_UP_TO else ""
    table = plain_table(head, body, css="readings")
    return (
        f"<details{is_open}><summary>Readings: {n}{thinned}</summary>"
        f'<div class="scroll">{table}</div></details>'
    )


def _marked_rows(recording: Recording) -> dict[int, list[str]]:
    """Row of the first reading at or after each mark -> what was done."""
    rows: dict[int, list[str]] = {}
    for mark in recording.marks:
        if recording.time_s.size:
            at = min(int(np.searchsorted(recording.time_s, mark.time_s - 1e-9)), recording.time_s.size - 1)
            rows.setdefault(at, []).append(mark.text)
    return rows
