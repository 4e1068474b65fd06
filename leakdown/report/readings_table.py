"""The readings themselves as a table; long logs thinned, marks kept."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
    time, pressure = recording.time_s[rows], recording.pressure_pa[rows] / PRESSURE_PA[unit]
    t_places, p_places = _places(time, 2), _places(pressure, 4)
    body = []
    for i, t, p in zip(rows, time, pressure, strict=True):
        cells = [f"{t:.{t_places}f}", f"{p:.{p_places}f}"]
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


def _places(values: NDArray[np.float64], most: int) -> int:
    """Decimal places that show every value as it was read; at most `most`."""
    for places in range(most):
        if np.abs(values - values.round(places)).max(initial=0.0) < 0.02 * 10.0**-places:
            return places
    return most


def _marked_rows(recording: Recording) -> dict[int, list[str]]:
    """Row of the first reading at or after each mark -> what was done."""
    rows: dict[int, list[str]] = {}
    for mark in recording.marks:
        if recording.time_s.size:
            at = min(int(np.searchsorted(recording.time_s, mark.time_s - 1e-9)), recording.time_s.size - 1)
            rows.setdefault(at, []).append(mark.text)
    return rows
