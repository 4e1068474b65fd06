"""A blank sheet as one HTML page for A4 paper: no script, no network."""

from __future__ import annotations

from leakdown.report.blank_sheet import TITLE, BlankSheet, blanks_to_fill, cautions, heading, steps
from leakdown.report.page import page

_COLUMN = 10  # rows in one column of readings


def blank_sheet_page(sheet: BlankSheet) -> str:
    """The whole file."""
    times = [(f"{time_s:g}", _clock(time_s)) for time_s in sheet.times_s]
    columns = -(-len(times) // _COLUMN)
    size = -(-len(times) // min(max(columns, 1), 3))
    return page(
        "blank_sheet.html",
        (),
        name=TITLE,
        heading=heading(sheet),
        sheet=sheet,
        steps=steps(sheet),
        cautions=cautions(sheet),
        conditions=blanks_to_fill(sheet),
        columns=[times[i : i + size] for i in range(0, len(times), size)],
    )


def _clock(time_s: float) -> str:
    minutes, seconds = divmod(time_s, 60.0)
    return f"{minutes:.0f}:{seconds:02.0f}" if time_s >= 60 and seconds % 1 == 0 else ""
