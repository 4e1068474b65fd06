"""Large files through pandas, whose only importer this is: columns of plain numbers, whole.

Whatever is not plain (text among the numbers, several units, remarks, a refusal) is left to the careful
reader, which then reads the whole file cell by cell and names the line.
"""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from leakdown.errors import InputError
from leakdown.quantities import temperature_k
from leakdown.recording import Recording
from leakdown.sheets.assemble import can_be_temperatures, finished
from leakdown.sheets.columns import has_values, seconds_column
from leakdown.sheets.grid import grid_of, is_plain
from leakdown.sheets.numbers import decimal_mark, written
from leakdown.sheets.options import ReadingOptions
from leakdown.sheets.pressures import plain_gauge_pressures
from leakdown.sheets.sheet import Column, Sheet, sheet_of
from leakdown.sheets.times import plain_seconds

if TYPE_CHECKING:
    import pandas as pd

MANY_BYTES = 2_000_000
"""Above this size pandas is worth its import (about 0.25 s)."""
_HEAD_CHARACTERS = 40_000


def frame_of(body: str, delimiter: str, width: int, **options: Any) -> pd.DataFrame | None:
    """`body`, rows of at most `width` fields, as pandas reads it with `options`; None where it stumbles."""
    rows = body.count("\n") + (not body.endswith("\n"))
    if body.count(delimiter) > rows * (width - 1):
        return None  # more fields than headings somewhere: pandas would drop them without a word
    import pandas as pd

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", pd.errors.ParserWarning)
            form: dict[str, Any] = {"header": None, "index_col": False, "keep_default_na": False, "engine": "c"}
            frame: pd.DataFrame = pd.read_csv(io.BytesIO(body.encode()), sep=delimiter, **form, **options)
    except (ValueError, OverflowError, pd.errors.ParserWarning):
        return None
    return frame


def large_recording(text: str, source: str, options: ReadingOptions) -> Recording | None:
    """The Recording in a large text of plain numbers, or None when it needs the careful reader."""
    if options.test is not None:
        return None
    try:
        sheet = sheet_of(grid_of(text[: text.rfind("\n", 0, _HEAD_CHARACTERS) + 1], source), options)
        wanted = _wanted(sheet)
        columns = _columns(text, sheet, wanted) if wanted else None
        return _recording(sheet, columns) if columns else None
    except InputError:
        return None


def _wanted(sheet: Sheet) -> list[int] | None:
    """Time, pressure and temperature columns when the head holds nothing but plain numbers in them."""
    table, rows = sheet.table, sheet.rows
    if rows.passed or rows.missed or rows.unreadable or not rows.timed or not table.headings:
        return None
    if table.columns("remark") or table.columns("barometer") or table.heading(sheet.time).clock:
        return None
    if seconds_column(table, sheet.time) is not None:
        return None
    warm = [i for i in table.columns("temperature") if has_values(table, i)]
    wanted = [sheet.time, sheet.pressure, *warm[:1]]
    cells = [row.cell(i) for row in rows.timed for i in wanted]
    return wanted if all(isinstance(cell, str) and is_plain(cell) for cell in cells) else None


def _columns(text: str, sheet: Sheet, wanted: list[int]) -> list[NDArray[np.float64]] | None:
    """The wanted columns (n,) of the whole text, or None when any cell is not a plain number."""
    rows, delimiter = sheet.rows.timed, sheet.grid.delimiter
    numbers = [n for row in rows for i in wanted if (n := written(row.cell(i))) is not None]
    mark = decimal_mark(numbers, [], lambda values: True, point=delimiter == ",")
    if mark is None or len(delimiter) != 1 or delimiter == " ":
        return None
    start, width = 0, len(rows[0].cells)
    for _ in range(rows[0].line - 1):
        start = text.find("\n", start) + 1
    form = {"decimal": mark, "names": list(range(width)), "usecols": sorted(wanted), "dtype": "float64"}
    frame = frame_of(text[start:], delimiter, width, skipinitialspace=True, **form)
    if frame is None:
        return None
    columns = [frame[i].to_numpy() for i in wanted]
    return columns if all(np.isfinite(column).all() for column in columns) else None


def _recording(sheet: Sheet, columns: list[NDArray[np.float64]]) -> Recording | None:
    time, pressure = (
        Column(values, range(1, values.size + 1), sheet.table.heading(index), sheet.grid, sheet.options)
        for values, index in zip(columns, (sheet.time, sheet.pressure), strict=False)
    )
    pressures = plain_gauge_pressures(pressure, sheet, columns[1])
    times = plain_seconds(time, columns[0])
    if not (np.diff(times.seconds) > 0).all():
        return None
    temperature = None
    if len(columns) > 2:
        unit = next((h.temperature for h in sheet.table.headings if h.role == "temperature"), None)
        zero, one = (temperature_k(value, unit or "") for value in (0.0, 1.0))
        if zero is None or one is None:
            return None
        temperature = zero + (one - zero) * columns[2]
        if not can_be_temperatures(temperature):
            return None
    remarks = [*pressures.remarks, *times.remarks]
    return finished(Recording(times.seconds, pressures.gauge_pa, temperature), sheet, pressures, remarks)
